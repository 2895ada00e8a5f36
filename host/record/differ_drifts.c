/* What drifts between two groups of runs. */
#include "record/differ_parts.h"

#include "stats/stats.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The drifts under way, and room for one quantity's values. */
struct work {
    struct differ *differ;
    double *values[SIDES];
};

/* Adds what was tested; nothing where a side has too few runs. */
static void test(struct work *work, enum quantity quantity, int step, const char *name,
                 const struct sample sample[SIDES]) {
    const struct sample *before = &sample[SIDE_BEFORE], *now = &sample[SIDE_NOW];
    if (before->count < DIFFER_RUNS || now->count < DIFFER_RUNS) {
        return;
    }
    const struct welch tested = careful_test(now, before, quantity_table[quantity].quantum);
    struct drift *drift = &work->differ->drifts[work->differ->drift_count++];
    *drift = (struct drift){.quantity = quantity,
                            .step = step,
                            .before_runs = (int)before->count,
                            .now_runs = (int)now->count,
                            .before = before->mean,
                            .now = now->mean,
                            .before_sd = sqrt(before->variance),
                            .now_sd = sqrt(now->variance),
                            .t = tested.t,
                            .df = tested.df,
                            .p = tested.p};
    snprintf(drift->name, sizeof drift->name, "%s", name);
}

static void test_step(struct work *work, const struct sides *sides, size_t step, enum quantity quantity) {
    struct sample sample[SIDES];
    char name[STEP_NAME_MAX];
    for (int side = 0; side < SIDES; side++) {
        size_t count = 0;
        for (size_t i = 0; i < sides->count[side]; i++) {
            const struct record_run *run = sides->counting[side][i];
            /* A step in error has the margin of its error. */
            count += !step_wrong(run, step) && step_quantity(run, step, quantity, &work->values[side][count]);
        }
        sample[side] = sample_of(work->values[side], count);
    }
    step_name(sides, step, name, sizeof name);
    test(work, quantity, (int)step, name, sample);
}

static struct sample of_finite(const double *values, size_t count, double *scratch) {
    size_t known = 0;
    for (size_t i = 0; i < count; i++) {
        if (isfinite(values[i])) {
            scratch[known++] = values[i];
        }
    }
    return sample_of(scratch, known);
}

static void test_series(struct work *work, const struct series *series) {
    const struct sample sample[SIDES] = {
        of_finite(series->before, series->before_count, work->values[SIDE_BEFORE]),
        of_finite(series->now, series->now_count, work->values[SIDE_NOW])};
    test(work, series->quantity, -1, series->name, sample);
}

static int by_p(const void *first, const void *second) {
    const struct drift *a = first, *b = second;
    const int order = (a->p > b->p) - (a->p < b->p);
    const double far_a = fabs(a->now - a->before) / quantity_table[a->quantity].least;
    const double far_b = fabs(b->now - b->before) / quantity_table[b->quantity].least;
    return order != 0 ? order : (far_a < far_b) - (far_a > far_b);
}

static int ascending(const void *first, const void *second) {
    const double a = *(const double *)first, b = *(const double *)second;
    return (a > b) - (a < b);
}

/* Median of what the hues moved by; 0 where there are too few for any of them to stand out. turns: room for
 * one of each drift. */
static double common_turn(const struct differ *differ, double *turns) {
    enum { HUES_LEAST = 8 };
    size_t count = 0;
    for (size_t i = 0; i < differ->drift_count; i++) {
        const struct drift *drift = &differ->drifts[i];
        if (drift->quantity == QUANTITY_COLOUR_HUE) {
            turns[count++] = drift->now - drift->before;
        }
    }
    qsort(turns, count, sizeof *turns, ascending);
    return count >= HUES_LEAST ? (turns[(count - 1) / 2] + turns[count / 2]) / 2 : 0;
}

/* Whether the bench alone may have moved the quantity. Clocks are the console's own, whatever grabs them; its
 * hues go by the burst that it sends itself, so that what turns them all alike is the grabber's tint [P]. */
static bool bench_moves(const struct differ *differ, const struct drift *drift) {
    const bool turned =
        drift->quantity == QUANTITY_COLOUR_HUE &&
        fabs(drift->now - drift->before - differ->hue_turn) <= quantity_table[drift->quantity].least;
    return turned || (differ->other_bench && drift->quantity != QUANTITY_DELAY) ||
           (differ->other_noise && drift->quantity == QUANTITY_MARGIN);
}

/* All that was tested is corrected for together, then called. */
static bool call(struct differ *differ) {
    const size_t count = differ->drift_count;
    double *p = malloc((count + 1) * sizeof *p);
    if (p == NULL) {
        return false;
    }
    differ->hue_turn = common_turn(differ, p);
    for (size_t i = 0; i < count; i++) {
        p[i] = differ->drifts[i].p;
    }
    const bool good = benjamini_hochberg(p, count, p);
    for (size_t i = 0; good && i < count; i++) {
        struct drift *drift = &differ->drifts[i];
        const struct quantity_facts *facts = &quantity_table[drift->quantity];
        drift->adjusted = p[i];
        drift->called = p[i] <= DIFFER_RATE && fabs(drift->now - drift->before) > facts->least;
        const bool bad = drift->called && (!facts->lower_is_worse || drift->now < drift->before);
        drift->perhaps_bench = bad && bench_moves(differ, drift);
        drift->worse = bad && !drift->perhaps_bench;
    }
    free(p);
    if (good) {
        qsort(differ->drifts, count, sizeof *differ->drifts, by_p);
    }
    return good;
}

static bool work_open(struct work *work, const struct sides *sides, const struct series *more,
                      size_t more_count) {
    for (int side = 0; side < SIDES; side++) {
        size_t most = sides->count[side];
        for (size_t i = 0; i < more_count; i++) {
            const size_t count = side == SIDE_NOW ? more[i].now_count : more[i].before_count;
            most = count > most ? count : most;
        }
        work->values[side] = malloc((most + 1) * sizeof *work->values[side]);
    }
    work->differ->drifts =
        calloc(STEP_QUANTITIES * sides->step_count + more_count + 1, sizeof *work->differ->drifts);
    return work->values[SIDE_BEFORE] != NULL && work->values[SIDE_NOW] != NULL &&
           work->differ->drifts != NULL;
}

bool differ_drifts(const struct sides *sides, const struct series *more, size_t more_count,
                   struct differ *differ) {
    struct work work = {.differ = differ};
    bool good = work_open(&work, sides, more, more_count);
    if (good) {
        for (size_t step = 0; step < sides->step_count; step++) {
            for (int quantity = 0; quantity < step_quantities(more_count); quantity++) {
                test_step(&work, sides, step, (enum quantity)quantity);
            }
        }
        for (size_t i = 0; i < more_count; i++) {
            test_series(&work, &more[i]);
        }
        differ->tested = differ->drift_count;
        good = call(differ);
    }
    free(work.values[SIDE_BEFORE]);
    free(work.values[SIDE_NOW]);
    return good;
}
