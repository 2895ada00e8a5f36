/* Plan moments: fields taken in, and what is still owed. */
#include "verdict/moments_judge.h"

#include <math.h>
#include <stdlib.h>

enum { UNEVEN_SHARE = 8 /* of its lines one in so many may differ from its like */ };
/* Noise, in codes over the black-white distance, with more of which a field is not used: 20 dB. */
static const double noise_most = 0.1;
/* As of steps: beyond it an edge may be the echo's. */
static const double echo_most = 0.2;

static void count_cells(struct cell_counts *counts, const struct moment_field *field) {
    const uint64_t light[MOMENT_PICTURES] = {field->light.before, field->light.after},
                   dark[MOMENT_PICTURES] = {field->dark.before, field->dark.after};
    counts->fields++;
    for (int i = 0; i < MOMENT_PICTURES; i++) {
        for (int cell = 0; cell < CELLS; cell++) {
            counts->light[i][cell] += light[i] >> cell & 1;
            counts->dark[i][cell] += dark[i] >> cell & 1;
        }
    }
}

static void add_halves(struct moments_state *state, uint32_t value, const struct moment_field *field) {
    for (int edge = 0; edge < MOMENT_EDGES; edge++) {
        for (int half = 0; half < HALVES; half++) {
            const struct half_seen *seen = &field->half[edge][half];
            struct half_sum *sum = &state->sums[value][edge][half];
            sum->count[seen->state]++;
            if (seen->state == HALF_CHANGES) {
                sum->sum += seen->clock;
                sum->squares += seen->clock * seen->clock;
            }
        }
    }
}

static bool has_right_cells(const struct moment_field *field, const struct moment_cells *expected) {
    return field->light.before == expected->before && field->light.after == expected->after &&
           field->dark.before == (~expected->before & CELLS_ALL) &&
           field->dark.after == (~expected->after & CELLS_ALL);
}

/* What was asked for before a value that is being shown, and what should have come long ago, will not come.
 */
static void forget_asked(struct moments_state *state, uint32_t value) {
    const uint32_t turn = state->asked[value].turn;
    state->shown++;
    for (uint32_t i = 0; i < MOMENT_VALUES; i++) {
        struct asked *asked = &state->asked[i];
        if (asked->turn > 0 && (asked->turn < turn || state->shown - asked->shown > ASKED_PATIENCE)) {
            asked->turn = 0;
        }
    }
}

/* Not of a picture whose lines bend: there edges lie anywhere. */
static void add_late(struct moments_state *state, const struct reading *reading,
                     const struct moment_field *field) {
    if (field->edges > 0 && reading->edges >= OFFSET_EDGES_MIN &&
        reading->offset_spread <= OFFSET_SPREAD_MAX) {
        state->late_fields++;
        const double away = offset_wrap(field->late - state->late);
        state->late = offset_wrap(state->late + away / (double)state->late_fields);
    }
}

static void add_beside(struct moments_state *state, const struct reading *reading) {
    state->white_fields++;
    state->beside += (moment_beside(reading->detail) - state->beside) / (double)state->white_fields;
}

/* Lines of one kind are alike from top to bottom: each is held against the one half a picture below. Where
 * they differ a part of the picture is black, torn or stale, and means over its lines say nothing. */
static bool is_even(const struct reading *reading) {
    const int half = reading->lines / 2 / MOMENT_GROUP * MOMENT_GROUP;
    int apart = 0;
    for (int line = 0; line < half; line++) {
        const uint64_t unclear = reading->unclear[line] | reading->unclear[line + half];
        apart += ((reading->lit[line] ^ reading->lit[line + half]) & ~unclear) != 0;
    }
    return apart * UNEVEN_SHARE <= half;
}

static bool is_usable(const struct reading *reading) {
    const struct raster *raster = &reading->raster;
    return reading->detail != NULL && !reading->unsettled && reading->detail->placed &&
           fabs(reading->echo) <= echo_most &&
           reading->noise < noise_most * (raster->white - raster->black) && is_even(reading);
}

/* The first field of a value is not used: a grabber may have mixed the one before into it. */
static enum judged read_field(void *user, const struct reading *reading) {
    struct moments_state *state = user;
    const uint32_t value = reading->slate.value;
    struct moment_field field;
    if (value >= MOMENT_VALUES) {
        return JUDGED_NOT;
    }
    const bool settled = state->last == (long)value;
    state->last = (long)value;
    if (!settled) {
        forget_asked(state, value);
        return JUDGED_NOT;
    }
    if (!is_usable(reading) || !moment_field_read(reading->detail, &field)) {
        return JUDGED_NOT;
    }
    const struct moment moment = moment_of(value);
    struct moment_seen *seen = &state->moments.seen[value];
    seen->fields++;
    state->owed -= seen->fields == JUDGE_GOOD_FIELDS;
    count_cells(&state->cells[moment.reg][moment.mirror], &field);
    add_halves(state, value, &field);
    if (moment.reg < MOMENT_SCORE) {
        add_late(state, reading, &field);
    }
    if (moment.reg == MOMENT_COLUBK) {
        add_beside(state, reading);
    }
    state->margin = fmin(state->margin, field.margin);
    if (has_right_cells(&field, &state->expected[moment.reg][moment.mirror])) {
        return JUDGED_PASS;
    }
    state->wrong[value] = (uint16_t)(state->wrong[value] + (state->wrong[value] < UINT16_MAX));
    return JUDGED_FAIL;
}

static size_t owed(const void *user) {
    return ((const struct moments_state *)user)->owed;
}

static size_t ask(void *user, uint32_t *values, size_t most) {
    struct moments_state *state = user;
    size_t count = 0;
    for (uint32_t value = 0; value < MOMENT_VALUES && count < most; value++) {
        if (state->moments.seen[value].fields < JUDGE_GOOD_FIELDS && state->asked[value].turn == 0) {
            state->asked[value] = (struct asked){++state->turn, state->shown};
            values[count++] = value;
        }
    }
    return count;
}

/* What most of the fields showed, of at least two. */
static struct half_seen mean_half(const struct half_sum *sum) {
    struct half_seen seen = {.state = HALF_NOT_SEEN};
    int fields = 0;
    for (int i = 0; i < HALF_STATES; i++) {
        fields += sum->count[i];
        seen.state = sum->count[i] > sum->count[seen.state] ? (enum half_state)i : seen.state;
    }
    const int most = sum->count[seen.state];
    if (fields > 0 && (most < JUDGE_GOOD_FIELDS || 2 * most <= fields)) {
        seen.state = HALF_MIXED;
    }
    if (seen.state == HALF_CHANGES) {
        seen.clock = sum->sum / most;
        seen.spread = sqrt(fmax(sum->squares / most - seen.clock * seen.clock, 0));
        if (seen.spread > 1) {
            seen.state = HALF_MIXED;
        }
    }
    return seen;
}

static void conclude(struct moments_state *state) {
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        for (int i = 0; i < MOMENT_EDGES * HALVES; i++) {
            state->moments.seen[value].half[i / HALVES][i % HALVES] =
                mean_half(&state->sums[value][i / HALVES][i % HALVES]);
        }
    }
    moments_conclude(&state->moments);
}

static bool knows_all(const struct moments *moments) {
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        if (!moments->delay[i / MOMENT_PHASES][i % MOMENT_PHASES].known) {
            return false;
        }
    }
    return true;
}

static struct coverage coverage_of(const struct moments_state *state) {
    struct coverage coverage = {.of = MOMENT_VALUES};
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        const int fields = state->moments.seen[value].fields;
        coverage.seen += fields >= JUDGE_GOOD_FIELDS;
        coverage.open += fields > 0 && fields < JUDGE_GOOD_FIELDS;
        coverage.wrong += state->wrong[value] >= JUDGE_GOOD_FIELDS;
    }
    return coverage;
}

static void add_result(void *user, struct judge *judge, struct result *result) {
    struct moments_state *state = user;
    conclude(state);
    const bool fault = moments_tell(state, judge);
    result->verdict = fault                                            ? VERDICT_FAIL
                      : state->owed == 0 && knows_all(&state->moments) ? VERDICT_PASS
                                                                       : VERDICT_INCONCLUSIVE;
    result->moments = &state->moments;
    result->margin = result->fields_judged > 0 ? state->margin : 0;
    result->coverage = coverage_of(state);
}

bool moments_judge(const struct plan *plan, struct counted *counted) {
    struct moments_state *state = calloc(1, sizeof *state);
    if (state == NULL) {
        return false;
    }
    state->owed = MOMENT_VALUES;
    state->last = -1;
    state->margin = 1;
    state->moments.standard = plan->standard;
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES; i++) {
        state->expected[i / MOMENT_MODES][i % MOMENT_MODES] =
            moment_expected((enum moment_register)(i / MOMENT_MODES), i % MOMENT_MODES != 0);
    }
    *counted = (struct counted){
        .state = state, .free = free, .read = read_field, .owed = owed, .ask = ask, .result = add_result};
    return true;
}
