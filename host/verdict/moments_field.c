/*
 * A line that is rewritten lies somewhere between the line that shows the old value and the one that shows
 * the new one: f = (line - old) / (new - old) is 0 left of the change and 1 right of it. It is worked out
 * where the two differ: elsewhere the register draws nothing. Lines mixed by a grabber move all four kinds
 * alike: of the two lines that are rewritten one is new wherever the other is old, so what they bring into
 * their neighbours is the same everywhere, and f stays what it is. Where a grabber mixes unevenly the levels
 * that f really has are used in place of 0 and 1.
 */
#include "verdict/moments_field.h"

#include "expect/expect.h"

#include <assert.h>
#include <math.h>

enum {
    KIND_BEFORE = (MOMENT_FIRST + MOMENT_BEFORE) % PROFILE_PERIOD,
    KIND_RISING = (MOMENT_FIRST + MOMENT_RISING) % PROFILE_PERIOD,
    KIND_AFTER = (MOMENT_FIRST + MOMENT_AFTER) % PROFILE_PERIOD,
    KIND_FALLING = (MOMENT_FIRST + MOMENT_FALLING) % PROFILE_PERIOD,
    CELL_POINTS = CELL_CLOCKS * PROFILE_FINE,
    HALF_POINTS = PROFILE_POINTS / 2,
    GAP_MOST = 2 * PROFILE_FINE,   /* where two neighbouring cells change in opposite ways */
    UNCLEAR_MOST = PROFILE_PERIOD, /* cells, of the references */
    VAGUE_MOST = 3 * PROFILE_FINE, /* points in a row that are neither old nor new */
    LEVEL_AWAY = 2 * PROFILE_FINE  /* points from the change, for the levels */
};
static_assert((int)PROFILE_PERIOD == (int)MOMENT_GROUP, "profiles are those of the groups");

/* Levels: 0 the slate's black, 1 its white. */
static const float light_least = 0.6F, dark_most = 0.4F;
/* f: beyond these it is old, new. */
static const float old_most = 0.42F, new_least = 0.58F;

void moment_held(const struct moment_setting *setting, uint8_t value, uint8_t held[REG_COUNT]) {
    for (int reg = 0; reg < REG_COUNT; reg++) {
        held[reg] = reg == (int)setting->reg ? value : setting->held[reg];
    }
}

uint64_t moment_white(const uint8_t held[REG_COUNT], uint64_t lit) {
    const bool score = (held[REG_CTRLPF] & CTRLPF_SCORE) != 0;
    const uint8_t colour = held[score ? REG_COLUP0 : REG_COLUPF];
    return (colour != 0 ? lit : 0) | (held[REG_COLUBK] != 0 ? ~lit & CELLS_ALL : 0);
}

static uint64_t white_cells(const struct moment_setting *setting, uint8_t value) {
    uint8_t held[REG_COUNT];
    moment_held(setting, value, held);
    return moment_white(held, expect_cells(held[REG_PF0], held[REG_PF1], held[REG_PF2], held[REG_CTRLPF]));
}

struct moment_cells moment_expected(enum moment_register reg, bool mirror) {
    const struct moment_setting setting = moment_setting(reg, mirror);
    return (struct moment_cells){white_cells(&setting, setting.before), white_cells(&setting, setting.after)};
}

bool moment_block(const struct moment_cells *cells, int half, int *first, int *last) {
    const int from = half * CELLS / 2;
    const uint64_t changed = (cells->before ^ cells->after) >> from & (CELLS_ALL >> CELLS / 2);
    if (changed == 0) {
        return false;
    }
    *first = from + __builtin_ctzll(changed);
    *last = from + 63 - __builtin_clzll(changed);
    return true;
}

static double read_cells(const float *profile, uint64_t *light, uint64_t *dark) {
    float worst = 1;
    *light = *dark = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        float sum = 0;
        int points = 0;
        for (int i = CELL_POINTS / 4; i < CELL_POINTS * 3 / 4; i++, points++) {
            sum += profile[cell * CELL_POINTS + i];
        }
        const float level = sum / (float)points;
        *light |= (uint64_t)(level > light_least) << cell;
        *dark |= (uint64_t)(level < dark_most) << cell;
        worst = fminf(worst, fabsf(2 * level - 1));
    }
    return (double)worst;
}

/* Where the two values differ, and by how much. */
struct shares {
    const float *from, *to;
    float contrast; /* half of what the cells that change change by */
    float f[PROFILE_POINTS];
    bool visible[PROFILE_POINTS];
};

static float contrast_of(const float *before, const float *after, uint64_t changed) {
    float sum = 0;
    int points = 0;
    for (int i = 0; i < PROFILE_POINTS; i++) {
        const int within = i % CELL_POINTS;
        if ((changed >> i / CELL_POINTS & 1) != 0 && within >= CELL_POINTS / 4 &&
            within < CELL_POINTS * 3 / 4) {
            sum += fabsf(after[i] - before[i]);
            points++;
        }
    }
    return points > 0 ? sum / (float)points / 2 : INFINITY;
}

static void share_line(const float *line, struct shares *shares) {
    for (int i = 0; i < PROFILE_POINTS; i++) {
        const float differs = shares->to[i] - shares->from[i];
        shares->visible[i] = fabsf(differs) > shares->contrast;
        shares->f[i] = shares->visible[i] ? (line[i] - shares->from[i]) / differs : 0;
    }
}

/* -1 where it is neither, or nothing is seen. */
static int side_of(const struct shares *shares, int i) {
    return !shares->visible[i] ? -1 : shares->f[i] <= old_most ? 0 : shares->f[i] >= new_least ? 1 : -1;
}

/* What f really is on either side. */
static void levels_of(const struct shares *shares, float levels[2]) {
    float sum[2] = {0};
    int count[2] = {0}, run = 0, before = -1;
    for (int i = 0; i < PROFILE_POINTS; i++) {
        const int side = side_of(shares, i);
        run = side >= 0 && side == before ? run + 1 : 0;
        before = side;
        /* The run's middle: as many points of it before as after. */
        if (run >= 2 * LEVEL_AWAY) {
            sum[side] += shares->f[i - LEVEL_AWAY];
            count[side]++;
        }
    }
    levels[0] = count[0] > 0 ? sum[0] / (float)count[0] : 0;
    levels[1] = count[1] > 0 ? sum[1] / (float)count[1] : 1;
    levels[0] = count[0] == 0 && count[1] > 0 ? 1 - levels[1] : levels[0];
    levels[1] = count[1] == 0 && count[0] > 0 ? 1 - levels[0] : levels[1];
}

static double clock_of(double point) {
    return BLANK_CLOCKS + (point + 0.5) / PROFILE_FINE;
}

/* Between the points `old`, the last that is clearly old, and `new`, the first that is clearly new, or close
 * to them where the levels are not 0 and 1. False: what lies between is not drawn by the register. */
static bool place_change(const struct shares *shares, int old, int new, const float levels[2],
                         double *clock) {
    const float middle = (levels[0] + levels[1]) / 2;
    const int first = old > LEVEL_AWAY ? old - LEVEL_AWAY : 0;
    const int last = new + LEVEL_AWAY < PROFILE_POINTS ? new + LEVEL_AWAY : PROFILE_POINTS - 1;
    int gap = 0;
    for (int i = first; i < last; i++) {
        if (shares->visible[i] && shares->visible[i + 1] && shares->f[i] <= middle &&
            shares->f[i + 1] > middle) {
            const float part = (middle - shares->f[i]) / (shares->f[i + 1] - shares->f[i]);
            *clock = clock_of(i + (double)part);
            return true;
        }
    }
    for (int i = old; i < new; i++) {
        gap += !shares->visible[i];
    }
    *clock = clock_of((old + new) / 2.0);
    return gap > 0 && gap <= GAP_MOST;
}

struct half_scan {
    int first, last;  /* visible points; first -1: none */
    int changes, old; /* old: last point before the change that is clearly old */
    int new;          /* first after it that is clearly new */
    int side;         /* at its end */
    int vague;        /* most points in a row that are neither */
    bool back;        /* it went from new to old */
};

static struct half_scan scan_half(const struct shares *shares, int half) {
    struct half_scan scan = {.first = -1, .side = -1};
    int clear = 0, vague = 0;
    for (int i = half * HALF_POINTS; i < (half + 1) * HALF_POINTS; i++) {
        if (!shares->visible[i]) {
            continue;
        }
        const int side = side_of(shares, i);
        scan.first = scan.first < 0 ? i : scan.first;
        scan.last = i;
        vague = side < 0 ? vague + 1 : 0;
        scan.vague = vague > scan.vague ? vague : scan.vague;
        if (side < 0) {
            continue;
        }
        if (scan.side >= 0 && side != scan.side) {
            scan.changes++;
            scan.back = scan.back || side == 0;
            scan.old = clear;
            scan.new = i;
        }
        scan.side = side;
        clear = i;
    }
    return scan;
}

static struct half_seen judge_half(const struct shares *shares, int half, const float levels[2]) {
    const struct half_scan scan = scan_half(shares, half);
    struct half_seen seen = {.state = HALF_MIXED};
    if (scan.first < 0) {
        seen.state = HALF_NOT_SEEN;
    } else if (scan.side < 0 || scan.vague > VAGUE_MOST || scan.back) {
        seen.state = HALF_MIXED;
    } else if (scan.changes == 0) {
        seen.state = scan.side == 0 ? HALF_OLD : HALF_NEW;
    } else if (place_change(shares, scan.old, scan.new, levels, &seen.clock)) {
        seen.state = seen.clock < clock_of(scan.first - 0.5) + MOMENT_END_SLACK  ? HALF_NEW
                     : seen.clock > clock_of(scan.last + 0.5) - MOMENT_END_SLACK ? HALF_OLD
                                                                                 : HALF_CHANGES;
    }
    return seen;
}

/* After the change all that follows is new. */
static void check_order(struct half_seen half[HALVES]) {
    const enum half_state left = half[HALF_LEFT].state, right = half[HALF_RIGHT].state;
    if ((left == HALF_NEW || left == HALF_CHANGES) && (right == HALF_OLD || right == HALF_CHANGES)) {
        half[HALF_LEFT].state = half[HALF_RIGHT].state = HALF_MIXED;
    }
}

static void read_line(const float *line, struct shares *shares, struct half_seen half[HALVES]) {
    float levels[2];
    share_line(line, shares);
    levels_of(shares, levels);
    for (int i = 0; i < HALVES; i++) {
        half[i] = judge_half(shares, i, levels);
    }
    check_order(half);
}

static double wrap(double clocks) {
    return clocks - CELL_CLOCKS * floor(clocks / CELL_CLOCKS + 0.5);
}

/* Where the cells that change begin and end, against the cells' own edges; those of the picture itself do not
 * count. Half a cell late is as good as early, so that each is held against the first. */
static void measure_late(const struct shares *shares, struct moment_field *out) {
    double first = 0, sum = 0;
    for (int i = CELL_POINTS / 2; i < PROFILE_POINTS - CELL_POINTS / 2; i++) {
        if (shares->visible[i] == shares->visible[i - 1]) {
            continue;
        }
        const float here = fabsf(shares->to[i] - shares->from[i]) - shares->contrast,
                    before = fabsf(shares->to[i - 1] - shares->from[i - 1]) - shares->contrast;
        const double at = (i - 1 + 0.5 + (double)(before / (before - here))) / PROFILE_FINE;
        first = out->edges == 0 ? wrap(at) : first;
        sum += wrap(at - first);
        out->edges++;
    }
    out->late = out->edges > 0 ? wrap(first + sum / out->edges) : 0;
}

/* Points from either end to the middle of the picture's own edge. */
static double black_points(const float *end, int step) {
    for (int i = 0; i < CELL_POINTS; i++) {
        const float here = end[(ptrdiff_t)i * step], before = i > 0 ? end[(ptrdiff_t)(i - 1) * step] : 0;
        if (here > 0.5F) {
            return i > 0 ? i - 0.5 + (double)((0.5F - before) / (here - before)) : 0;
        }
    }
    return CELL_POINTS;
}

double moment_beside(const struct detail *detail) {
    const float *white = detail->profile[KIND_AFTER];
    const double left = black_points(white, 1), right = black_points(white + PROFILE_POINTS - 1, -1);
    return (left - right) / PROFILE_FINE;
}

static bool is_clear(uint64_t light, uint64_t dark) {
    return CELLS - __builtin_popcountll(light | dark) <= UNCLEAR_MOST;
}

bool moment_field_read(const struct detail *detail, struct moment_field *out) {
    const float *before = detail->profile[KIND_BEFORE], *after = detail->profile[KIND_AFTER];
    struct shares shares;
    *out = (struct moment_field){.edges = 0};
    if (detail->lines[KIND_BEFORE] == 0) {
        return false;
    }
    out->margin = fmin(read_cells(before, &out->light.before, &out->dark.before),
                       read_cells(after, &out->light.after, &out->dark.after));
    const uint64_t changed = (out->light.before & out->dark.after) | (out->dark.before & out->light.after);
    shares.contrast = contrast_of(before, after, changed);
    shares.from = before;
    shares.to = after;
    read_line(detail->profile[KIND_RISING], &shares, out->half[EDGE_RISING]);
    measure_late(&shares, out);
    shares.from = after;
    shares.to = before;
    read_line(detail->profile[KIND_FALLING], &shares, out->half[EDGE_FALLING]);
    return is_clear(out->light.before, out->dark.before) && is_clear(out->light.after, out->dark.after);
}
