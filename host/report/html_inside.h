/*
 * What the pages are made of. Inside report/html*.c only.
 *
 * Two ways to write, never mixed: html_put() takes markup, in which nothing but numbers and texts of our own
 * may be set in; html_say() takes text, all of which is escaped.
 */
#ifndef SLOTJIG_REPORT_HTML_INSIDE_H
#define SLOTJIG_REPORT_HTML_INSIDE_H

#include "record/standing.h"
#include "report/escape.h"
#include "report/html.h"
#include "report/svg.h"
#include "verdict/reader.h"

#include <jansson.h>
#include <stdio.h>

/* A page under way. */
struct html {
    FILE *stream;
    int numbers;     /* given to what needs an id of its own */
    size_t pictures; /* bytes of them so far */
    int pictures_left_out;
};

/* ---- text ---- */

__attribute__((format(printf, 2, 3))) void html_put(struct html *html, const char *format, ...);
__attribute__((format(printf, 2, 3))) void html_say(struct html *html, const char *format, ...);
/* A name from outside, kept apart from the direction of writing round it; "" as `none`. */
void html_name(struct html *html, const char *name, const char *none);

/* ---- page ---- */

/* Head, style, skip link and h1; kind: the same in a word or two. */
void html_begin(struct html *html, FILE *stream, const char *kind, const char *subject);
void html_end(struct html *html);
void html_end_cartridge(struct html *html); /* of a page about cartridges */
/* A section with an h2; id: ours. */
void html_section(struct html *html, const char *id, const char *title);
void html_section_end(struct html *html);
/* A table in a region that scrolls by itself, with its caption; columns: heads, "|" between them,
 * a ">" before one of numbers. */
void html_table(struct html *html, const char *caption, const char *columns);
void html_table_end(struct html *html);
/* A line of a list of facts; left out where the text is "". */
void html_facts(struct html *html);
__attribute__((format(printf, 3, 4))) void html_fact(struct html *html, const char *name, const char *format,
                                                     ...);
void html_facts_end(struct html *html);
void html_details(struct html *html, bool open, const char *summary);
void html_details_end(struct html *html);

extern const char html_style[];

/* ---- words ---- */

/* How something ended: class of one letter, glyph, and word. */
struct html_mark {
    const char *class, *glyph, *word;
};
extern const struct html_mark html_marks[STANDING_KINDS];
enum standing_kind html_of_end(enum record_end end);
enum standing_kind html_of_verdict(enum verdict verdict, int fields);
/* Glyph and word. */
void html_mark(struct html *html, enum standing_kind kind);
enum { HTML_WHEN = 32, HTML_CELLS = 200 };
/* "2026-01-01 09:30:12 UTC". */
void html_when(int64_t ms, char text[HTML_WHEN]);
/* "0-3, 20-23", "none". */
void html_cells_text(uint64_t cells, char text[HTML_CELLS]);
/* "bit stuck low". */
void html_kind(enum finding_kind kind, char text[48]);
bool html_known(double value);

/* A figure and its limit: "210 ns", "at most 300 ns". */
enum { HTML_FIGURE = 64 };
void html_figure_text(const struct ship_figure *figure, char text[HTML_FIGURE]);
void html_limit_text(const struct ship_figure *figure, char text[HTML_FIGURE]);

/* ---- cells ---- */

/* Defines what all pictures of cells share; once a page, before the first. */
void html_cells_begin(struct html *html);
void html_cells_key(struct html *html);
/* Expected above seen. */
void html_cells(struct html *html, const struct step_result *step);
/* Cells that are wrong: of those that are judged and clear. */
uint64_t html_missing(const struct step_result *step);
uint64_t html_surplus(const struct step_result *step);
/* In words: "missing 3, 23; unclear 7". */
void html_differs(struct html *html, const struct step_result *step);

/* ---- charts ---- */

struct html_point {
    double x, y;
    long number; /* whose it is: as data-n */
};
struct html_series {
    const char *name, *class; /* "one", "two" */
    enum svg_mark mark;
    bool joined;
    size_t count;
    const struct html_point *points;
};
/* A y that is NaN is left out. */
struct html_plot {
    const char *title, *of, *about, *x_name, *y_name;
    double x_low, x_high, y_low, y_high;
    double bound; /* bound: a dashed line; NaN: none */
    const char *bound_name;
    bool whole; /* x counts something: nothing lies between its numbers */
    size_t count;
    const struct html_series *series;
};
void html_plot(struct html *html, const struct html_plot *plot);

/* How many values lie where, and the limit they were held against. */
struct html_histogram {
    const char *title, *of, *x_name;
    const double *values;
    size_t count;                 /* at least one */
    bool at_least;                /* the limit is the least that passes */
    double limit_low, limit_high; /* several, where limits were changed; else the same */
};
void html_histogram(struct html *html, const struct html_histogram *histogram);
/* 1, 2 or 5 times a power of ten, so that there are at most that many steps in the range. */
double html_step(double range, int most);

/* The axis of time of runs in their order. */
struct html_times {
    int64_t first_ms;
    double unit_ms, high; /* of the last run, in units */
    char axis[96];        /* "days since 2026-01-01 00:00:00 UTC" */
};
struct html_times html_times(const struct record_list *runs);
double html_time(const struct html_times *times, const struct record_run *run);

/* ---- parts ---- */

/* How a run ended, in a sentence. */
void html_verdict(struct html *html, const struct record_run *run);
/* A JSON object of a run's settings, as a fact. */
void html_settings(struct html *html, const char *settings);
void html_console_facts(struct html *html, const struct record_run *run);
/* "PF1 D3 bit stuck low". */
void html_finding_name(struct html *html, const struct finding *finding);
/* Of one run; or of several plans' runs, each under its plan's name. */
void html_findings(struct html *html, const struct record_run *const *runs, size_t count);
/* Whether there is a section of them. */
bool html_has_steps(const struct record_run *run);
void html_steps(struct html *html, const struct record_run *run);
/* Whose step a row is: then it has an id that links lead to, and no registers. */
struct html_who {
    const char *id;
    void (*say)(struct html *html, const struct html_who *who);
    const void *what;
    size_t number;
};
/* A row of one step. who NULL: the page is one run's. */
void html_step_row(struct html *html, const struct record_run *run, size_t index, const struct html_who *who);
/* Tables of what plans moments and colours measured, a run a row, as far as runs have it; consoles: say
 * whose. */
void html_measured(struct html *html, const struct record_list *runs, bool consoles);
void html_plan_moments(struct html *html, const struct record_run *run);
void html_plan_check(struct html *html, const struct record_run *run);
void html_plan_colours(struct html *html, const struct record_run *run);
/* Of a run with a blob "reader" (reader_json()): figures, chart, the worst ten, findings; else nothing. */
void html_reader(struct html *html, const struct record_run *run);
/* Not of one that was broken off: what there is of it says nothing. */
bool html_has_reading(const struct record_run *run);
/* The same of a result. of: whose it is. */
void html_reader_result(struct html *html, const struct reader_result *result,
                        const struct reader_limits *limits, const char *of);
bool html_has_blob(const struct record_run *run, const char *name);
/* Of a run's blob of that name, NULL where there is none; to be given up with json_decref(). */
json_t *html_blob_json(const struct record_run *run, const char *name);
void html_differ(struct html *html, const struct differ *differ);
/* A picture of the run, or a word that it was left out; false where there is none of that name. */
bool html_picture(struct html *html, const struct record_run *run, const char *blob, const char *about);

#endif
