#include "verdict/moments_differ.h"

#include "verdict/moments_field.h"

#include <math.h>
#include <string.h>

/* variance: of the difference of both means. */
static bool is_beyond(double away, double variance) {
    return fabs(away) > fmax(MOMENTS_CLOCK_BOUND, MOMENTS_SIGMAS * sqrt(variance));
}

/* ---- delays ---- */

static double mean_variance(const struct moment_delay *delay) {
    return delay->spread * delay->spread / (delay->observations > 0 ? delay->observations : 1);
}

static bool delay_differs(const struct moment_delay *first, const struct moment_delay *second) {
    if (first->exact != second->exact) {
        return true;
    }
    return first->exact
               ? is_beyond(second->clocks - first->clocks, mean_variance(first) + mean_variance(second))
               : first->low != second->low || first->high != second->high;
}

/* ---- moments ---- */

/* The clocks at which the change may lie, by what the half shows. */
struct range {
    double low, high;
};

static struct range range_of(const struct half_seen *seen, int first, int last) {
    const double begin = BLANK_CLOCKS + CELL_CLOCKS * first, end = BLANK_CLOCKS + CELL_CLOCKS * (last + 1);
    switch (seen->state) {
    case HALF_NEW:
        return (struct range){-INFINITY, begin + MOMENT_END_SLACK};
    case HALF_OLD:
        return (struct range){end - MOMENT_END_SLACK, INFINITY};
    default:
        return (struct range){seen->clock, seen->clock};
    }
}

static bool is_placed(enum half_state state) {
    return state == HALF_OLD || state == HALF_NEW || state == HALF_CHANGES;
}

/* Where one of the two says nothing, nothing differs. */
static bool half_differs(const struct half_seen *one, int one_fields, const struct half_seen *other,
                         int other_fields, int first, int last) {
    if (!is_placed(one->state) || !is_placed(other->state)) {
        return false;
    }
    const struct range a = range_of(one, first, last), b = range_of(other, first, last);
    const double apart = fmax(fmax(a.low - b.high, b.low - a.high), 0);
    return is_beyond(apart, one->spread * one->spread / fmax(one_fields, 1) +
                                other->spread * other->spread / fmax(other_fields, 1));
}

static bool moment_differs(const struct moments *first, const struct moments *second, uint32_t value,
                           struct moments_difference *difference) {
    const struct moment moment = moment_of(value);
    const struct moment_cells cells = moment_expected(moment.reg, moment.mirror);
    const struct moment_seen *one = &first->seen[value], *other = &second->seen[value];
    bool any = false;
    for (int i = 0; i < MOMENT_EDGES * HALVES; i++) {
        const int edge = i / HALVES, half = i % HALVES;
        int begin, end;
        const bool differs = moment_block(&cells, half, &begin, &end) &&
                             half_differs(&one->half[edge][half], one->fields, &other->half[edge][half],
                                          other->fields, begin, end);
        difference->moment[value][edge][half] = differs;
        difference->moments += differs;
        any = any || differs;
    }
    return any;
}

/* ---- windows ---- */

static bool window_differs(const struct write_window *first, const struct write_window *second) {
    if (first->open || second->open) {
        return false; /* what was not seen is no difference */
    }
    return first->exists != second->exists ||
           (first->exists && (first->first != second->first || first->last != second->last));
}

static void compare_windows(const struct moments *first, const struct moments *second, int reg, int mode,
                            struct moments_difference *difference) {
    for (int half = 0; half < HALVES; half++) {
        const bool differs =
            window_differs(&first->windows.window[reg][mode][half], &second->windows.window[reg][mode][half]);
        difference->window[reg][mode][half] = differs;
        difference->windows += differs;
    }
}

void moments_differ(const struct moments *first, const struct moments *second,
                    struct moments_difference *difference) {
    bool any[MOMENT_REGISTERS][MOMENT_MODES] = {0};
    memset(difference, 0, sizeof *difference);
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        const struct moment_delay *one = &first->delay[i / MOMENT_PHASES][i % MOMENT_PHASES],
                                  *other = &second->delay[i / MOMENT_PHASES][i % MOMENT_PHASES];
        const bool both = one->known && other->known, differs = both && delay_differs(one, other);
        difference->compared += both;
        difference->missing += !both;
        difference->delay[i / MOMENT_PHASES][i % MOMENT_PHASES] = differs;
        difference->delays += differs;
    }
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        const struct moment moment = moment_of(value);
        any[moment.reg][moment.mirror] =
            moment_differs(first, second, value, difference) || any[moment.reg][moment.mirror];
    }
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES; i++) {
        if (any[i / MOMENT_MODES][i % MOMENT_MODES]) {
            compare_windows(first, second, i / MOMENT_MODES, i % MOMENT_MODES, difference);
        }
    }
}
