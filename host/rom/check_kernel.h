/*
 * The program of plan `cartridge` but for its work: start, sync, slate, text, the window and its timer.
 * Inside rom/ only.
 */
#ifndef SLOTJIG_ROM_CHECK_KERNEL_H
#define SLOTJIG_ROM_CHECK_KERNEL_H

#include "rom/check.h"

/* All of a bank but what check_fill.h adds: limit bytes. */
void check_kernel_emit(struct encoder *encoder, const struct kernel_options *options);

/* In the blank, from the line that counts the field, within its first cycles, to within the line after
 * check_slate_lines(): the slate's rows, and the registers for it. */
void check_slate_prepare(struct encoder *encoder, uint16_t hash);
int check_slate_lines(void);
/* From the label `band` to the first cycles of the line below the slate. Where a row goes on in the next page
 * and its own has HOLE_BYTES left, they are given to hole(), which emits what is come to from elsewhere; true
 * when it was. */
enum { HOLE_BYTES = 38 };
typedef void check_hole(struct encoder *encoder, const struct cart_check *check);
bool check_slate_draw(struct encoder *encoder, const struct cart_check *check, int blanking,
                      check_hole *hole);
void check_slate_tables(struct encoder *encoder);

/* The picture's text, CHECK_SCREEN_LINES from a line's first cycles to the start of another; its tables. */
void check_text_emit(struct encoder *encoder);
void check_text_tables(struct encoder *encoder);
/* RAM that the text's lines use while no slate is drawn, and what they want the cold start to set. */
void check_text_start(struct encoder *encoder);

#endif
