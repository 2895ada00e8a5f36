/* The page of a console's history: how it ended over time, and how its margins went. */
#include "report/html_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- runs of one plan ---- */

/* Whether the run is the first of its plan's name in the list. Another one is mostly not far before it. */
static bool first_of_plan(const struct record_list *runs, size_t index) {
    for (size_t i = index; i > 0; i--) {
        if (strcmp(runs->runs[i - 1]->plan->name, runs->runs[index]->plan->name) == 0) {
            return false;
        }
    }
    return true;
}

/* Those of a plan, borrowed; its array is to be freed. */
static struct record_list of_plan(const struct record_list *runs, const char *plan) {
    struct record_list list = {0, calloc(runs->count > 0 ? runs->count : 1, sizeof(struct record_run *))};
    for (size_t i = 0; i < runs->count && list.runs != NULL; i++) {
        if (strcmp(runs->runs[i]->plan->name, plan) == 0) {
            list.runs[list.count++] = runs->runs[i];
        }
    }
    return list;
}

static int by_size(const void *a, const void *b) {
    const double first = *(const double *)a, second = *(const double *)b;
    return (first > second) - (first < second);
}

/* Of the margins of the steps that were seen; NaN where none was. */
static double median_margin(const struct record_run *run) {
    double *margins = malloc((run->step_count + 1) * sizeof *margins);
    size_t count = 0;
    for (size_t i = 0; i < run->step_count && run->steps != NULL && margins != NULL; i++) {
        if (run->steps[i].fields > 0) {
            margins[count++] = run->steps[i].margin;
        }
    }
    if (count > 0) {
        qsort(margins, count, sizeof *margins, by_size);
    }
    const double median = count > 0 ? (margins[(count - 1) / 2] + margins[count / 2]) / 2 : NAN;
    free(margins);
    return median;
}

static bool has_margin(const struct record_run *run) {
    return run->fields_judged > 0 && !run->seen_by_eye;
}

/* ---- margin over time ---- */

static void draw_margins(struct html *html, const struct record_list *runs, struct html_point *points) {
    const struct html_times times = html_times(runs);
    size_t counts[2] = {0, 0};
    for (size_t i = 0; i < runs->count; i++) {
        const struct record_run *run = runs->runs[i];
        const double x = html_time(&times, run);
        if (has_margin(run)) {
            points[counts[0]++] = (struct html_point){x, run->margin, (long)run->id};
            points[runs->count + counts[1]++] = (struct html_point){x, median_margin(run), (long)run->id};
        }
    }
    const struct html_series series[] = {
        {"worst step", "two", SVG_CROSS, true, counts[0], points},
        {"median of the steps", "one", SVG_CIRCLE, true, counts[1], points + runs->count}};
    const struct html_plot plot = {
        .title = "Margin over time",
        .of = runs->runs[0]->plan->name,
        .about = "The worst and the median step's margin of each run, a mark a run. The "
                 "numbers stand in the table of runs.",
        .x_name = times.axis,
        .y_name = "margin, 1 the most",
        .x_high = times.high,
        .y_high = 1,
        .bound = PICTURE_UNCLEAR,
        .bound_name = "below it a cell is unclear",
        .count = 2,
        .series = series};
    if (counts[0] > 0) {
        html_plot(html, &plot);
    }
}

static void margins(struct html *html, const struct record_list *runs) {
    struct html_point *points = malloc(2 * runs->count * sizeof *points);
    if (points != NULL && runs->count > 1) {
        draw_margins(html, runs, points);
    }
    free(points);
}

/* ---- tables ---- */

static size_t failed_steps(const struct record_run *run) {
    size_t failed = 0;
    for (size_t i = 0; i < run->step_count && run->steps != NULL; i++) {
        failed += run->steps[i].verdict == VERDICT_FAIL;
    }
    return failed;
}

static void number_cell(struct html *html, bool known, const char *format, double value) {
    char text[32] = "\u2013";
    if (known) {
        snprintf(text, sizeof text, format, value);
    }
    html_put(html, "<td class=r>%s</td>", text);
}

static void run_row(struct html *html, const struct record_run *run) {
    char when[HTML_WHEN];
    const enum standing_kind how = html_of_end(run->end);
    html_when(run->started_ms, when);
    html_put(html,
             "<tr data-run=%lld data-verdict=%s data-margin=%.6g><th scope=row>%s</th><td class=r>%lld</td>"
             "<td class=%s>",
             (long long)run->id, record_end_name(run->end), run->margin, when, (long long)run->id,
             html_marks[how].class);
    html_mark(html, how);
    html_put(html, "</td>");
    const double median = median_margin(run);
    number_cell(html, has_margin(run), "%.2f", run->margin);
    number_cell(html, has_margin(run) && html_known(median), "%.2f", median);
    number_cell(html, run->step_count > 0, "%.0f", (double)failed_steps(run));
    number_cell(html, run->minutes_on >= 0, "%.0f", run->minutes_on);
    html_put(html, "<td>");
    html_name(html, run->bench, "");
    html_put(html, "</td><td>");
    for (size_t i = 0; i < run->finding_count; i++) {
        html_put(html, "%s", i > 0 ? ", " : "");
        html_finding_name(html, &run->findings[i]);
    }
    html_put(html, "</td></tr>\n");
}

static void run_table(struct html *html, const struct record_list *runs) {
    char caption[160];
    snprintf(caption, sizeof caption, "Runs of plan %.100s, the latest first", runs->runs[0]->plan->name);
    html_table(
        html, caption,
        "Started|>Record|Verdict|>Margin, worst|>Margin, median|>Steps failed|>Minutes on|Bench|Findings");
    for (size_t i = runs->count; i > 0; i--) {
        run_row(html, runs->runs[i - 1]);
    }
    html_table_end(html);
}

/* A step over the runs of the latest one's very plan. */
struct failing {
    int judged, failed;            /* runs */
    const struct record_run *last; /* in which it failed; NULL: in none */
};
static struct failing failing_of(const struct record_list *runs, size_t step) {
    const struct record_run *latest = runs->runs[runs->count - 1];
    struct failing failing = {0, 0, NULL};
    for (size_t i = 0; i < runs->count; i++) {
        const struct record_run *run = runs->runs[i];
        if (strcmp(run->plan->id, latest->plan->id) == 0 && step < run->step_count && run->steps != NULL) {
            const enum verdict verdict = run->steps[step].verdict;
            failing.judged += verdict != VERDICT_INCONCLUSIVE;
            failing.failed += verdict == VERDICT_FAIL;
            failing.last = verdict == VERDICT_FAIL ? run : failing.last;
        }
    }
    return failing;
}

static void failing_row(struct html *html, size_t step, const struct failing *failing) {
    char when[HTML_WHEN];
    html_when(failing->last->started_ms, when);
    html_put(html, "<tr data-step=%zu data-failed=%d><th scope=row>%zu ", step, failing->failed, step);
    html_name(html, failing->last->plan->steps[step].name, "without a name");
    html_put(html, "</th><td class=r>%d of %d</td><td>%s</td><td class=w>", failing->failed, failing->judged,
             when);
    html_cells(html, &failing->last->steps[step]);
    html_put(html, "</td><td>");
    html_differs(html, &failing->last->steps[step]);
    html_put(html, "</td></tr>\n");
}

static void failing_table(struct html *html, const struct record_list *runs) {
    const struct record_run *latest = runs->runs[runs->count - 1];
    bool begun = false;
    for (size_t step = 0; step < latest->step_count && step < latest->plan->step_count; step++) {
        const struct failing failing = failing_of(runs, step);
        if (failing.last == NULL || failing.last->plan->steps == NULL) {
            continue;
        }
        if (!begun) {
            html_cells_key(html);
            html_table(html, "Steps that ever failed, as the last failing run saw them",
                       "Step|>Failed, runs|Last|Expected above seen|Differs");
            begun = true;
        }
        failing_row(html, step, &failing);
    }
    if (begun) {
        html_table_end(html);
    }
}

/* ---- all of it ---- */

static void plan(struct html *html, const struct record_list *runs, size_t number,
                 const struct html_plan_differ *differs, size_t differ_count) {
    const char *name = runs->runs[0]->plan->name;
    html_put(html, "<section aria-labelledby=plan-%zu>\n<h2 id=plan-%zu>Plan ", number, number);
    html_name(html, name, "without a name");
    html_put(html, "</h2>\n");
    margins(html, runs);
    for (size_t i = 0; i < differ_count; i++) {
        if (differs[i].differ != NULL && strcmp(differs[i].plan, name) == 0) {
            html_put(html, "<h3>Against the baseline</h3>\n");
            html_differ(html, differs[i].differ);
        }
    }
    html_put(html, "<h3>Runs</h3>\n");
    run_table(html, runs);
    html_measured(html, runs, false);
    failing_table(html, runs);
    html_section_end(html);
}

/* The latest run of each plan, what is worse first. */
struct latests {
    size_t count;
    const struct record_run **runs; /* to be freed */
};

static int graver(const void *a, const void *b) {
    static const int order[RECORD_ENDS] = {
        [RECORD_FAIL] = 0, [RECORD_TROUBLE] = 1, [RECORD_INCONCLUSIVE] = 2, [RECORD_PASS] = 3};
    const struct record_run *first = *(const struct record_run *const *)a,
                            *second = *(const struct record_run *const *)b;
    const int rank = order[first->end % RECORD_ENDS] - order[second->end % RECORD_ENDS];
    return rank != 0 ? rank : strcmp(first->plan->name, second->plan->name);
}

static struct latests latests_of(const struct record_list *runs) {
    struct latests list = {0, calloc(runs->count + 1, sizeof(const struct record_run *))};
    for (size_t i = 0; i < runs->count && list.runs != NULL; i++) {
        size_t at = 0;
        while (at < list.count && strcmp(list.runs[at]->plan->name, runs->runs[i]->plan->name) != 0) {
            at++;
        }
        list.runs[at] = runs->runs[i];
        list.count += at == list.count;
    }
    if (list.count > 1) {
        qsort(list.runs, list.count, sizeof(const struct record_run *), graver);
    }
    return list;
}

static void earlier(struct html *html, const struct record_list *runs, const struct record_run *latest) {
    char when[HTML_WHEN];
    size_t count = 0, passed = 0;
    for (size_t i = 0; i < runs->count; i++) {
        if (strcmp(runs->runs[i]->plan->name, latest->plan->name) == 0) {
            count++;
            passed += runs->runs[i]->end == RECORD_PASS;
        }
    }
    html_when(latest->started_ms, when);
    html_put(html, "<p class=q>Run %lld, %s, the latest of %zu of this plan, of which %zu passed.",
             (long long)latest->id, when, count, passed);
}

static void against(struct html *html, const struct record_run *latest,
                    const struct html_plan_differ *differs, size_t differ_count) {
    static const char *const words[] = {[DIFFER_NOT_WORSE] = "not worse than the baseline",
                                        [DIFFER_WORSE] = "<strong>worse than the baseline</strong>",
                                        [DIFFER_NOT_KNOWN] = "not known whether worse than the baseline"};
    for (size_t i = 0; i < differ_count; i++) {
        if (differs[i].differ != NULL && strcmp(differs[i].plan, latest->plan->name) == 0) {
            html_put(html, " Its latest runs: %s.", words[differ_verdict(differs[i].differ)]);
            return;
        }
    }
}

/* One plan's good end must not hide another one's bad one. */
static void latest(struct html *html, const struct record_list *runs, const struct latests *latests,
                   const struct html_plan_differ *differs, size_t differ_count) {
    if (latests->count == 0) {
        html_put(html, "<p class=v>No run of it is kept.</p>\n");
        return;
    }
    for (size_t i = 0; i < latests->count; i++) {
        html_verdict(html, latests->runs[i]);
        earlier(html, runs, latests->runs[i]);
        against(html, latests->runs[i], differs, differ_count);
        html_put(html, "</p>\n");
    }
    html_facts(html);
    html_console_facts(html, runs->runs[runs->count - 1]);
    html_facts_end(html);
}

/* What is wrong now comes before what was. */
static void contents(struct html *html, const struct record_list *runs) {
    html_put(html, "<nav aria-label=\"On this page\"><ul><li><a href=\"#findings\">Latest findings</a></li>");
    for (size_t i = 0, number = 1; i < runs->count; i++) {
        if (first_of_plan(runs, i)) {
            html_put(html, "<li><a href=\"#plan-%zu\">Plan ", number++);
            html_name(html, runs->runs[i]->plan->name, "without a name");
            html_put(html, "</a></li>");
        }
    }
    html_put(html, "</ul></nav>\n");
}

void html_console(FILE *stream, const char *console, const struct record_list *runs,
                  const struct html_plan_differ *differs, size_t differ_count) {
    struct html html;
    html_begin(&html, stream, "History of a console", console);
    struct latests latests = latests_of(runs);
    latest(&html, runs, &latests, differs, differ_count);
    if (latests.count > 0) {
        contents(&html, runs);
        html_findings(&html, latests.runs, latests.count);
    }
    free(latests.runs);
    for (size_t i = 0, number = 1; i < runs->count; i++) {
        if (first_of_plan(runs, i)) {
            struct record_list list = of_plan(runs, runs->runs[i]->plan->name);
            if (list.count > 0) {
                plan(&html, &list, number++, differs, differ_count);
            }
            free(list.runs);
        }
    }
    html_end(&html);
}
