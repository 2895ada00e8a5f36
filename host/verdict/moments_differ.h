/*
 * Two consoles' moments held against each other. A clock counts as another when it is MOMENTS_CLOCK_BOUND
 * away, or MOMENTS_SIGMAS of what both measurements spread where that is more; a delay of which only an
 * interval is known when the intervals are not the same ones. A window whose ends differ counts only where a
 * moment of its register and mode does: near the bound of half a clock noise alone may move it by a cycle.
 */
#ifndef SLOTJIG_VERDICT_MOMENTS_DIFFER_H
#define SLOTJIG_VERDICT_MOMENTS_DIFFER_H

#include "verdict/moments.h"

#define MOMENTS_CLOCK_BOUND 0.25
enum { MOMENTS_SIGMAS = 4 };

struct moments_difference {
    int compared, missing;        /* delays that both know; that one of them does not */
    int delays, windows, moments; /* that differ; moments: halves of lines */
    bool delay[MOMENT_REGISTERS][MOMENT_PHASES];
    bool window[MOMENT_REGISTERS][MOMENT_MODES][HALVES];
    bool moment[MOMENT_VALUES][MOMENT_EDGES][HALVES];
};

void moments_differ(const struct moments *first, const struct moments *second,
                    struct moments_difference *difference);

#endif
