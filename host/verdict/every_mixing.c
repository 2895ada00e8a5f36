/*
 * Does the grabber mix lines, so that each pattern must be shown on several? Where it does, cells are unclear
 * (or wrong) where the pattern above or below has the other value there, and lit cells as well as dark ones.
 * Decided by the first fields, and never where lines read well.
 */
#include "verdict/every.h"

enum { DECIDE_FIELDS = 48, FEW_LINES = 200 };
#define UNCLEAR_SHARE 0.02  /* of lines: fewer are shown again, which costs less than two lines each */
#define EXPLAINED 0.98      /* of the unclear cells */
#define ONE_SIDE_LEAST 0.05 /* of them are lit, and are dark: else a level is at fault, not a neighbour */
#define MIXING_MOST 0.4     /* more, and a line may show its neighbours clearly */

/* The next number of lines that helps. One-sided: the line next to the other pattern is spoilt, the other one
 * is not. */
static int lines_more(int repeat, bool one_sided) {
    static const int next[EVERY_REPEAT_MAX + 1] = {0, 3, 3, 5, 5, 7, 7, 8, 0};
    return one_sided && repeat == 1 ? 2 : next[repeat];
}

static void decide(struct every_state *every) {
    const struct mixing_counts *counts = &every->mixing;
    const double cells = counts->unclear, lit = counts->lit;
    const int repeat = every->plan->repeat;
    if (counts->share > MIXING_MOST * counts->fields && repeat < 3) {
        every->repeat_wanted = 3;
        return;
    }
    if (counts->unclear_lines < UNCLEAR_SHARE * counts->lines || lit < ONE_SIDE_LEAST * cells ||
        cells - lit < ONE_SIDE_LEAST * cells || counts->either < EXPLAINED * cells ||
        2 * counts->clean < counts->fields) {
        return;
    }
    const bool above = counts->above >= EXPLAINED * cells, below = counts->below >= EXPLAINED * cells;
    every->repeat_wanted = lines_more(repeat, above != below);
}

static void count_line(struct mixing_counts *counts, uint64_t unclear, uint64_t expected, uint64_t above,
                       uint64_t below) {
    const uint64_t over = unclear & (expected ^ above), under = unclear & (expected ^ below);
    counts->unclear_lines++;
    counts->unclear += __builtin_popcountll(unclear);
    counts->lit += __builtin_popcountll(unclear & expected);
    counts->above += __builtin_popcountll(over);
    counts->below += __builtin_popcountll(under);
    counts->either += __builtin_popcountll(over | under);
}

/* Black to white over the noise's rms, both in codes: 16 dB. */
static bool is_clean(const struct reading *reading) {
    return reading->noise * 6.3 < reading->raster.white - reading->raster.black;
}

void every_mixing_add(struct every_state *every, const struct reading *reading, const uint64_t *expected) {
    struct mixing_counts *counts = &every->mixing;
    const int patterns = every->plan->patterns, repeat = every->plan->repeat;
    if (counts->fields >= DECIDE_FIELDS || reading->unsettled || reading->blended) {
        return;
    }
    const int read = every_line_read(every, reading);
    for (int place = 1; place < patterns - 1; place++) {
        const uint64_t unclear = reading->unclear[place * repeat + read];
        counts->lines++;
        if (unclear != 0) {
            count_line(counts, unclear, expected[place], expected[place - 1], expected[place + 1]);
        }
    }
    counts->share += reading->mixing;
    counts->clean += is_clean(reading);
    counts->fields++;
    if (counts->fields == DECIDE_FIELDS) {
        decide(every);
    }
}

static int unclear_lines(const struct every_state *every, const struct reading *reading, int read) {
    int lines = 0;
    for (int place = 0; place < every->plan->patterns; place++) {
        lines += reading->unclear[place * every->plan->repeat + read] != 0;
    }
    return lines;
}

/* The middle one; of an even number, the one of the two that is clearer: a filter that takes from one side
 * leaves one of them whole. */
int every_line_read(const struct every_state *every, const struct reading *reading) {
    const int repeat = every->plan->repeat, middle = repeat / 2;
    if (repeat % 2 != 0) {
        return middle;
    }
    return unclear_lines(every, reading, middle - 1) < unclear_lines(every, reading, middle) ? middle - 1
                                                                                             : middle;
}
