/* What the plans that measure have measured, run by run: tables, and charts over time. */
#include "report/html_inside.h"
#include "report/moments_report.h"
#include "report/moments_words.h"
#include "report/palette_report.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- charts ---- */

/* Numbers of one register over the runs. */
struct track {
    const char *name;
    size_t count;
    struct html_point *points; /* room for one of each run */
};
enum { TRACKS = 3 };

static void tracks_free(struct track tracks[TRACKS]) {
    for (int i = 0; i < TRACKS; i++) {
        free(tracks[i].points);
    }
}

static bool tracks_new(struct track tracks[TRACKS], size_t runs) {
    bool good = true;
    for (int i = 0; i < TRACKS; i++) {
        tracks[i].points = malloc((runs + 1) * sizeof *tracks[i].points);
        good = good && tracks[i].points != NULL;
    }
    return good;
}

static void add(struct track *track, double x, double y, int64_t run) {
    if (html_known(y)) {
        track->points[track->count++] = (struct html_point){x, y, (long)run};
    }
}

/* From the lowest to the highest, with room for the eye: apart by `least` at least. */
static void y_range(const struct track *tracks, double least, struct html_plot *plot) {
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < TRACKS; i++) {
        for (size_t j = 0; j < tracks[i].count; j++) {
            low = fmin(low, tracks[i].points[j].y);
            high = fmax(high, tracks[i].points[j].y);
        }
    }
    const double room = fmax((high - low) * 0.1, (least - (high - low)) / 2);
    plot->y_low = low - room;
    plot->y_high = high + room;
}

static void draw(struct html *html, const struct track *tracks, double least, const struct html_plot *about) {
    static const enum svg_mark marks[TRACKS] = {SVG_CIRCLE, SVG_CROSS, SVG_SQUARE};
    struct html_series series[TRACKS];
    struct html_plot plot = *about;
    size_t most = 0;
    for (int i = 0; i < TRACKS; i++) {
        most = tracks[i].count > most ? tracks[i].count : most;
        if (tracks[i].count > 0) {
            series[plot.count++] = (struct html_series){
                tracks[i].name, i == 1 ? "two" : "one", marks[i], true, tracks[i].count, tracks[i].points};
        }
    }
    if (most > 1) {
        y_range(tracks, least, &plot);
        plot.series = series;
        plot.bound = NAN;
        html_plot(html, &plot);
    }
}

/* ---- rows ---- */

static void whose(struct html *html, const struct record_run *run, bool consoles) {
    char when[HTML_WHEN];
    html_when(run->started_ms, when);
    html_put(html, "<tr data-measured=%lld><th scope=row>", (long long)run->id);
    if (consoles) {
        html_name(html, run->console.name, "without a name");
        html_put(html, "</th><td class=l>%s</td>", when);
    } else {
        html_put(html, "<span class=l>%s</span></th>", when);
    }
    html_put(html, run->minutes_on >= 0 ? "<td class=r>%.0f</td>" : "<td class=r>\u2013</td>",
             run->minutes_on);
}

/* ---- delays ---- */

/* What is the same for all phases is said once. */
static void delay_cell(struct html *html, const struct moment_delay delays[MOMENT_PHASES]) {
    char texts[MOMENT_PHASES][MOMENTS_TEXT];
    bool same = true;
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        moments_delay_text(&delays[phase], texts[phase]);
        same = same && strcmp(texts[phase], texts[0]) == 0;
    }
    html_put(html, "<td>%s", texts[0]);
    for (int phase = 1; phase < MOMENT_PHASES && !same; phase++) {
        html_put(html, "; %s", texts[phase]);
    }
    html_put(html, "</td>");
}

static void delay_row(struct html *html, const struct moments *moments) {
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        delay_cell(html, moments->delay[reg]);
    }
    html_put(html, "</tr>\n");
}

#define DELAY_COLUMNS ">Minutes on|PF0|PF1|PF2|CTRLPF.D0|CTRLPF.D1|COLUPF|COLUBK"

/* Mean over the phases, where they were measured exactly; NaN else. */
static double mean_delay(const struct moments *moments, enum moment_register reg) {
    double sum = 0;
    int count = 0;
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        const struct moment_delay *delay = &moments->delay[reg][phase];
        sum += delay->known && delay->exact ? delay->clocks : 0;
        count += delay->known && delay->exact;
    }
    return count > 0 ? sum / count : NAN;
}

/* Returns whether the table was begun. */
static bool delay_rows(struct html *html, const struct record_list *runs, bool consoles,
                       const struct html_times *times, struct track tracks[TRACKS], struct moments *moments) {
    static const enum moment_register shown[TRACKS] = {MOMENT_COLUBK, MOMENT_COLUPF, MOMENT_SCORE};
    bool begun = false;
    for (size_t i = 0; i < runs->count; i++) {
        const struct record_run *run = runs->runs[i];
        json_t *json = html_blob_json(run, "moments");
        struct problem problem;
        if (json != NULL && moments_from_json(json, "record", run->plan->standard, moments, &problem)) {
            if (!begun) {
                html_table(html, "Delays, measured: clocks, of phase 0 to 3; one number: of all phases",
                           consoles ? "Console|Started|" DELAY_COLUMNS : "Started|" DELAY_COLUMNS);
                begun = true;
            }
            whose(html, run, consoles);
            delay_row(html, moments);
            for (int j = 0; j < TRACKS; j++) {
                add(&tracks[j], html_time(times, run), mean_delay(moments, shown[j]), run->id);
            }
        }
        json_decref(json);
    }
    return begun;
}

static void delays(struct html *html, const struct record_list *runs, bool consoles) {
    const struct html_times times = html_times(runs);
    struct track tracks[TRACKS] = {{.name = "COLUBK"}, {.name = "COLUPF"}, {.name = "CTRLPF.D1"}};
    struct moments *moments = malloc(sizeof *moments);
    if (tracks_new(tracks, runs->count) && moments != NULL &&
        delay_rows(html, runs, consoles, &times, tracks, moments)) {
        html_table_end(html);
        const struct html_plot plot = {
            .title = "Delays over time",
            .of = "of registers that are measured exactly",
            .about = "The mean over the four phases, a mark a run. The numbers stand in the "
                     "table of delays.",
            .x_name = times.axis,
            .y_name = "delay, clocks",
            .x_high = times.high};
        if (!consoles) {
            draw(html, tracks, 1, &plot);
        }
    }
    tracks_free(tracks);
    free(moments);
}

/* ---- hues ---- */

static void hue_row(struct html *html, const struct palette *palette) {
    html_put(html, "<td class=r>%.1f</td>", palette_saturation(palette));
    for (int hue = 1; hue < COLOUR_HUES; hue++) {
        html_put(html,
                 palette_hue_is_known(palette, PALETTE_COLUPF, hue) ? "<td class=r>%.1f</td>"
                                                                    : "<td class=r>\u2013</td>",
                 palette->hue[PALETTE_COLUPF][hue].hue);
    }
    html_put(html, "</tr>\n");
}

#define HUE_COLUMNS ">Minutes on|>Saturation|>1|>2|>3|>4|>5|>6|>7|>8|>9|>10|>11|>12|>13|>14|>15"

/* Mean step from hue to hue, which the console's colour trimmer sets. */
static double mean_step(const struct palette *palette, int reg) {
    double sum = 0;
    int count = 0;
    for (int hue = 1; hue < COLOUR_HUES - 1; hue++) {
        const bool known =
            palette_hue_is_known(palette, reg, hue) && palette_hue_is_known(palette, reg, hue + 1);
        sum += known ? palette->hue[reg][hue].to_next : 0;
        count += known;
    }
    return count > 0 ? sum / count : NAN;
}

static bool hue_rows(struct html *html, const struct record_list *runs, bool consoles,
                     const struct html_times *times, struct track tracks[TRACKS], struct palette *palette) {
    bool begun = false;
    for (size_t i = 0; i < runs->count; i++) {
        const struct record_run *run = runs->runs[i];
        json_t *json = html_blob_json(run, "colours");
        struct problem problem;
        if (json != NULL && palette_from_json(json, "record", palette, &problem)) {
            if (!begun) {
                html_put(html, "<div class=many>\n");
                html_table(html,
                           "Hues of COLUPF, measured: degrees from the burst's axis, by number of the hue",
                           consoles ? "Console|Started|" HUE_COLUMNS : "Started|" HUE_COLUMNS);
                begun = true;
            }
            whose(html, run, consoles);
            hue_row(html, palette);
            add(&tracks[0], html_time(times, run), mean_step(palette, PALETTE_COLUBK), run->id);
            add(&tracks[1], html_time(times, run), mean_step(palette, PALETTE_COLUPF), run->id);
        }
        json_decref(json);
    }
    return begun;
}

static void hues(struct html *html, const struct record_list *runs, bool consoles) {
    const struct html_times times = html_times(runs);
    struct track tracks[TRACKS] = {{.name = "COLUBK"}, {.name = "COLUPF"}};
    struct palette *palette = malloc(sizeof *palette);
    if (tracks_new(tracks, runs->count) && palette != NULL &&
        hue_rows(html, runs, consoles, &times, tracks, palette)) {
        html_table_end(html);
        html_put(html, "</div>\n");
        struct html_plot plot = {
            .title = "Step from hue to hue over time",
            .of = "mean of hues 1 to 15",
            .about = "Degrees from a hue to the next, a mark a run. The hues' numbers stand in "
                     "the table of hues.",
            .x_name = times.axis,
            .y_name = "degrees",
            .x_high = times.high};
        if (!consoles) {
            draw(html, tracks, 2, &plot);
        }
    }
    tracks_free(tracks);
    free(palette);
}

void html_measured(struct html *html, const struct record_list *runs, bool consoles) {
    delays(html, runs, consoles);
    hues(html, runs, consoles);
}
