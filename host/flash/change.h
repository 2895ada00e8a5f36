/* When a cell's light turns round: the peaks and valleys of what it shows over time. */
#ifndef SLOTJIG_FLASH_CHANGE_H
#define SLOTJIG_FLASH_CHANGE_H

#include "flash/shade.h"

enum change_rule {
    CHANGE_GENERAL,   /* WCAG: relative luminance */
    CHANGE_RED,       /* WCAG's red, and BT.1702's */
    CHANGE_LUMINANCE, /* BT.1702: cd/m2 */
    CHANGE_RULES
};

/* Of one cell by one rule. Of zeroes: black, nothing seen yet. */
struct change {
    float low, high; /* since the last change: the valley and the peak */
    signed char way; /* of the last change: 1 up, -1 down, 0 none yet */
    bool low_red, high_red;
};

/* True where this value completes a change opposed to the last one (or the first one). peak: cd/m2 of white.
 */
bool change_step(struct change *change, enum change_rule rule, double peak, const struct shade *shade);

#endif
