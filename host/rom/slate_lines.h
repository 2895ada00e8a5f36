/*
 * The slate's scanlines: the bytes that slate_code.h left in RAM, drawn with COLUBK alone. Inside rom/ only.
 */
#ifndef SLOTJIG_ROM_SLATE_LINES_H
#define SLOTJIG_ROM_SLATE_LINES_H

#include "rom/encoder.h"

/* Exactly COUNTING_SPARE_CYCLES in the blank of each of the slate's rows. Y is to be kept. */
typedef void slate_spare(struct encoder *encoder, int row);

/* Before the slate: playfield off, colours white. */
void slate_ready(struct encoder *encoder);

/* From the label `band` to the start of the line below the slate, with X and Y from RAM_HELD + 2 and + 3 and
 * COLUBK from RAM_HELD. blanking: the byte of RAM that holds VBLANK, or 0: VBLANK is turned off. No branch in
 * here may cross a page, so it begins with one, or its spare goes to the next. spare: NULL: a delay. */
void slate_lines(struct encoder *encoder, int blanking, slate_spare *spare);

/* Parts of it. The label `band` and three whole lines, white; arrives at the first row's first line after 5
 * cycles, COLUBK black. */
void slate_band(struct encoder *encoder, int blanking);
/* A row's bits, 6 cycles each. */
void slate_row_bits(struct encoder *encoder, int row);

#endif
