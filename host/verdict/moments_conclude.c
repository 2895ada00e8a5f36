/* Delays and windows, from what each moment showed. */
#include "verdict/moments_field.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum {
    TRIED_FROM = -16, /* whole clocks of a latched delay that are tried; below 0 no chip can be */
    TRIED_TO = 24,
    LOOKS_MAX = LINE_CYCLES / MOMENT_PHASES * MOMENT_MODES * MOMENT_EDGES * HALVES
};

/* Clocks. A change farther from the cells' grid is none that was latched on it. */
static const double grid_slack = 0.3;
/* One that lies farther from where the delay puts it contradicts it. */
static const double clock_slack = 0.6;

/* One half of one line, of a write that acts at `store`. */
struct look {
    uint32_t value;
    double store, first, last; /* clocks; left edges of the half's cells that the register draws */
    struct half_seen seen;
};
struct looks {
    int count;
    struct look look[LOOKS_MAX];
};

static bool is_read(enum half_state state) {
    return state != HALF_NOT_SEEN && state != HALF_MIXED;
}

static void add_moment(const struct moments *moments, const struct moment *moment,
                       const struct moment_cells *cells, struct looks *looks) {
    const uint32_t value = moment_value(moment);
    for (int half = 0; half < HALVES; half++) {
        int first, last;
        if (!moment_block(cells, half, &first, &last)) {
            continue;
        }
        for (int edge = 0; edge < MOMENT_EDGES; edge++) {
            const struct half_seen *seen = &moments->seen[value].half[edge][half];
            if (is_read(seen->state)) {
                looks->look[looks->count++] =
                    (struct look){value, 3.0 * moment->cycle, BLANK_CLOCKS + CELL_CLOCKS * first,
                                  BLANK_CLOCKS + CELL_CLOCKS * last, *seen};
            }
        }
    }
}

/* All that writes of this register and phase showed. */
static void gather(const struct moments *moments, enum moment_register reg, int phase, struct looks *looks) {
    looks->count = 0;
    for (int mode = 0; mode < MOMENT_MODES; mode++) {
        const struct moment_cells cells = moment_expected(reg, mode != 0);
        for (int cycle = 0; cycle < LINE_CYCLES; cycle++) {
            const struct moment moment = {reg, mode != 0, cycle};
            if ((3 * cycle - BLANK_CLOCKS + LINE_CLOCKS) % MOMENT_PHASES == phase) {
                add_moment(moments, &moment, &cells, looks);
            }
        }
    }
}

/* Whether a half of these cells, that takes on the new value from this clock on, looks like that. */
static bool agrees(const struct look *look, double clock, double begin, double end, double slack) {
    switch (look->seen.state) {
    case HALF_NEW:
        return clock <= begin + slack;
    case HALF_OLD:
        return clock >= end - slack;
    default:
        return fabs(look->seen.clock - clock) <= slack;
    }
}

/* The left edge of the first cell that is new. */
static double latched(double clock) {
    return BLANK_CLOCKS + CELL_CLOCKS * ceil((clock - BLANK_CLOCKS) / CELL_CLOCKS);
}

static bool agrees_latched(const struct look *look, int delay) {
    return agrees(look, latched(look->store + delay), look->first, look->last + CELL_CLOCKS, clock_slack);
}

static bool agrees_exact(const struct look *look, double delay) {
    return agrees(look, look->store + delay, look->first, look->last + CELL_CLOCKS, clock_slack);
}

/* ---- of what kind the register is ---- */

static double off_grid(double clock) {
    return fabs(clock - BLANK_CLOCKS - CELL_CLOCKS * round((clock - BLANK_CLOCKS) / CELL_CLOCKS));
}

/* Colours are no matter of cells. Of the others, whether all but stray ones of the register's changes lie on
 * the cells' left edges. */
static bool is_latched(const struct moments *moments, enum moment_register reg) {
    int changes = 0, off = 0;
    if (reg >= MOMENT_SCORE) {
        return false;
    }
    for (uint32_t i = 0; i < MOMENT_MODES * LINE_CYCLES * MOMENT_EDGES * HALVES; i++) {
        const uint32_t value = (uint32_t)reg * MOMENT_MODES * LINE_CYCLES + i / (MOMENT_EDGES * HALVES);
        const struct half_seen *seen = &moments->seen[value].half[i / HALVES % MOMENT_EDGES][i % HALVES];
        changes += seen->state == HALF_CHANGES;
        off += seen->state == HALF_CHANGES && off_grid(seen->clock) > grid_slack;
    }
    return 10 * off <= changes;
}

/* ---- delays ---- */

static void note_against(const struct look *look, struct moment_delay *delay) {
    delay->example = delay->against == 0 ? look->value : delay->example;
    delay->against++;
}

static struct moment_delay measure_exact(const struct looks *looks) {
    struct moment_delay delay = {.exact = true};
    double sum = 0, squares = 0;
    for (int i = 0; i < looks->count; i++) {
        if (looks->look[i].seen.state == HALF_CHANGES) {
            sum += looks->look[i].seen.clock - looks->look[i].store;
            delay.observations++;
        }
    }
    if (delay.observations == 0) {
        return delay;
    }
    delay.clocks = delay.low = delay.high = sum / delay.observations;
    for (int i = 0; i < looks->count; i++) {
        const struct look *look = &looks->look[i];
        const double away = look->seen.clock - look->store - delay.clocks;
        squares += look->seen.state == HALF_CHANGES ? away * away : 0;
        if (!agrees_exact(look, delay.clocks)) {
            note_against(look, &delay);
        }
    }
    delay.spread = sqrt(squares / delay.observations);
    delay.known = delay.against == 0;
    return delay;
}

static int contradictions(const struct looks *looks, int delay) {
    int count = 0;
    for (int i = 0; i < looks->count; i++) {
        count += !agrees_latched(&looks->look[i], delay);
    }
    return count;
}

/* The whole clocks that contradict least; they lie in a row. Only where that is not at all is it known. */
static void fit_latched(const struct looks *looks, struct moment_delay *delay) {
    int fewest = looks->count + 1, low = 0, high = 0;
    for (int tried = TRIED_FROM; tried <= TRIED_TO; tried++) {
        const int count = contradictions(looks, tried);
        low = count < fewest ? tried : low;
        high = count <= fewest ? tried : high;
        fewest = count < fewest ? count : fewest;
    }
    for (int i = 0; i < looks->count && fewest > 0; i++) {
        if (!agrees_latched(&looks->look[i], low)) {
            note_against(&looks->look[i], delay);
        }
    }
    if (high >= 0) {
        low = low < 0 ? 0 : low;
    }
    if (low <= MOMENT_DELAY_MOST) {
        high = high > MOMENT_DELAY_MOST ? MOMENT_DELAY_MOST : high;
    }
    delay->low = low;
    delay->high = high;
    delay->clocks = (delay->low + delay->high) / 2;
    delay->known = fewest == 0;
}

static struct moment_delay measure_latched(const struct looks *looks) {
    struct moment_delay delay = {.exact = false};
    double squares = 0;
    for (int i = 0; i < looks->count; i++) {
        const struct half_seen *seen = &looks->look[i].seen;
        if (seen->state == HALF_CHANGES) {
            const double away = off_grid(seen->clock);
            squares += away * away;
            delay.observations++;
        }
    }
    if (delay.observations > 0) {
        delay.spread = sqrt(squares / delay.observations);
        fit_latched(looks, &delay);
    }
    return delay;
}

/* ---- windows ---- */

/* Whether both lines of a store show the half as wished, or draw nothing there. */
static bool is_all(const struct moments *moments, const struct moment *moment, int half,
                   enum half_state wanted, bool draws) {
    const struct moment_seen *seen = &moments->seen[moment_value(moment)];
    return !draws ||
           (seen->half[EDGE_RISING][half].state == wanted && seen->half[EDGE_FALLING][half].state == wanted);
}

/* A store of the line before when the cycle is below 0. */
static bool is_clean(const struct moments *moments, struct moment moment, int wanted_half) {
    int first, last;
    const struct moment_cells cells = moment_expected(moment.reg, moment.mirror);
    const bool left = moment_block(&cells, HALF_LEFT, &first, &last),
               right = moment_block(&cells, HALF_RIGHT, &first, &last);
    const bool before = moment.cycle < 0;
    moment.cycle += before ? LINE_CYCLES : 0;
    if (moments->seen[moment_value(&moment)].fields == 0) {
        return false;
    }
    /* Nothing of the left half's to be kept: then the window of the right half begins in the line before. */
    if (before && (wanted_half == HALF_LEFT || !left)) {
        return is_all(moments, &moment, HALF_LEFT, HALF_OLD, left) &&
               is_all(moments, &moment, HALF_RIGHT, HALF_OLD, right);
    }
    return !before &&
           is_all(moments, &moment, HALF_LEFT, wanted_half == HALF_LEFT ? HALF_NEW : HALF_OLD, left) &&
           is_all(moments, &moment, HALF_RIGHT, HALF_NEW, right);
}

static bool was_seen(const struct moments *moments, struct moment moment) {
    int first, last;
    const struct moment_cells cells = moment_expected(moment.reg, moment.mirror);
    moment.cycle += moment.cycle < 0 ? LINE_CYCLES : 0;
    const struct moment_seen *seen = &moments->seen[moment_value(&moment)];
    for (int half = 0; half < HALVES; half++) {
        if (moment_block(&cells, half, &first, &last) &&
            (seen->half[EDGE_RISING][half].state == HALF_NOT_SEEN ||
             seen->half[EDGE_FALLING][half].state == HALF_NOT_SEEN)) {
            return false;
        }
    }
    return seen->fields > 0;
}

/* Whether a cycle next to the window, or any where there is none, was not seen. */
static bool is_open(const struct moments *moments, enum moment_register reg, bool mirror,
                    const struct write_window *window) {
    for (int cycle = 1 - LINE_CYCLES; cycle < LINE_CYCLES; cycle++) {
        const bool beside = cycle == window->first - 1 || cycle == window->last + 1;
        if ((beside || !window->exists) && !was_seen(moments, (struct moment){reg, mirror, cycle})) {
            return true;
        }
    }
    return false;
}

/* The longest run of clean cycles. */
static struct write_window window_of(const struct moments *moments, enum moment_register reg, bool mirror,
                                     int half) {
    struct write_window window = {.exists = false};
    int from = 1 - LINE_CYCLES;
    for (int cycle = from; cycle <= LINE_CYCLES; cycle++) {
        const struct moment moment = {reg, mirror, cycle};
        if (cycle < LINE_CYCLES && is_clean(moments, moment, half)) {
            continue;
        }
        if (cycle > from && (!window.exists || cycle - from > window.last - window.first + 1)) {
            window = (struct write_window){.exists = true, .first = from, .last = cycle - 1};
        }
        from = cycle + 1;
    }
    window.open = is_open(moments, reg, mirror, &window);
    return window;
}

static void measure_windows(struct moments *moments) {
    snprintf(moments->windows.source, sizeof moments->windows.source, "measured");
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        for (int mode = 0; mode < MOMENT_MODES; mode++) {
            for (int half = 0; half < HALVES; half++) {
                moments->windows.window[reg][mode][half] =
                    window_of(moments, (enum moment_register)reg, mode != 0, half);
            }
        }
    }
}

void moments_conclude(struct moments *moments) {
    struct looks looks;
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        const bool grid = is_latched(moments, (enum moment_register)reg);
        for (int phase = 0; phase < MOMENT_PHASES; phase++) {
            gather(moments, (enum moment_register)reg, phase, &looks);
            moments->delay[reg][phase] = grid ? measure_latched(&looks) : measure_exact(&looks);
        }
    }
    measure_windows(moments);
    windows_arithmetic(&moments->arithmetic);
}
