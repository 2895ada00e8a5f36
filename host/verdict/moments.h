/*
 * When writes take effect, as seen: of plan `moments`.
 *
 * Clocks are colour clocks of the line, 0..227; the picture begins at clock 68 (the left edge of the slate's
 * band). A store that ends with cycle c acts at clock 3c.
 *
 * What the pictures can tell of a delay. Where the screen changes at once (colours, score) the change is seen
 * at clock 3c + delay, and the delay is what was measured. Where the chip takes a cell's bit at the cell's
 * left edge and holds it (playfield, reflect), a cell at clock 68 + 4n is new when 3c + delay <= 68 + 4n; so
 * a change seen at edge E says that E - 4 < 3c + delay <= E. All writes of one phase lie 12 clocks apart and
 * say the same, so that of four whole clocks in a row none draws another picture than its neighbours. Such a
 * delay is an interval: all whole clocks, from 0 to MOMENT_DELAY_MOST, that draw exactly the pictures seen.
 *
 * In a window the line is clean on both edges, rising and falling. A half in which the register draws nothing
 * is as wished whatever the write does: so for reflect, which never changes the left half, both windows mean
 * that the right half is new from its first cell on, and the line before old to its end. Where the screen
 * changes at once, half a clock is allowed at the half's ends.
 */
#ifndef SLOTJIG_VERDICT_MOMENTS_H
#define SLOTJIG_VERDICT_MOMENTS_H

#include "plan/windows.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Clocks: so close to where its cells begin or end, a change is none within them. */
#define MOMENT_END_SLACK 0.5

enum moment_edge { EDGE_RISING, EDGE_FALLING, MOMENT_EDGES };
enum {
    MOMENT_PHASES = 4,     /* (clock of the write - 68) mod 4 */
    MOMENT_DELAY_MOST = 12 /* clocks: longer ones are not told from shorter ones that draw the same */
};

/* What one half of a line showed of one store. */
enum half_state {
    HALF_NOT_SEEN, /* no field yet, or the register draws nothing there */
    HALF_OLD,      /* the old value all along */
    HALF_NEW,      /* the new value all along */
    HALF_CHANGES,  /* at `clock` */
    HALF_MIXED,    /* more than one change, or none that can be placed, or fields that disagree */
    HALF_STATES
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
    bool exact; /* the screen changes at once: low and high are what was measured; else the output is latched
                   on the cells' grid, and any whole delay in low..high draws the same pictures */
    double low, high; /* clocks */
    double clocks;    /* the mean of what was measured; of an interval its middle */
    double spread;    /* rms over the observations, of the measured clock from where it should lie */
    int observations; /* changes seen at a clock: each moment, edge and half counts */
    int against;      /* moments, edges and halves that no delay in reach fits together with the others; then
                         not known */
    uint32_t example; /* the value of one of those */
};

struct moments {
    enum standard standard;
    struct moment_seen seen[MOMENT_VALUES];
    struct moment_delay delay[MOMENT_REGISTERS][MOMENT_PHASES];
    struct write_windows windows;    /* measured */
    struct write_windows arithmetic; /* derived: the handbook's clocks alone, for a chip without any delay */
};

/* Works delays and windows out of `seen`. */
void moments_conclude(struct moments *moments);

#endif
