/*
 * The program of plan `cartridge` but for its work: start, sync, slate, text, the window and its timer.
 * Inside rom/ only.
 */
#ifndef SLOTJIG_ROM_CHECK_KERNEL_H
#define SLOTJIG_ROM_CHECK_KERNEL_H

#include "rom/check.h"

/* All of a bank but what check_fill.h adds: limit bytes. */
void check_kernel_emit(struct encoder *encoder, const struct kernel_options *options);

/* The picture's text, CHECK_TEXT_LINES from the start of a line to the start of another; its tables. */
void check_text_emit(struct encoder *encoder);
void check_text_tables(struct encoder *encoder);
/* RAM that the text's lines use while no slate is drawn, and what they want the cold start to set. */
void check_text_start(struct encoder *encoder);

#endif
