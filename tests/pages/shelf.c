#include "pages/shelf.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { AGED_FROM = 9, AGED_LOST = 4 };

struct invented *pages_shelf(uint64_t seed, int consoles, int steps, int repeats) {
    struct invented *invented = invented_new(seed, consoles, steps, repeats);
    invented->sweep.id = 7;
    for (size_t i = 0; i < invented->runs.count; i++) {
        invented->sweep.items[i].id = (int64_t)i + 1;
        invented->runs.runs[i]->item = (int64_t)i + 1;
        invented->runs.runs[i]->id = (int64_t)i + 101;
    }
    return invented;
}

/* What an invented run points to is the shelf's own and may be changed. */
static struct step_result *steps_of(struct record_run *run) {
    return (struct step_result *)run->steps;
}

void pages_break(struct record_run *run, int cell, struct finding *finding) {
    struct step_result *steps = steps_of(run);
    bool wrong = false;
    for (size_t i = 0; i < run->step_count; i++) {
        steps[i].seen &= ~(1ull << cell);
        if (((steps[i].seen ^ steps[i].expected) & steps[i].sure) != 0) {
            steps[i].verdict = VERDICT_FAIL;
            steps[i].failed = steps[i].fields;
            steps[i].wrong_line = 0;
            wrong = true;
        }
    }
    if (!wrong) {
        return;
    }
    *finding = (struct finding){
        .kind = FINDING_BIT_STUCK_LOW, .reg = REG_PF1, .bit = 3, .rate = 1, .rate_low = 1, .rate_high = 1};
    snprintf(finding->text, sizeof finding->text, "invented: cell %d never lights", cell);
    snprintf(finding->next, sizeof finding->next, "invented: nothing");
    run->end = RECORD_FAIL;
    run->exit = 1;
    run->finding_count = 1;
    run->findings = finding;
}

void pages_unreadable(struct record_run *run, struct finding *finding) {
    struct step_result *steps = steps_of(run);
    for (size_t i = 0; i < run->step_count; i++) {
        steps[i] = (struct step_result){.verdict = VERDICT_INCONCLUSIVE,
                                        .expected = steps[i].expected,
                                        .sure = steps[i].sure,
                                        .wrong_line = -1};
    }
    *finding = (struct finding){
        .kind = FINDING_NO_SLATE, .reg = -1, .bit = -1, .rate = 1, .rate_low = 1, .rate_high = 1};
    snprintf(finding->text, sizeof finding->text, "invented: no slate was read");
    snprintf(finding->next, sizeof finding->next, "invented: look at the cable");
    run->end = RECORD_INCONCLUSIVE;
    run->exit = 4;
    run->margin = 0;
    run->fields_judged = 0;
    run->fields_unreadable = run->fields_seen;
    run->has_raster = false;
    run->finding_count = 1;
    run->findings = finding;
}

void pages_trouble(struct record_run *run, const char *problem) {
    run->end = RECORD_TROUBLE;
    run->exit = 3;
    run->margin = 0;
    run->fields_seen = run->fields_judged = 0;
    run->has_raster = false;
    run->noise_db = 0;
    run->step_count = 0;
    run->steps = NULL;
    run->finding_count = 0;
    run->problem = problem;
}

/* Another attempt at what a run was at. */
static void again(struct mixed *mixed, int index, const struct record_run *run) {
    struct record_run *more = &mixed->more[index];
    *more = *run;
    more->id = run->id + 100;
    more->attempt = 2;
    more->started_ms += run->took_ms + 1000;
    if (run->step_count > 0) {
        memcpy(mixed->steps[index], run->steps, sizeof mixed->steps[index]);
        more->steps = mixed->steps[index];
    }
    mixed->runs.runs[mixed->runs.count++] = more;
}

void mixed_make(struct mixed *mixed) {
    *mixed = (struct mixed){.invented = pages_shelf(11, 3, MIXED_STEPS, 3)};
    struct record_run **runs = mixed->invented->runs.runs;
    mixed->invented->sweep.retries = 1;
    mixed->runs.runs = mixed->pointers;
    for (size_t i = 0; i < 8; i++) { /* the ninth is missing */
        mixed->runs.runs[mixed->runs.count++] = runs[i];
    }
    again(mixed, 0, runs[4]);
    pages_break(runs[4], 0, &mixed->findings[0]);
    pages_unreadable(runs[6], &mixed->findings[1]);
    again(mixed, 1, runs[6]);
    pages_trouble(runs[7], "invented: the board no longer answers");
    again(mixed, 2, runs[7]);
}

void aged_make(struct aged *aged) {
    *aged = (struct aged){.invented = pages_shelf(12, 1, AGED_STEPS, AGED_RUNS)};
    for (int i = 0; i < AGED_RUNS; i++) {
        struct record_run *run = aged->invented->runs.runs[i];
        struct step_result *steps = steps_of(run);
        run->item = 0;
        run->margin = 1;
        run->minutes_on = i % 5 == 4 ? -1 : run->minutes_on;
        for (size_t step = 0; step < run->step_count; step++) {
            steps[step].margin -= 0.02 * fmax(0, i - AGED_FROM);
            run->margin = fmin(run->margin, steps[step].margin);
        }
        if (i >= AGED_RUNS - AGED_LOST) {
            pages_break(run, 6, &aged->findings[i]);
        }
    }
}
