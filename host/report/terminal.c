#include "report/terminal.h"

#include "report/check_report.h"
#include "report/label.h"
#include "report/moments_report.h"
#include "report/palette_report.h"

#include <string.h>

void terminal_cells(uint64_t lit, uint64_t unclear, char text[CELLS + 2]) {
    char cells[CELLS + 1];
    int at = 0;
    cells_text(lit, unclear, cells);
    for (int i = 0; i < CELLS; i++) {
        if (i == CELLS / 2) {
            text[at++] = '|';
        }
        text[at++] = cells[i] == '1' ? '#' : cells[i] == '0' ? '.' : '?';
    }
    text[at] = '\0';
}

const char *terminal_pace(const struct plan *plan, int hold, char text[PACE_MAX]) {
    const char *const what = plan->kind == PLAN_EVERY       ? "new pictures"
                             : plan->kind == PLAN_MOMENTS   ? "a moment"
                             : plan->kind == PLAN_CARTRIDGE ? "an item"
                                                            : "a step";
    if (hold == 1) {
        snprintf(text, PACE_MAX, "%s in every field", what);
    } else {
        snprintf(text, PACE_MAX, "%s every %d fields", what, hold);
    }
    return text;
}

static void marks(uint64_t differing, char text[CELLS + 2]) {
    int at = 0;
    for (int i = 0; i < CELLS; i++) {
        if (i == CELLS / 2) {
            text[at++] = ' ';
        }
        text[at++] = (differing >> i) & 1 ? '^' : ' ';
    }
    text[at] = '\0';
}

uint64_t terminal_step(FILE *stream, const struct step_result *step) {
    const uint64_t differing = ((step->seen ^ step->expected) | step->unclear) & step->sure;
    char text[CELLS + 2];
    terminal_cells(step->expected, ~step->sure & CELLS_ALL, text);
    fprintf(stream, "    expected  %s\n", text);
    terminal_cells(step->seen, step->unclear, text);
    fprintf(stream, "    seen      %s\n", text);
    marks(differing, text);
    fprintf(stream, "    differs   %s\n", text);
    return differing;
}

static void step_pictures(FILE *stream, const struct report *report, size_t index) {
    const struct step_result *step = &report->result->steps[index];
    fprintf(stream, "\n  step %zu  %s  (%d of %d fields wrong, ", index, report->plan->steps[index].name,
            step->failed, step->fields);
    if (report->plan->steps[index].band_count > 1 && step->wrong_line >= 0) {
        fprintf(stream, "from line %d on, ", step->wrong_line);
    }
    fprintf(stream, "margin %.2f)\n", step->margin);
    const uint64_t differing = terminal_step(stream, step);
    if (differing == 0 && step->offset != 0) {
        fprintf(stream, "    the cells agree, but their edges are %+.1f clocks off\n", step->offset);
    }
}

/* So many that the findings above them stay on the screen. */
enum { STEPS_SHOWN = 6 };

static void failing_steps(FILE *stream, const struct report *report, bool kept) {
    size_t failing = 0;
    for (size_t i = 0; i < report->result->step_count; i++) {
        if (report->result->steps[i].verdict == VERDICT_FAIL && failing++ < STEPS_SHOWN) {
            step_pictures(stream, report, i);
        }
    }
    if (failing > STEPS_SHOWN) {
        fprintf(stream, "\n  and %zu more failing steps: %s them all\n", failing - STEPS_SHOWN,
                kept ? "--json FILE has" : "--json FILE and --out DIR have");
    }
}

static void findings(FILE *stream, const struct result *result) {
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        fprintf(stream, "\n  %s%s: %s\n    next: %s\n", label_joint(result->findings, i),
                finding_name(finding->kind), finding->text, finding->next);
    }
}

static void troubles(FILE *stream, const struct result *result) {
    if (result->verdict == VERDICT_INCONCLUSIVE) {
        return; /* they are among the findings */
    }
    for (size_t i = 0; i < result->trouble_count; i++) {
        const struct finding *trouble = &result->troubles[i];
        fprintf(stream, "\n  capture: %s: %s\n    next: %s\n", finding_name(trouble->kind), trouble->text,
                trouble->next);
    }
}

static size_t steps_with(const struct result *result, enum verdict verdict) {
    size_t count = 0;
    for (size_t i = 0; i < result->step_count; i++) {
        count += result->steps[i].verdict == verdict;
    }
    return count;
}

void terminal_result(FILE *stream, const struct report *report, struct terminal_style style) {
    static const char *const paint[] = {
        [VERDICT_PASS] = "\033[32m", [VERDICT_FAIL] = "\033[31m", [VERDICT_INCONCLUSIVE] = "\033[33m"};
    const struct result *result = report->result;
    const char *on = style.colour ? paint[result->verdict] : "";
    const char *off = style.colour ? "\033[0m" : "";
    fprintf(stream, "%s%s%s  plan %s on %s, %s: ", on, verdict_name(result->verdict), off, report->plan->name,
            report->bench, standard_table[report->plan->standard].name);
    if (result->coverage.of > 0) {
        fprintf(stream,
                report->plan->kind == PLAN_CARTRIDGE
                    ? "%llu of %llu items read in two rounds, %llu wrong, %llu open\n"
                    : "%llu of %llu pictures seen, %llu wrong, %llu open\n",
                (unsigned long long)result->coverage.seen, (unsigned long long)result->coverage.of,
                (unsigned long long)result->coverage.wrong, (unsigned long long)result->coverage.open);
    } else {
        fprintf(stream, "%zu of %zu steps pass, %zu fail, %zu open\n", steps_with(result, VERDICT_PASS),
                result->step_count, steps_with(result, VERDICT_FAIL),
                steps_with(result, VERDICT_INCONCLUSIVE));
    }
    fprintf(stream, "  %llu fields seen, %llu judged, %llu unreadable; margin %.2f (1 is best)\n",
            (unsigned long long)result->fields_seen, (unsigned long long)result->fields_judged,
            (unsigned long long)result->fields_unreadable, result->margin);
    if (report->has_seed) {
        char pace[PACE_MAX];
        fprintf(stream, "  seed %llu, image %04x, %s\n", (unsigned long long)report->seed, report->hash,
                terminal_pace(report->plan, report->hold, pace));
    }
    findings(stream, result);
    troubles(stream, result);
    if (report->check != NULL || result->check != NULL) {
        json_t *made = report->check == NULL ? check_json(result->check) : NULL;
        check_terminal(stream, made != NULL ? made : report->check);
        json_decref(made);
    }
    if (result->moments != NULL) {
        moments_terminal(stream, result->moments);
    }
    if (result->palette != NULL) {
        palette_terminal(stream, result->palette);
    }
    if (result->palette == NULL) { /* whose steps are no rows of cells */
        failing_steps(stream, report, style.kept);
    }
}
