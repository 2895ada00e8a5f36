/*
 * The program's side of the slate (slotjig/slate.h): hash, value, counter and check code into rows, and each
 * bit of a row into a byte of RAM, ready for COLUBK. The value is a step's number, 8 bits in RAM_STEP, or
 * that of a plan that counts on the console, 20 bits in RAM_VALUE. Inside rom/ only.
 */
#ifndef SLOTJIG_ROM_SLATE_CODE_H
#define SLOTJIG_ROM_SLATE_CODE_H

#include "rom/kernel.h"

/* All of it, from the start of a line to the start of another. */
void slate_code_emit(struct encoder *encoder, const struct kernel_options *options);
int slate_code_lines(const struct plan *plan);

/* The check code's tables from the one with this number on, as many as end at or below an offset of the
 * image; the number of the next. */
int slate_code_tables(struct encoder *encoder, const struct plan *plan, int from, size_t end);

/* Shifts bit 7 out of RAM_WORK, which holds the row complemented: $0E where it was 0, $00 where it was 1,
 * into the byte of RAM for that bit of the row in X. */
void slate_spread_bit(struct encoder *encoder, int bit);

#endif
