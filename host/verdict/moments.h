/*
 * When writes take effect, as seen: of plan `moments`.
 *
 * Clocks are colour clocks of the line, 0..227; the picture begins at clock 68 (the left edge of the slate's
 * band). A store that ends with cycle c acts at clock 3c.
 */
#ifndef SLOTJIG_VERDICT_MOMENTS_H
#define SLOTJIG_VERDICT_MOMENTS_H

#include "plan/windows.h"

#include <stdbool.h>
#include <stdint.h>

enum moment_edge { EDGE_RISING, EDGE_FALLING, MOMENT_EDGES };

/* What one half of a line showed of one store. */
enum half_state {
    HALF_NOT_SEEN, /* no field yet, or not to be read */
    HALF_OLD,      /* the old value all along */
    HALF_NEW,      /* the new value all along */
    HALF_CHANGES,  /* at `clock` */
    HALF_MIXED     /* more than one change, or none that can be placed */
};
struct half_seen {
    enum half_state state;
    double clock;  /* HALF_CHANGES: where the screen changes, mean over the fields */
    double spread; /* rms over the fields, clocks */
};

struct moment_seen {
    int fields;
    struct half_seen half[MOMENT_EDGES][HALVES];
};

/* Of the writes of a register whose (clock - 68) mod 4 is `phase`: colour clocks from the end of the store's
 * cycle to the change, as far as the pictures tell. */
struct moment_delay {
    bool known;
    bool exact; /* low == high: the screen changes at once; else the output is latched on the cells' grid and
                   any delay in low..high draws the same pictures */
    double low, high; /* clocks */
    double clocks;    /* the mean of what was measured; of an interval its middle */
    double spread;    /* rms over the observations */
    int observations;
};

struct moments {
    enum standard standard;
    struct moment_seen seen[MOMENT_VALUES];
    struct moment_delay delay[MOMENT_REGISTERS][4];
    struct write_windows windows;    /* measured */
    struct write_windows arithmetic; /* derived: the handbook's clocks alone, for a chip without any delay */
};

#endif
