/*
 * How a plan's pictures flash: luminance over time, worked out from the plan before anything is shown, by
 * WCAG 2.3.1 (general and red flashes) and by ITU-R BT.1702. Knows plan, expectation and slate; no chip, no
 * video.
 */
#ifndef SLOTJIG_FLASH_FLASH_H
#define SLOTJIG_FLASH_FLASH_H

#include "base/problem.h"
#include "plan/plan.h"

#include <stdbool.h>

/* What is assumed of the screen; printed with every answer. */
struct flash_screen {
    double peak;    /* cd/m2 of white */
    double degrees; /* that the picture's width takes of the viewer's field of view */
};
extern const struct flash_screen flash_screen_usual;

struct flash_count {
    double per_second; /* most flashes in any one second, of those whose area is over the limit */
    double area;       /* largest area that flashes at once, as a share of the picture */
    bool over;
};

struct flashes {
    struct flash_screen screen;
    double seconds;                       /* of the plan that were worked out: one round */
    struct flash_count general, red;      /* WCAG 2.3.1 */
    struct flash_count luminance, bt_red; /* BT.1702 */
    bool over;                            /* any of them */
    char why[320];                        /* one line: what is over which limit; empty: nothing */
};

/* hold: fields that each step (or base, or moment) is shown; dark: fields of dark picture before. */
bool flashes_of(const struct plan *plan, int hold, int dark, const struct flash_screen *screen,
                struct flashes *flashes, struct problem *problem);
/* The fewest fields to hold that keep the plan under every limit; 0: none does. */
int flashes_calm_hold(const struct plan *plan, const struct flash_screen *screen, struct problem *problem);

#endif
