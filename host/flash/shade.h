/* What a colour code looks like, as far as flashing goes. Hue by angle and level by step, with nothing known
 * of a console's own colours. */
#ifndef SLOTJIG_FLASH_SHADE_H
#define SLOTJIG_FLASH_SHADE_H

#include "base/standard.h"

#include <stdbool.h>
#include <stdint.h>

enum { SHADES = 128 };

struct shade {
    float luminance; /* relative: 0 black, 1 white */
    float red;       /* (R-G-B)*320, not below 0 */
    bool saturated;  /* R/(R+G+B) >= 0.8 */
};

/* Of codes 2 * i. */
void shades_of(enum standard standard, struct shade shades[SHADES]);
/* Of red, green and blue as they are coded for the screen, 0..1. */
struct shade shade_of(double red, double green, double blue);

#endif
