/*
 * The program that an image runs: vertical sync, the work of a field in the blank lines, slate, picture,
 * overscan. Every line ends with a store to WSYNC, but for those of moments.c, which are counted by cycles;
 * prove.c follows every path and counts.
 */
#ifndef SLOTJIG_ROM_KERNEL_H
#define SLOTJIG_ROM_KERNEL_H

#include "plan/plan.h"
#include "rom/encoder.h"

#include <stdint.h>

enum {
    /* TIA write addresses [H TIA 1A] */
    TIA_VSYNC = 0x00,
    TIA_VBLANK = 0x01,
    TIA_WSYNC = 0x02,
    TIA_WRITE_COLUBK = 0x09,
    TIA_AUDV0 = 0x19, /* to ENABL: AUDV0, AUDV1, GRP0, GRP1, ENAM0, ENAM1, ENABL */
    TIA_ENABL = 0x1F,
    /* The console's RAM. The slate's bit b of row r lies at RAM_SLATE + 7 b + r. */
    RAM_SLATE = 0x80,
    RAM_SLATE_END = 0xB8,
    RAM_STEP = 0xB8,
    RAM_HOLD = 0xB9, /* two bytes, low first: fields left */
    RAM_COUNTER = 0xBB,
    RAM_WORK = 0xBC,
    RAM_ROWS = 0xBD, /* seven bytes: the slate's rows; the last two are built from the check code */
    RAM_CHECK_HIGH = 0xC4,
    RAM_HELD = 0xC5, /* the step's registers: COLUBK, COLUPF, CTRLPF, PF0, PF1, PF2 */
    RAM_VECTOR = 0xCB,
    RAM_VALUE = 0xCD,    /* three bytes, low first: the slate's value of plans that count on the console */
    RAM_MODE = 0xD0,     /* of the mailbox, as last read; of such plans too */
    RAM_DARK = 0xD1,     /* dark fields left */
    RAM_BLANKING = 0xD2, /* VBLANK of this field's picture */
    RAM_PICTURE = 0xD3,  /* eight bytes for what draws the picture */
    RAM_END = 0xDB,
    KERNEL_STEPS_MAX = 256
};

struct kernel_options {
    const struct plan *plan;
    uint16_t hash;
    uint16_t hold;
    uint8_t dark;
};

/* Emits the whole image. Errors stay in the encoder. */
void kernel_emit(struct encoder *encoder, const struct kernel_options *options);

#endif
