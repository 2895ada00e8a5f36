#include "record/differ_parts.h"

#include "expect/expect.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Least effects: what a person would act on [M], at least several times what one run differs from the next on
 * the virtual bench at 30 dB of noise (deviations: DEVELOPERS.md), so that it is the console that moved:
 * margin 0.05, a thirteenth of the way from a good bench's 0.9 to the 0.25 at which cells are unclear;
 * offset 0.1, a sixth of the 0.6 clocks at which a step fails;
 * levels 0.02, a seventh of a step of luminance, and hue 3 degrees, an eighth of a step of hue: the bounds of
 * two results held side by side, report/palette_report.h;
 * delay 0.25 clocks, likewise that of verdict/moments_differ.h. */
const struct quantity_facts quantity_table[QUANTITY_COUNT] = {
    [QUANTITY_MARGIN] = {"margin", "", 0.05, 1e-4, true},
    [QUANTITY_OFFSET] = {"offset", "clocks", 0.1, 1e-3, false},
    [QUANTITY_LIT_LEVEL] = {"lit level", "", 0.02, 1e-4, false},
    [QUANTITY_DARK_LEVEL] = {"dark level", "", 0.02, 1e-4, false},
    [QUANTITY_COLOUR_LEVEL] = {"level", "", 0.02, 1e-4, false},
    [QUANTITY_COLOUR_HUE] = {"hue", "degrees", 3, 1e-2, false},
    [QUANTITY_DELAY] = {"delay", "clocks", 0.25, 1e-3, false},
};

bool differ_run_counts(const struct record_run *run) {
    switch (run->end) {
    case RECORD_PASS:
    case RECORD_FAIL:
        return true;
    case RECORD_INCONCLUSIVE:
        return run->fields_judged > 0;
    default:
        return false;
    }
}

static bool one_plan(struct sides *sides, const struct record_list *list, struct problem *problem) {
    for (size_t i = 0; i < list->count; i++) {
        const struct record_plan *plan = list->runs[i]->plan;
        if (sides->plan == NULL) {
            sides->plan = plan;
        }
        if (strcmp(sides->plan->id, plan->id) != 0) {
            return problem_set(problem, PROBLEM_INPUT,
                               "runs of plan %.80s (%.8s) and of plan %.80s (%.8s): only runs of one and the "
                               "same plan can be "
                               "held against each other; choose them with --plan, or make the baseline anew",
                               sides->plan->name, sides->plan->id, plan->name, plan->id);
        }
    }
    return true;
}

static bool take_counting(struct sides *sides, int side) {
    const struct record_list *list = sides->all[side];
    sides->counting[side] = calloc(list->count + 1, sizeof(const struct record_run *));
    for (size_t i = 0; sides->counting[side] != NULL && i < list->count; i++) {
        const struct record_run *run = list->runs[i];
        if (differ_run_counts(run)) {
            sides->counting[side][sides->count[side]++] = run;
            sides->step_count = run->step_count > sides->step_count ? run->step_count : sides->step_count;
        }
    }
    return sides->counting[side] != NULL;
}

bool sides_open(struct sides *sides, const struct record_list *first, const struct record_list *second,
                struct problem *problem) {
    *sides = (struct sides){.all = {first, second}};
    return one_plan(sides, first, problem) && one_plan(sides, second, problem) &&
           ((take_counting(sides, SIDE_BEFORE) && take_counting(sides, SIDE_NOW)) ||
            problem_set(problem, PROBLEM_BENCH, "comparing records: out of memory"));
}

void sides_close(struct sides *sides) {
    free(sides->counting[SIDE_BEFORE]);
    free(sides->counting[SIDE_NOW]);
}

bool step_judged(const struct record_run *run, size_t step) {
    if (step >= run->step_count) {
        return false;
    }
    return run->seen_by_eye ? run->steps[step].verdict != VERDICT_INCONCLUSIVE : run->steps[step].fields > 0;
}

bool step_wrong(const struct record_run *run, size_t step) {
    return step < run->step_count && run->steps[step].verdict == VERDICT_FAIL;
}

uint64_t step_wrong_cells(const struct step_result *step) {
    return (step->seen ^ step->expected) & step->sure & ~step->unclear;
}

/* What edges are seen of rows that are all lit or all dark are noise's. Of a step of several bands only the
 * first is kept: 0 stands for no edge there. */
static bool has_edges(const struct record_run *run, size_t step) {
    const struct record_plan_step *plan = run->plan->steps;
    const bool bands = plan != NULL && step < run->plan->step_count && plan[step].bands > 1;
    const uint64_t expected = run->steps[step].expected;
    return bands ? run->steps[step].offset != 0 : expected != 0 && expected != CELLS_ALL;
}

bool step_quantity(const struct record_run *run, size_t step, enum quantity quantity, double *value) {
    if (run->seen_by_eye || !step_judged(run, step)) {
        return false;
    }
    const struct step_result *result = &run->steps[step];
    switch (quantity) {
    case QUANTITY_MARGIN:
        *value = result->margin;
        return isfinite(*value);
    case QUANTITY_OFFSET:
        *value = result->offset;
        return isfinite(*value) && has_edges(run, step);
    case QUANTITY_LIT_LEVEL:
        *value = result->lit_colour.level;
        return result->lit_colour.count > 0 && isfinite(*value);
    case QUANTITY_DARK_LEVEL:
        *value = result->dark_colour.level;
        return result->dark_colour.count > 0 && isfinite(*value);
    default:
        return false;
    }
}

int step_quantities(size_t series_count) {
    return series_count > 0 ? QUANTITY_LIT_LEVEL : STEP_QUANTITIES;
}

void step_name(const struct sides *sides, size_t step, char *name, size_t size) {
    const struct record_plan *plan = sides->plan;
    if (plan->steps != NULL && step < plan->step_count && plan->steps[step].name != NULL) {
        snprintf(name, size, "%s", plan->steps[step].name);
    } else {
        snprintf(name, size, "step %zu", step);
    }
}

static double minutes_of(const struct record_run *run) {
    return run->minutes_on >= 0 ? run->minutes_on : NAN;
}

static double noise_of(const struct record_run *run) {
    return run->noise_db > 0 ? run->noise_db : NAN;
}

/* Of the runs that count and know it; NaN: none does. */
static double mean_of(const struct sides *sides, int side, double (*value)(const struct record_run *run)) {
    double sum = 0;
    size_t known = 0;
    for (size_t i = 0; i < sides->count[side]; i++) {
        const double one = value(sides->counting[side][i]);
        sum += isnan(one) ? 0 : one;
        known += !isnan(one);
    }
    return known > 0 ? sum / (double)known : NAN;
}

static bool bench_is_known(const struct sides *sides, const char *bench) {
    for (size_t i = 0; i < sides->count[SIDE_BEFORE]; i++) {
        if (strcmp(sides->counting[SIDE_BEFORE][i]->bench, bench) == 0) {
            return true;
        }
    }
    return false;
}

/* Kinds of trouble of the capture chain, a bit each. */
static uint64_t troubles_of(const struct record_run *run) {
    uint64_t kinds = 0;
    for (size_t i = 0; i < run->trouble_count; i++) {
        kinds |= run->troubles[i].kind < 64 ? 1ull << run->troubles[i].kind : 0;
    }
    return kinds;
}

static bool other_bench(const struct sides *sides) {
    uint64_t known = 0;
    for (size_t i = 0; i < sides->count[SIDE_BEFORE]; i++) {
        known |= troubles_of(sides->counting[SIDE_BEFORE][i]);
    }
    for (size_t i = 0; i < sides->count[SIDE_NOW]; i++) {
        const struct record_run *run = sides->counting[SIDE_NOW][i];
        if (!bench_is_known(sides, run->bench) || (troubles_of(run) & ~known) != 0) {
            return true;
        }
    }
    return false;
}
_Static_assert(FINDING_NO_COLOUR < 64, "a bit for each kind of the capture chain");

static bool has_video(const struct sides *sides, int side) {
    for (size_t i = 0; i < sides->count[side]; i++) {
        if (!sides->counting[side][i]->seen_by_eye) {
            return true;
        }
    }
    return false;
}

/* Noise too low to be measured on one side alone is another one too. */
static bool noise_differs(const struct sides *sides, const struct differ *differ) {
    const double before = differ->before_noise_db, now = differ->now_noise_db;
    return has_video(sides, SIDE_BEFORE) && has_video(sides, SIDE_NOW) &&
           (isnan(before) != isnan(now) || fabs(now - before) > DIFFER_NOISE_DB);
}

/* What differs about the circumstances. */
static void look_round(const struct sides *sides, struct differ *differ) {
    differ->before_minutes = mean_of(sides, SIDE_BEFORE, minutes_of);
    differ->now_minutes = mean_of(sides, SIDE_NOW, minutes_of);
    differ->warm_up = fabs(differ->now_minutes - differ->before_minutes) > DIFFER_WARM_MINUTES;
    differ->before_noise_db = mean_of(sides, SIDE_BEFORE, noise_of);
    differ->now_noise_db = mean_of(sides, SIDE_NOW, noise_of);
    differ->other_noise = noise_differs(sides, differ);
    differ->other_bench = other_bench(sides);
}

static size_t inconclusive(const struct sides *sides, int side) {
    size_t count = 0;
    for (size_t i = 0; i < sides->all[side]->count; i++) {
        const struct record_run *run = sides->all[side]->runs[i];
        count += run->end == RECORD_INCONCLUSIVE && !differ_run_counts(run);
    }
    return count;
}

static void sum_up(const struct sides *sides, struct differ *differ) {
    differ->before_count = sides->count[SIDE_BEFORE];
    differ->now_count = sides->count[SIDE_NOW];
    differ->before_unjudged = inconclusive(sides, SIDE_BEFORE);
    differ->now_unjudged = inconclusive(sides, SIDE_NOW);
    for (size_t i = 0; i < differ->change_count; i++) {
        const struct change *change = &differ->changes[i];
        differ->regression = differ->regression || change->worse;
        differ->doubt = differ->doubt || (change->kind == CHANGE_NEW && !change->worse && !change->known);
    }
    for (size_t i = 0; i < differ->drift_count; i++) {
        differ->regression = differ->regression || differ->drifts[i].worse;
        differ->doubt = differ->doubt || differ->drifts[i].perhaps_bench;
    }
}

bool differ_runs(const struct record_list *before, const struct record_list *now, const struct series *more,
                 size_t more_count, struct differ **differ, struct problem *problem) {
    struct sides sides;
    bool good = sides_open(&sides, before, now, problem);
    *differ = NULL;
    if (good) {
        *differ = calloc(1, sizeof **differ);
        if (*differ != NULL) {
            look_round(&sides, *differ);
            good = differ_changes(&sides, *differ) && differ_drifts(&sides, more, more_count, *differ);
        } else {
            good = false;
        }
        if (good) {
            sum_up(&sides, *differ);
        } else {
            problem_set(problem, PROBLEM_BENCH, "comparing records: out of memory");
            differ_free(*differ);
            *differ = NULL;
        }
    }
    sides_close(&sides);
    return good;
}

bool differ_turned(const struct differ *differ) {
    return fabs(differ->hue_turn) > quantity_table[QUANTITY_COLOUR_HUE].least / 2;
}

enum differ_verdict differ_verdict(const struct differ *differ) {
    const bool held = differ->before_count > 0 && differ->now_count > 0;
    return differ->regression ? DIFFER_WORSE : !held || differ->doubt ? DIFFER_NOT_KNOWN : DIFFER_NOT_WORSE;
}

void differ_free(struct differ *differ) {
    if (differ != NULL) {
        free(differ->changes);
        free(differ->drifts);
        free(differ);
    }
}
