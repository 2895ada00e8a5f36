/*
 * The picture of a step whose registers change further down or in mid-line: a routine of its own, counted
 * cycle by cycle. The picture's first line starts with JMP (RAM_VECTOR); the vector comes out of two tables
 * of addresses by step.
 */
#ifndef SLOTJIG_ROM_BANDS_H
#define SLOTJIG_ROM_BANDS_H

#include "plan/plan.h"
#include "rom/encoder.h"

#define BANDS_TABLE_LOW "v_low"
#define BANDS_TABLE_HIGH "v_high"

enum {
    BANDS_ENTRY_CYCLES = 5, /* JMP (indirect): of the picture's first line they are gone already */
    BANDS_LOOP_CYCLE =
        12, /* the first cycle that a write can end with where the band is a loop: 7 for the loop */
    BANDS_LAST_CYCLE = 73,  /* STA WSYNC takes the line's last three */
    BANDS_UNROLLED_MAX = 16 /* a band of at most so many lines is no loop where a loop would be too late */
};

/* True when some step does not hold its registers over the whole picture. */
bool bands_wanted(const struct plan *plan);

/* The routines, each ending with a jump to `overscan`. Writes that no routine can make in time are an error
 * of the encoder's that names step, band and write. */
void bands_emit(struct encoder *encoder, const struct plan *plan);

/* The tables of addresses; steps that hold go to the label `picture`. */
void bands_tables(struct encoder *encoder, const struct plan *plan);

#endif
