/*
 * How a plan's pictures flash: luminance over time, worked out from the plan before anything is shown, by
 * WCAG 2.3.1 (general and red flashes) and by ITU-R BT.1702. Knows plan, expectation and slate; no chip, no
 * video.
 *
 * The rules, and where each figure is from:
 * - WCAG 2.1 and 2.2, success criterion 2.3.1 and its definition "general flash and red flash thresholds"
 *   [S, read]: no more than three flashes in any one second, or no more than 25 % of any 10 degrees of the
 *   visual field; a general flash is a pair of opposing changes of relative luminance by 10 % of the maximum
 *   or more, the darker state below 0.80; a red one a pair in which a state has R/(R+G+B) >= 0.8 and
 *   (R-G-B)*320 changes by more than 20; the estimate of 10 degrees as 341 x 256 of 1024 x 768. R, G, B and
 *   luminance as in its definition "relative luminance".
 * - ITU-R BT.1702, "Guidance for the reduction of photosensitive epileptic seizures caused by television"
 *   [M: title and scope were read, the figures are from memory and agree with what makers of analysers say]:
 *   pairs of opposing changes of 20 cd/m2 or more, the darker state below 160 cd/m2; from there on a
 *   contrast of 1/17, which is what 20 cd/m2 make at 160 [A]; more than three in a second over more than
 *   25 % of the screen; likewise pairs to or from saturated red, taken here as WCAG's.
 *
 * Counting is on the safe side: half a flash (an odd change) counts as half; a place is over the limit where
 * more than 25 % of it flash more than three times in the same second, each cell by itself, or where more
 * than 25 % of it change at once, in either direction, more often than three flashes have changes.
 */
#ifndef SLOTJIG_FLASH_FLASH_H
#define SLOTJIG_FLASH_FLASH_H

#include "base/problem.h"
#include "plan/plan.h"

#include <stdbool.h>

/* What is assumed of the screen; printed with every answer. It shows BT.601's 720 samples of a line and the
 * standard's active lines, with black round the picture. */
struct flash_screen {
    double peak;    /* cd/m2 of white */
    double degrees; /* that the screen's width takes of the viewer's field of view */
};
extern const struct flash_screen flash_screen_usual;

enum { FLASH_LIMIT = 3, FLASH_AREA_PERCENT = 25 }; /* in one second; of 10 degrees, or of the screen */

struct flash_count {
    double per_second; /* most flashes in any one second over an area beyond the limit; in halves */
    double area; /* largest area that changes at once, as a share of 10 degrees (WCAG) or of the screen */
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
/* The fewest fields to hold from which on the plan stays under every limit; 0: none does (problem unset), or
 * memory is short (problem set). */
int flashes_calm_hold(const struct plan *plan, const struct flash_screen *screen, struct problem *problem);

/* Fields a second of the console. */
double flash_rate(enum standard standard);

#endif
