/*
 * What a chip with these delays shows of plan moments, without video and by arithmetic alone: cells of each
 * register from the handbook's serial output order [H TIA 1A], clocks 68 + 4n [A].
 */
#ifndef TESTS_VERDICT_MOMENTS_IDEAL_H
#define TESTS_VERDICT_MOMENTS_IDEAL_H

#include "verdict/moments.h"

#include <math.h>
#include <string.h>

struct ideal {
    double delay[MOMENT_REGISTERS][MOMENT_PHASES];
    bool at_once[MOMENT_REGISTERS]; /* a cell changes in its midst; colours and score always do */
};

/* First and last cell of the register in the half; first -1: none. */
static inline void ideal_block(int reg, bool mirror, int half, int block[2]) {
    static const int left[3][2] = {{0, 3}, {4, 11}, {12, 19}};
    block[0] = half == HALF_LEFT ? 0 : 20;
    block[1] = block[0] + 19;
    if (reg <= MOMENT_PF2) {
        block[0] = half == HALF_LEFT ? left[reg][0] : mirror ? 39 - left[reg][1] : 20 + left[reg][0];
        block[1] = block[0] + left[reg][1] - left[reg][0];
    } else if (reg == MOMENT_REFLECT && half == HALF_LEFT) {
        block[0] = -1;
    }
}

static inline struct half_seen ideal_half(double change, const int block[2]) {
    struct half_seen seen = {.state = HALF_NOT_SEEN};
    if (block[0] >= 0) {
        const double begin = 68 + 4 * block[0], end = 68 + 4 * (block[1] + 1);
        seen.state = change <= begin ? HALF_NEW : change >= end ? HALF_OLD : HALF_CHANGES;
        seen.clock = seen.state == HALF_CHANGES ? change : 0;
        seen.spread = seen.state == HALF_CHANGES ? 0.01 : 0;
    }
    return seen;
}

static inline void ideal_seen(const struct ideal *ideal, struct moments *moments) {
    memset(moments, 0, sizeof *moments);
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        const int reg = (int)(value / 152), cycle = (int)(value % 76);
        const bool mirror = value / 76 % 2 != 0;
        const double at = 3 * cycle + ideal->delay[reg][(3 * cycle + 228 - 68) % 4];
        const bool once = reg >= MOMENT_SCORE || ideal->at_once[reg];
        const double change = once ? at : 68 + 4 * ceil((at - 68) / 4);
        moments->seen[value].fields = 3;
        for (int half = 0; half < HALVES; half++) {
            int block[2];
            ideal_block(reg, mirror, half, block);
            for (int edge = 0; edge < MOMENT_EDGES; edge++) {
                moments->seen[value].half[edge][half] = ideal_half(change, block);
            }
        }
    }
    moments_conclude(moments);
}

#endif
