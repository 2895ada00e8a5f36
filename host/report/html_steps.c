/* A run's steps: what differs first, then what passed, then every step's figures. */
#include "report/html_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool html_has_steps(const struct record_run *run) {
    return run->step_count > 0 && run->steps != NULL && run->plan->steps != NULL &&
           run->plan->step_count >= run->step_count;
}

/* ---- a row ---- */

static void registers(struct html *html, const struct record_plan_step *step) {
    const bool score = (step->registers[REG_CTRLPF] & CTRLPF_SCORE) != 0;
    html_say(html, "%s ", step->mode);
    static const enum reg shown[] = {REG_PF0,    REG_PF1,    REG_PF2,    REG_CTRLPF,
                                     REG_COLUPF, REG_COLUBK, REG_COLUP0, REG_COLUP1};
    for (int i = 0; i < (score ? 8 : 6); i++) {
        html_put(html, "%s<span class=l>%s $%02X</span>", i > 0 ? " " : "", reg_name(shown[i]),
                 step->registers[shown[i]]);
    }
}

static void data(struct html *html, const struct record_run *run, size_t index) {
    const struct step_result *step = &run->steps[index];
    char expected[CELLS + 1], seen[CELLS + 1];
    cells_text(step->expected, ~step->sure & CELLS_ALL, expected);
    cells_text(step->seen, step->fields > 0 ? step->unclear : CELLS_ALL, seen);
    html_put(html, " data-run=%lld data-step=%zu data-expected=%s data-seen=%s", (long long)run->id, index,
             expected, seen);
}

static void step_name(struct html *html, const struct record_run *run, size_t index) {
    const struct record_plan_step *step = &run->plan->steps[index];
    html_put(html, "%zu ", index);
    html_name(html, step->name, "without a name");
    if (step->bands > 1) {
        const int line = run->steps[index].wrong_line;
        html_put(html, " <span class=q>line %d</span>", line > 0 ? line : 0);
    }
}

static void verdict(struct html *html, const struct step_result *step) {
    const enum standing_kind kind = html_of_verdict(step->verdict, step->fields);
    html_put(html, "<td class=%s>", html_marks[kind].class);
    html_mark(html, kind);
    if (step->failed > 0) {
        html_put(html, "<br><span class=l>%d of %d fields</span>", step->failed, step->fields);
    }
    html_put(html, "</td>");
}

static void margin(struct html *html, const struct step_result *step) {
    html_put(html, step->fields > 0 ? "<td class=r>%.2f</td>" : "<td class=r>\u2013</td>", step->margin);
}

void html_step_row(struct html *html, const struct record_run *run, size_t index,
                   const struct html_who *who) {
    const struct step_result *step = &run->steps[index];
    html_put(html, "<tr");
    if (who != NULL) {
        html_put(html, " id=%s", who->id);
    }
    data(html, run, index);
    html_put(html, "><th scope=row>");
    step_name(html, run, index);
    html_put(html, "</th>");
    if (who != NULL) {
        html_put(html, "<td>");
        who->say(html, who);
        html_put(html, "</td>");
    }
    verdict(html, step);
    margin(html, step);
    html_put(html, "<td class=w>");
    html_cells(html, step);
    html_put(html, "</td><td>");
    if (run->seen_by_eye) {
        html_put(html, "seen by eye");
    } else {
        html_differs(html, step);
    }
    if (who == NULL) {
        html_put(html, "</td><td>");
        registers(html, &run->plan->steps[index]);
    }
    html_put(html, "</td></tr>\n");
}

/* ---- tables ---- */

#define COLUMNS "Step|Verdict|>Margin|Expected above seen|Differs|Registers"

enum group { DIFFERS, UNSEEN, PASSED };
static enum group group_of(const struct step_result *step) {
    return step->verdict == VERDICT_PASS                                ? PASSED
           : step->verdict == VERDICT_INCONCLUSIVE && step->fields == 0 ? UNSEEN
                                                                        : DIFFERS;
}

static size_t count_of(const struct record_run *run, enum group group) {
    size_t count = 0;
    for (size_t i = 0; i < run->step_count; i++) {
        count += group_of(&run->steps[i]) == group;
    }
    return count;
}

static void table(struct html *html, const struct record_run *run, enum group group) {
    static const char *const captions[] = {"Steps that did not pass", "Steps that were not seen",
                                           "Steps that passed"};
    html_table(html, captions[group], COLUMNS);
    for (int turn = 0; turn < 2; turn++) { /* failing ones before those that are not decided */
        for (size_t i = 0; i < run->step_count; i++) {
            const struct step_result *step = &run->steps[i];
            if (group_of(step) == group && (step->verdict == VERDICT_INCONCLUSIVE) == (turn == 1)) {
                html_step_row(html, run, i, NULL);
            }
        }
    }
    html_table_end(html);
}

static void folded(struct html *html, const struct record_run *run, enum group group, const char *what) {
    const size_t count = count_of(run, group);
    char summary[64];
    if (count > 0) {
        snprintf(summary, sizeof summary, "%zu step%s that %s", count, count == 1 ? "" : "s", what);
        html_details(html, false, summary);
        table(html, run, group);
        html_details_end(html);
    }
}

static bool is_of_step(const struct record_blob *blob) {
    return strncmp(blob->name, "step-", 5) == 0 && strcmp(blob->type, "image/png") == 0;
}

static void picture(struct html *html, const struct record_run *run, size_t index) {
    char name[32], about[160];
    snprintf(name, sizeof name, "step-%04zu", index);
    snprintf(about, sizeof about, "step %zu, %.100s: expected above, seen below", index,
             run->plan->steps[index].name);
    html_picture(html, run, name, about);
}

static void pictures(struct html *html, const struct record_run *run) {
    size_t kept = 0;
    for (size_t i = 0; i < run->blob_count; i++) {
        kept += is_of_step(&run->blobs[i]);
    }
    if (kept == 0) {
        return;
    }
    char summary[64];
    snprintf(summary, sizeof summary, "Pictures of %zu step%s", kept, kept == 1 ? "" : "s");
    html_details(html, false, summary);
    html_put(html, "<div class=g>\n");
    for (size_t i = 0; i < run->step_count; i++) {
        picture(html, run, i);
    }
    html_put(html, "</div>\n");
    html_details_end(html);
}

/* ---- figures ---- */

/* No "-0.00". */
static double no_minus(double value) {
    return value > -0.005 && value < 0 ? 0 : value;
}

static void level(struct html *html, const struct cell_colour *colour) {
    html_put(html, colour->count > 0 ? "<td class=r>%.3f</td>" : "<td class=r>\u2013</td>", colour->level);
}

static void figures(struct html *html, const struct record_run *run) {
    html_details(html, false, "Figures of every step");
    html_table(html, "Every step's figures",
               "Step|Verdict|>Fields|>Wrong|>Margin|>Offset, clocks|>Lit level|>Dark level");
    for (size_t i = 0; i < run->step_count; i++) {
        const struct step_result *step = &run->steps[i];
        html_put(html, "<tr data-figures=%zu data-margin=%.6g data-offset=%.6g><th scope=row>", i,
                 step->margin, step->offset);
        step_name(html, run, i);
        html_put(html, "</th><td>");
        html_mark(html, html_of_verdict(step->verdict, step->fields));
        html_put(html, "</td><td class=r>%d</td><td class=r>%d</td>", step->fields, step->failed);
        margin(html, step);
        html_put(html, step->fields > 0 ? "<td class=r>%.2f</td>" : "<td class=r>\u2013</td>",
                 no_minus(step->offset));
        level(html, &step->lit_colour);
        level(html, &step->dark_colour);
        html_put(html, "</tr>\n");
    }
    html_table_end(html);
    html_details_end(html);
}

static void chart(struct html *html, const struct record_run *run) {
    struct html_point *points = malloc(2 * run->step_count * sizeof *points);
    if (points == NULL) {
        return;
    }
    size_t counts[2] = {0, 0};
    for (size_t i = 0; i < run->step_count; i++) {
        const struct step_result *step = &run->steps[i];
        const int other = step->verdict != VERDICT_PASS;
        if (step->fields > 0) {
            points[other * run->step_count + counts[other]++] =
                (struct html_point){(double)i, step->margin, (long)i};
        }
    }
    const struct html_series series[] = {
        {"passed", "one", SVG_CIRCLE, false, counts[0], points},
        {"did not pass", "two", SVG_CROSS, false, counts[1], points + run->step_count}};
    const struct html_plot plot = {
        .title = "Margin by step",
        .of = run->console.name,
        .about = "The worst margin of each step, a mark a step. The numbers stand in the "
                 "table of every step's figures.",
        .x_name = "number of the step",
        .whole = true,
        .y_name = "margin, 1 the most",
        .x_high = (double)run->step_count - 1,
        .y_high = 1,
        .bound = PICTURE_UNCLEAR,
        .bound_name = "below it a cell is unclear",
        .count = 2,
        .series = series};
    if (counts[0] + counts[1] > 0) {
        html_plot(html, &plot);
    }
    free(points);
}

void html_steps(struct html *html, const struct record_run *run) {
    if (!html_has_steps(run)) {
        return;
    }
    html_section(html, "steps", "Steps");
    if (count_of(run, DIFFERS) > 0) {
        html_cells_key(html);
        table(html, run, DIFFERS);
        pictures(html, run);
    } else if (count_of(run, PASSED) == run->step_count) {
        html_put(html, "<p>All %zu passed.</p>\n", run->step_count);
    }
    if (!run->seen_by_eye) {
        chart(html, run);
        figures(html, run);
    }
    folded(html, run, UNSEEN, run->seen_by_eye ? "had no answer" : "no field showed");
    folded(html, run, PASSED, "passed");
    html_section_end(html);
}
