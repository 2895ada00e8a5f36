/*
 * The TIA as far as this tool needs it: sync, blank, background and playfield with reflect, score and
 * priority, drawn by the colour clock. Freestanding. Drawing is lazy: registers that do not change cost
 * nothing until a line ends. Facts: TIA 1A technical manual; where a write lands is a setting of the chip,
 * since chips differ.
 */
#ifndef SLOTJIG_VIRTUAL_TIA_H
#define SLOTJIG_VIRTUAL_TIA_H

#include <stdbool.h>
#include <stdint.h>

enum {
    TIA_CLOCKS = 228,
    TIA_VISIBLE = 160,
    TIA_FIRST = 68,
    TIA_LINES_MAX = 400,
    TIA_BLANKED = 0x01 /* pixel value: D0 is no colour bit */
};

/* Registers with a settable delay. */
enum tia_reg {
    TIA_CTRLPF,
    TIA_PF0,
    TIA_PF1,
    TIA_PF2,
    TIA_COLUPF,
    TIA_COLUBK,
    TIA_COLUP0,
    TIA_COLUP1,
    TIA_REGS
};

/* A playfield bit that does not show its own value alone: what the register holds at another place of the
 * serial output comes in its place, or joins it. */
enum tia_joining { TIA_COUPLED, TIA_ANDED, TIA_ORED };
struct tia_joint {
    uint8_t at, from; /* sequence positions */
    uint8_t how;      /* enum tia_joining */
};
enum { TIA_JOINTS_MAX = 8 };

/* Settings of one chip: how its revision behaves, and what is broken in it. All zero but the delays: a good
 * chip. */
struct tia_chip {
    /* Colour clocks from the end of the store's cycle to the effect, for phase = (clock of the write - 68)
     * mod 4. 0..12. */
    uint8_t delay[TIA_REGS][4];
    /* Faults of the playfield. Bit n of a mask: sequence position n (0..19) of the serial output. */
    uint32_t stuck_low, stuck_high;
    /* Fails in a fraction of fields: decided once a field, from the chip's own random state. */
    uint32_t flaky_low, flaky_high;
    uint32_t flaky_rate; /* of 2^32 */
    /* All read what the registers hold, whatever else is wrong with `from`; stuck bits come after. */
    uint8_t joints;
    struct tia_joint joint[TIA_JOINTS_MAX]; /* one at most for each `at` */
    uint8_t order_reversed;                 /* bit r: PFr is drawn in the wrong order */
    uint8_t swap[3]; /* PFr's writes go to PF(swap[r]); {0,1,2} or, all zero, none swapped */
    bool mirror_ignored, copy_ignored;
    uint8_t late;                /* colour clocks the playfield is late against the background, 0..16 */
    uint8_t unconnected;         /* bit k (0..3): PF0's Dk also draws D(k+4)'s cells */
    uint8_t data_low, data_high; /* data inputs of the TIA stuck: masks over every write */
    /* Bits of a colour register stuck, [0] of COLUPF, [1] of COLUBK. D1..D7: D0 has no storage. */
    uint8_t colour_low[2], colour_high[2];
};

/* One finished field as the video output shows it. */
struct tia_field {
    int lines;                                 /* drawn since the last vertical sync began */
    bool synced;                               /* a vertical sync ended it */
    int sync_lines;                            /* length of the vertical sync that began it, in lines */
    uint8_t pixel[TIA_LINES_MAX][TIA_VISIBLE]; /* colour code (D7-4 hue, D3-1 level) or TIA_BLANKED; line 0 is
                                                  the first line of vertical sync */
    uint8_t same_as_above[TIA_LINES_MAX];      /* 1: this line is byte for byte the one above it */
};

/* A write on its way to its effect. */
struct tia_pending {
    int clock; /* of the current line, 228 and more: of the next */
    uint8_t reg, value;
};

enum {
    TIA_PENDING_MAX = 8,   /* writes are at least 3 clocks apart and at most 12 under way, so 5 would do */
    TIA_HOLDOFF_LINES = 16 /* a vertical sync sooner after the last one is not followed, as no set's vertical
                              oscillator does [P] */
};

struct tia {
    struct tia_chip chip;
    struct tia_field field; /* the field being drawn; finished and at rest while field_done */
    bool field_done;
    /* The rest is tia.c's. */
    bool ends_with_line; /* a vertical sync began in the second half of this line */
    bool vsync, vblank;
    uint8_t reg[TIA_REGS];
    uint32_t serial; /* the 20 playfield bits in the order of their output, faults included */
    uint32_t random;
    bool flaky;      /* this field shows the flaky bits' fault */
    bool changed;    /* something was written in this line that changes the picture */
    bool steady;     /* nothing changed in the line before, so row is what this one would show */
    uint8_t waiting; /* number of pending writes, soonest first */
    struct tia_pending pending[TIA_PENDING_MAX];
    uint8_t drawn;   /* visible clocks of this line in row */
    uint8_t fetched; /* cells of this line in lit */
    uint8_t lit[TIA_VISIBLE / 4];
    uint8_t row[TIA_VISIBLE];
    uint64_t lines;      /* since power-on */
    uint64_t sync_began; /* colour clocks since power-on */
};

/* A good chip. Colours change at once; playfield registers two clocks after the store [M]. */
void tia_chip_default(struct tia_chip *chip);

/* Registers random from the seed. The first field begins. */
void tia_power_on(struct tia *tia, const struct tia_chip *chip, uint64_t seed);

/* A store whose cycle ends at this clock of the current line (3..228). False for a register or bit that is
 * not modelled: everything but sync, blank, background and playfield, save that objects and sounds may be
 * switched off (a write of 0 to their enabling register), which they always are. WSYNC is the processor's
 * matter. */
bool tia_write(struct tia *tia, int clock, uint8_t address, uint8_t value);

/* The current line is over. */
void tia_end_line(struct tia *tia);

/* Empties field for the next one, after field_done or when the caller has waited long enough. */
void tia_begin_field(struct tia *tia);

#endif
