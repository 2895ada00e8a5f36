/*
 * The proof of an image's timing: an abstract 6507 follows every path from the reset vector on. A value it
 * cannot know (a counter that runs over the fields, a byte of a table under an unknown index) makes it follow
 * both ways of a branch and take a crossed page for granted. What the encoder claims of a
 * store's cycle, of lines that are counted or of a byte's values (encoder.h) is checked on every path that
 * comes by. Independent of virtual/.
 */
#ifndef SLOTJIG_ROM_PROVE_H
#define SLOTJIG_ROM_PROVE_H

#include "rom/encoder.h"
#include "rom/rom.h"

struct prove_limits {
    int frame_lines;          /* between two starts of vertical sync, on every path */
    int slate_from, slate_to; /* zero page addresses of the slate's rows: what the hand-over may overwrite */
    int handover;             /* bytes it needs */
};

/* False (PROBLEM_INPUT, with the label and the figure) when a line can pass 76 cycles, a frame can have
 * another number of lines, a marked store can end with another cycle, RAM and stack do not fit, the hand-over
 * does not fit over the slate's rows, or the program leaves the image or stores to what is neither RAM nor a
 * TIA register. code_bytes and table_bytes of *account are not touched. */
bool prove(const struct encoder *encoder, const struct prove_limits *limits, struct rom_account *account,
           struct problem *problem);

/* The exact cycles of a program that goes one way only, from its reset vector until it reaches the address
 * `end` (in the image), by the same accounting: what another simulator of the processor can be held against.
 * Stores to the TIA do nothing meanwhile. False when a branch hangs on what is not known, or no end comes in
 * sight. */
bool prove_count(const struct encoder *encoder, uint16_t end, long *cycles, struct problem *problem);

#endif
