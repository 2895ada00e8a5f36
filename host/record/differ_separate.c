/* Which quantity of which step tells two groups of consoles apart. */
#include "record/differ_parts.h"

#include "stats/stats.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A share of runs that a person would act on; the columns' unit for what has no p. */
#define WRONG_LEAST 0.25

/* Runs of one group, those of a console together. */
struct group {
    const struct record_run **runs; /* by console */
    size_t run_count;
    size_t *first; /* of each console; one more at the end */
    size_t console_count;
};

struct work {
    const struct sides *sides;
    struct group group[SIDES];
    double *values[SIDES]; /* a console each */
    double quantum;        /* of a share of runs */
    struct separations *found;
};

static int by_console(const void *first, const void *second) {
    const struct record_run *a = *(const struct record_run *const *)first;
    const struct record_run *b = *(const struct record_run *const *)second;
    return strcmp(a->console.name, b->console.name);
}

static bool group_open(struct group *group, const struct record_run **runs, size_t count) {
    group->runs = runs;
    group->run_count = count;
    group->first = malloc((count + 1) * sizeof *group->first);
    if (group->first == NULL) {
        return false;
    }
    qsort(runs, count, sizeof(const struct record_run *), by_console);
    for (size_t i = 0; i < count; i++) {
        if (i == 0 || by_console(&runs[i - 1], &runs[i]) != 0) {
            group->first[group->console_count++] = i;
        }
    }
    group->first[group->console_count] = count;
    return true;
}

/* quantity QUANTITY_COUNT: whether the step was wrong, as 0 or 1. */
static bool value_of(const struct record_run *run, size_t step, enum quantity quantity, double *value) {
    if (quantity != QUANTITY_COUNT) {
        return !step_wrong(run, step) && step_quantity(run, step, quantity, value);
    }
    *value = step_wrong(run, step);
    return step_judged(run, step);
}

/* The consoles' means; returns of how many something is known. Summed in whole quanta, as they are kept, for
 * means that are alike must be equal: pairs_larger() counts ties. */
static size_t console_means(const struct group *group, size_t step, enum quantity quantity, double *means) {
    const double quantum = quantity == QUANTITY_COUNT ? 1 : quantity_table[quantity].quantum;
    size_t known = 0;
    for (size_t console = 0; console < group->console_count; console++) {
        double sum = 0, value = 0;
        size_t runs = 0;
        for (size_t i = group->first[console]; i < group->first[console + 1]; i++) {
            if (value_of(group->runs[i], step, quantity, &value)) {
                sum += nearbyint(value / quantum);
                runs++;
            }
        }
        if (runs > 0) {
            means[known++] = sum / (double)runs * quantum;
        }
    }
    return known;
}

static void separate(struct work *work, enum quantity quantity, int step, const char *name,
                     const size_t counts[SIDES]) {
    if (counts[0] == 0 || counts[1] == 0) {
        return;
    }
    const struct sample first = sample_of(work->values[0], counts[0]);
    const struct sample second = sample_of(work->values[1], counts[1]);
    const bool wrong = quantity == QUANTITY_COUNT;
    if (wrong && first.mean + second.mean == 0) {
        return; /* never wrong on any console: nothing to test, and nothing to correct the others for */
    }
    const struct welch tested =
        careful_test(&first, &second, wrong ? work->quantum : quantity_table[quantity].quantum);
    struct separation *found = &work->found->list[work->found->count++];
    *found =
        (struct separation){.quantity = wrong ? QUANTITY_MARGIN : quantity,
                            .wrong = wrong,
                            .step = step,
                            .first_consoles = (int)counts[0],
                            .second_consoles = (int)counts[1],
                            .first = first.mean,
                            .second = second.mean,
                            .larger = pairs_larger(work->values[0], counts[0], work->values[1], counts[1]),
                            .t = tested.known ? tested.t : NAN,
                            .df = tested.known ? tested.df : NAN,
                            .p = tested.known ? tested.p : NAN};
    snprintf(found->name, sizeof found->name, "%s", name);
}

static void separate_step(struct work *work, size_t step, enum quantity quantity) {
    char name[STEP_NAME_MAX];
    size_t counts[SIDES];
    for (int side = 0; side < SIDES; side++) {
        counts[side] = console_means(&work->group[side], step, quantity, work->values[side]);
    }
    step_name(work->sides, step, name, sizeof name);
    separate(work, quantity, (int)step, name, counts);
}

static size_t keep_finite(const double *values, size_t count, double *kept) {
    size_t known = 0;
    for (size_t i = 0; i < count; i++) {
        if (isfinite(values[i])) {
            kept[known++] = values[i];
        }
    }
    return known;
}

static double in_least(const struct separation *separation) {
    const double least = separation->wrong ? WRONG_LEAST : quantity_table[separation->quantity].least;
    return fabs(separation->first - separation->second) / least;
}

/* The surest first; what was not tested (a group of one console) last, by how far the groups lie apart. */
static int best_first(const void *first, const void *second) {
    const struct separation *a = first, *b = second;
    if (isnan(a->p) != isnan(b->p)) {
        return isnan(a->p) ? 1 : -1;
    }
    if (!isnan(a->p) && a->p != b->p) {
        return a->p < b->p ? -1 : 1;
    }
    const double far_a = in_least(a), far_b = in_least(b);
    return (far_a < far_b) - (far_a > far_b);
}

static bool adjust(struct separations *found) {
    double *p = malloc((found->count + 1) * sizeof *p);
    if (p == NULL) {
        return false;
    }
    for (size_t i = 0; i < found->count; i++) {
        p[i] = found->list[i].p;
    }
    const bool good = benjamini_hochberg(p, found->count, p);
    for (size_t i = 0; good && i < found->count; i++) {
        found->list[i].adjusted = p[i];
    }
    free(p);
    if (good) {
        qsort(found->list, found->count, sizeof *found->list, best_first);
    }
    return good;
}

/* A console's share of wrong runs comes in steps of 1/runs; the coarsest of them. */
static double coarsest(const struct group group[SIDES]) {
    size_t least = SIZE_MAX;
    for (int side = 0; side < SIDES; side++) {
        for (size_t console = 0; console < group[side].console_count; console++) {
            const size_t runs = group[side].first[console + 1] - group[side].first[console];
            least = runs < least ? runs : least;
        }
    }
    return 1 / (double)least;
}

static bool work_open(struct work *work, const struct series *more, size_t more_count) {
    bool good = true;
    for (int side = 0; side < SIDES; side++) {
        size_t most = work->sides->count[side];
        for (size_t i = 0; i < more_count; i++) {
            const size_t count = side == SIDE_NOW ? more[i].now_count : more[i].before_count;
            most = count > most ? count : most;
        }
        work->values[side] = malloc((most + 1) * sizeof *work->values[side]);
        good = good && work->values[side] != NULL &&
               group_open(&work->group[side], work->sides->counting[side], work->sides->count[side]);
    }
    work->quantum = coarsest(work->group);
    work->found->list =
        calloc((STEP_QUANTITIES + 1) * work->sides->step_count + more_count + 1, sizeof *work->found->list);
    return good && work->found->list != NULL;
}

static bool fill(struct work *work, const struct series *more, size_t more_count) {
    bool good = work_open(work, more, more_count);
    for (size_t step = 0; good && step < work->sides->step_count; step++) {
        for (int quantity = 0; quantity < step_quantities(more_count); quantity++) {
            separate_step(work, step, (enum quantity)quantity);
        }
        separate_step(work, step, QUANTITY_COUNT);
    }
    for (size_t i = 0; good && i < more_count; i++) {
        const size_t counts[SIDES] = {keep_finite(more[i].before, more[i].before_count, work->values[0]),
                                      keep_finite(more[i].now, more[i].now_count, work->values[1])};
        separate(work, more[i].quantity, -1, more[i].name, counts);
    }
    for (int side = 0; side < SIDES; side++) {
        free(work->values[side]);
        free(work->group[side].first);
    }
    return good && adjust(work->found);
}

bool differ_separate(const struct record_list *first, const struct record_list *second,
                     const struct series *more, size_t more_count, struct separations **separations,
                     struct problem *problem) {
    struct sides sides;
    bool good = sides_open(&sides, first, second, problem);
    *separations = NULL;
    if (good) {
        *separations = calloc(1, sizeof **separations);
        struct work work = {.sides = &sides, .found = *separations};
        good = *separations != NULL && fill(&work, more, more_count);
        if (!good) {
            problem_set(problem, PROBLEM_BENCH, "comparing records: out of memory");
            separations_free(*separations);
            *separations = NULL;
        }
    }
    sides_close(&sides);
    return good;
}

void separations_free(struct separations *separations) {
    if (separations != NULL) {
        free(separations->list);
        free(separations);
    }
}
