/*
 * Colours as seen: of plan `colours`.
 */
#ifndef SLOTJIG_VERDICT_PALETTE_H
#define SLOTJIG_VERDICT_PALETTE_H

#include "plan/colours.h"

#include <stdbool.h>

enum { PALETTE_COLUBK, PALETTE_COLUPF, PALETTE_REGISTERS };

struct palette_colour {
    int fields;
    double level;           /* 0 the slate's black, 1 its white */
    double level_spread;    /* rms over the fields */
    double cb, cr;          /* codes away from grey */
    double saturation, hue; /* codes; 0..360 degrees from the -Cb axis (the burst) towards -Cr */
    double hue_spread;      /* degrees, rms over the fields */
    bool clipped;           /* the grabber cuts its level off */
    bool white_clipped;     /* or the white that its level is a share of: it seems higher than it is */
};

/* Of one hue: its eight levels against a straight line. */
struct palette_hue {
    bool known;
    double hue, hue_spread; /* of its levels 1 and up, weighed by saturation; of hue 0: 0 */
    double saturation;
    double slope, offset; /* level = offset + slope * (code's level 0..7) */
    double nonlinearity;  /* most that a level lies off the line, as a share of the line's whole rise */
    bool ordered;         /* each level brighter than the one before */
    double to_next;       /* degrees to the next hue's; 1..15 */
};

struct palette {
    bool has_chroma;
    struct palette_colour colour[PALETTE_REGISTERS][COLOUR_CODES];
    struct palette_hue hue[PALETTE_REGISTERS][COLOUR_HUES];
};

#endif
