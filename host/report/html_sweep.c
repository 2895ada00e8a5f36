/* The page of a sweep: overall first, then plans by consoles, findings, steps by consoles, and every run. */
#include "report/html_matrix.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- overall ---- */

static enum standing_kind overall(const struct shelf *shelf) {
    static const enum standing_kind order[] = {STANDING_FAIL, STANDING_UNSTEADY, STANDING_TROUBLE,
                                               STANDING_OPEN, STANDING_INCONCLUSIVE};
    for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
        if (shelf->standing_count[order[i]] > 0) {
            return order[i];
        }
    }
    return shelf->standing_count[STANDING_PASS] > 0 ? STANDING_PASS : STANDING_OPEN;
}

static bool ends_so(const struct shelf *shelf, size_t console, enum standing_kind kind) {
    for (size_t plan = 0; plan < shelf->plan_count; plan++) {
        const struct shelf_place *place = shelf_place(shelf, plan, console);
        if (place->suite->item_count > 0 && place->standing.kind == kind) {
            return true;
        }
    }
    return false;
}

/* The consoles that made it end so. */
static void which(struct html *html, const struct shelf *shelf, enum standing_kind kind) {
    enum { NAMED = 8 };
    size_t count = 0;
    if (kind == STANDING_PASS) {
        return;
    }
    html_put(html, "<strong>");
    for (size_t console = 0; console < shelf->console_count; console++) {
        if (ends_so(shelf, console, kind) && count++ < NAMED) {
            html_put(html, count > 1 ? ", " : "");
            html_name(html, shelf->consoles[console]->name, "without a name");
        }
    }
    html_put(html, "</strong>");
    if (count > NAMED) {
        html_put(html, " and %zu more", count - NAMED);
    }
    html_put(html, "; ");
}

static void verdict(struct html *html, const struct shelf *shelf) {
    const enum standing_kind kind = overall(shelf);
    html_put(html, "<p class=\"v %s\" data-standing=%s>", html_marks[kind].class, standing_name(kind));
    html_mark(html, kind);
    html_put(html, ": ");
    which(html, shelf, kind);
    html_put(html, "%zu plan%s on %zu console%s", shelf->plan_count, shelf->plan_count == 1 ? "" : "s",
             shelf->console_count, shelf->console_count == 1 ? "" : "s");
    const char *before = ": ";
    for (int i = STANDING_PASS; i <= STANDING_KINDS; i++) {
        const enum standing_kind each = (enum standing_kind)(i % STANDING_KINDS);
        if (shelf->standing_count[each] > 0) {
            html_put(html, "%s", before);
            before = ", ";
            html_put(html, "<span data-count=%s>%zu</span> %s", standing_name(each),
                     shelf->standing_count[each], html_marks[each].word);
        }
    }
    html_put(html, ".</p>\n");
}

static void facts(struct html *html, const struct record_sweep *sweep, const struct record_list *runs) {
    char started[HTML_WHEN], last[HTML_WHEN] = "";
    int64_t latest = 0;
    for (size_t i = 0; i < runs->count; i++) {
        latest = runs->runs[i]->started_ms > latest ? runs->runs[i]->started_ms : latest;
    }
    html_when(sweep->started_ms, started);
    if (runs->count > 0) {
        html_when(latest, last);
    }
    html_facts(html);
    html_fact(html, "Started", "%s", started);
    html_fact(html, "Latest run", "%s", last);
    if (sweep->retries > 0) {
        html_fact(html, "Repeats", "%d; one that does not pass is tried again, %d time%s at most",
                  sweep->repeats, sweep->retries, sweep->retries == 1 ? "" : "s");
    } else {
        html_fact(html, "Repeats", "%d; none is tried again", sweep->repeats);
    }
    html_fact(html, "Runs", "%zu", runs->count);
    html_facts_end(html);
}

/* ---- plans by consoles ---- */

static void standing_cell(struct html *html, const struct shelf_place *place, size_t plan) {
    const struct standing *standing = &place->standing;
    if (place->suite->item_count == 0) {
        html_put(html, "<td class=q>not asked for</td>");
        return;
    }
    html_put(html,
             "<td class=%s data-plan=%zu data-standing=%s data-passed=%d data-done=%d data-margin=%.6g>",
             html_marks[standing->kind].class, plan + 1, standing_name(standing->kind), standing->passed,
             standing->done, html_known(place->margin) ? place->margin : -1.0);
    html_put(html, "<span class=l>");
    html_mark(html, standing->kind);
    html_put(html, " %d of %d, %.0f\u2013%.0f %%", standing->passed, standing->done, 100 * standing->rate_low,
             100 * standing->rate_high);
    if (html_known(place->margin)) {
        html_put(html, "; margin %.2f", place->margin);
    }
    html_put(html, "</span>");
    if (standing->done < standing->repeats) {
        html_put(html, "<br>%d of %d repeats done", standing->done, standing->repeats);
    }
    if (standing->retried > 0) {
        html_put(html, "<br>%d repeat%s tried again, %d runs", standing->retried,
                 standing->retried == 1 ? "" : "s", standing->attempts);
    }
    html_put(html, "</td>");
}

/* What is said of consoles, as columns; those that are empty for all are left out. */
enum { ABOUTS = 3 };
static const char *about_text(const struct record_console *console, int which) {
    return which == 0 ? console->revision : which == 1 ? console->markings : console->modifications;
}

static bool about_any(const struct shelf *shelf, int which) {
    for (size_t console = 0; console < shelf->console_count; console++) {
        if (about_text(shelf->consoles[console], which)[0] != '\0') {
            return true;
        }
    }
    return false;
}

static void console_row(struct html *html, const struct shelf *shelf, size_t console) {
    html_put(html, "<tr data-console=%zu><td class=r>%zu</td><th scope=row>", console + 1, console + 1);
    html_name(html, shelf->consoles[console]->name, "without a name");
    html_put(html, "</th>");
    for (int which = 0; which < ABOUTS; which++) {
        if (about_any(shelf, which)) {
            html_put(html, "<td>");
            html_name(html, about_text(shelf->consoles[console], which), "");
            html_put(html, "</td>");
        }
    }
    for (size_t plan = 0; plan < shelf->plan_count; plan++) {
        standing_cell(html, shelf_place(shelf, plan, console), plan);
    }
    html_put(html, "</tr>\n");
}

static void consoles(struct html *html, const struct shelf *shelf) {
    html_section(html, "consoles", "Plans by consoles");
    static const char *const abouts[ABOUTS] = {"Revision", "Chips", "Modifications"};
    html_put(html,
             "<div class=s role=region tabindex=0 aria-label=\"plans by consoles, a table\"><table><caption>"
             "How the repeats ended; how many passed at the first attempt, and the 95 %% interval of that "
             "share (Wilson)</caption>\n<thead><tr><th scope=col class=r>No.</th><th scope=col>Console</th>");
    for (int which = 0; which < ABOUTS; which++) {
        if (about_any(shelf, which)) {
            html_put(html, "<th scope=col>%s</th>", abouts[which]);
        }
    }
    for (size_t plan = 0; plan < shelf->plan_count; plan++) {
        html_put(html, "<th scope=col><a href=\"#plan-%zu\">", plan + 1);
        html_name(html, shelf->plans[plan], "without a name");
        html_put(html, "</a></th>");
    }
    html_put(html, "</tr></thead>\n<tbody>\n");
    for (size_t console = 0; console < shelf->console_count; console++) {
        console_row(html, shelf, console);
    }
    html_table_end(html);
    html_section_end(html);
}

/* ---- a plan ---- */

static void margins(struct html *html, const struct shelf *shelf, size_t plan) {
    struct html_point *points = malloc((2 * shelf->console_count + 1) * sizeof *points);
    size_t counts[2] = {0, 0};
    for (size_t console = 0; console < shelf->console_count && points != NULL; console++) {
        const struct shelf_place *place = shelf_place(shelf, plan, console);
        const int other = place->standing.kind != STANDING_PASS;
        if (html_known(place->margin)) {
            points[other * shelf->console_count + counts[other]++] =
                (struct html_point){(double)console + 1, place->margin, (long)console + 1};
        }
    }
    if (points != NULL && counts[0] + counts[1] > 0) {
        const struct html_series series[] = {
            {"passed", "one", SVG_CIRCLE, false, counts[0], points},
            {"did not pass", "two", SVG_CROSS, false, counts[1], points + shelf->console_count}};
        html_plot(html,
                  &(struct html_plot){.title = "Worst margin by console",
                                      .of = shelf->plans[plan],
                                      .about = "The worst margin of each console over all of its runs of the "
                                               "plan, a mark a console. The numbers stand in the table of "
                                               "plans by consoles.",
                                      .x_name = "number of the console",
                                      .whole = true,
                                      .y_name = "margin, 1 the most",
                                      .x_low = 1,
                                      .x_high = (double)shelf->console_count,
                                      .y_high = 1,
                                      .bound = PICTURE_UNCLEAR,
                                      .bound_name = "below it a cell is unclear",
                                      .count = 2,
                                      .series = series});
    }
    free(points);
}

/* Of each console the latest run. */
static void measured(struct html *html, const struct shelf *shelf, size_t plan) {
    struct record_list latest = {0, calloc(shelf->console_count + 1, sizeof(struct record_run *))};
    for (size_t console = 0; console < shelf->console_count && latest.runs != NULL; console++) {
        const struct suite *suite = shelf_place(shelf, plan, console)->suite;
        struct record_run *last = NULL;
        for (size_t i = 0; i < suite->run_count; i++) {
            struct record_run *run = &suite->runs[i];
            last = last == NULL || run->started_ms >= last->started_ms ? run : last;
        }
        if (last != NULL) {
            latest.runs[latest.count++] = last;
        }
    }
    html_measured(html, &latest, true);
    free(latest.runs);
}

static void plan(struct html *html, const struct shelf *shelf, size_t index) {
    html_put(html, "<section class=big aria-labelledby=plan-%zu>\n<h2 id=plan-%zu>Plan ", index + 1,
             index + 1);
    html_name(html, shelf->plans[index], "without a name");
    html_put(html, "</h2>\n");
    html_matrices(html, shelf, index);
    measured(html, shelf, index);
    margins(html, shelf, index);
    html_section_end(html);
}

/* ---- runs ---- */

static void run_row(struct html *html, const struct shelf *shelf, size_t place, int repeat,
                    const struct record_run *run) {
    char when[HTML_WHEN];
    const enum standing_kind kind = html_of_end(run->end);
    html_when(run->started_ms, when);
    html_put(html,
             "<tr data-run=%lld data-verdict=%s data-margin=%.6g><th scope=row>%lld</th><td>%s</td><td>",
             (long long)run->id, record_end_name(run->end), run->margin, (long long)run->id, when);
    html_numbered(html, shelf, place % shelf->console_count);
    html_put(html, "</td><td>");
    html_name(html, shelf->plans[place / shelf->console_count], "without a name");
    html_put(html, "</td><td class=r>%d</td><td class=r>%d</td><td>", repeat, run->attempt);
    html_name(html, run->bench, "");
    html_put(html, "</td><td class=%s>", html_marks[kind].class);
    html_mark(html, kind);
    html_put(html, run->fields_judged > 0 ? "</td><td class=r>%.2f</td>" : "</td><td class=r>\u2013</td>",
             run->margin);
    html_put(html, run->minutes_on >= 0 ? "<td class=r>%.0f</td>" : "<td class=r>\u2013</td>",
             run->minutes_on);
    html_put(html, run->has_seed ? "<td class=r>%llu</td></tr>\n" : "<td class=r>\u2013</td></tr>\n",
             (unsigned long long)run->seed);
}

static void runs_section(struct html *html, const struct record_sweep *sweep, const struct shelf *shelf) {
    html_section(html, "runs", "Runs");
    html_details(html, false, "Every run");
    html_table(html, "Every run, by plan and console",
               ">Record|Started|Console|Plan|>Repeat|>Attempt|Bench|Verdict|>Margin|>Minutes on|>Seed");
    for (size_t place = 0; place < shelf->plan_count * shelf->console_count; place++) {
        const struct suite *suite = shelf->places[place].suite;
        for (size_t item = 0; item < suite->item_count; item++) {
            for (size_t i = suite->first[item]; i < suite->first[item + 1]; i++) {
                run_row(html, shelf, place, suite->items[item].repeat, &suite->runs[i]);
            }
        }
    }
    html_table_end(html);
    html_details_end(html);
    html_details(html, false, "What was asked for");
    html_put(html, "<pre tabindex=0 role=region aria-label=\"definition of the sweep\">");
    escape_lines(html->stream, sweep->definition);
    html_put(html, "</pre>\n");
    html_details_end(html);
    html_section_end(html);
}

/* ---- all of it ---- */

static void contents(struct html *html, const struct shelf *shelf) {
    html_put(html, "<nav aria-label=\"On this page\"><ul><li><a href=\"#consoles\">Plans by consoles</a></li>"
                   "<li><a href=\"#findings\">Findings</a></li>");
    for (size_t i = 0; i < shelf->plan_count; i++) {
        html_put(html, "<li><a href=\"#plan-%zu\">Plan ", i + 1);
        html_name(html, shelf->plans[i], "without a name");
        html_put(html, "</a></li>");
    }
    html_put(html, "<li><a href=\"#runs\">Runs</a></li></ul></nav>\n");
}

void html_sweep(FILE *stream, const struct record_sweep *sweep, const struct record_list *runs) {
    struct html html;
    struct shelf *shelf = shelf_new(sweep, runs);
    html_begin(&html, stream, "Sweep", sweep->name);
    if (shelf == NULL) {
        html_put(&html, "<p class=v>Memory was too short for this page.</p>\n");
        html_end(&html);
        return;
    }
    verdict(&html, shelf);
    contents(&html, shelf);
    facts(&html, sweep, runs);
    consoles(&html, shelf);
    html_shelf_findings(&html, shelf);
    for (size_t i = 0; i < shelf->plan_count; i++) {
        plan(&html, shelf, i);
    }
    runs_section(&html, sweep, shelf);
    html_end(&html);
    shelf_free(shelf);
}
