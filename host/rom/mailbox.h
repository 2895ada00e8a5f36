/*
 * The program's side of the mailbox (slotjig/mailbox.h): the entry, what the console says and asks once a
 * frame, and the hand-over.
 */
#ifndef SLOTJIG_ROM_MAILBOX_H
#define SLOTJIG_ROM_MAILBOX_H

#include "rom/kernel.h"

enum {
    ADDRESS_HIGH = 0xE000, /* the image lies at the top of the processor's 64 KiB; the slot has 13 lines */
    MAILBOX_LINES = 1,     /* lines that mailbox_serve() ends; it leaves another begun */
    RESET_LINES = 17       /* from the hand-over's last look at the mailbox to vertical sync in the new image:
                              so one standard's frame keeps its number of lines */
};

/* Begins on a line's first cycles: what the console says, then what the board asks. Goes on, or to the label
 * `hand_over`. */
void mailbox_serve(struct encoder *encoder, const struct kernel_options *options);

/* The loop's bytes, and the code that copies them to RAM_SLATE and goes there: `hand_over`, entered on the
 * line that mailbox_serve() began. */
void mailbox_hand_over(struct encoder *encoder, enum standard standard);

/* MAILBOX_ENTRY to the vectors: the image's last bytes. */
void mailbox_entry(struct encoder *encoder);

#endif
