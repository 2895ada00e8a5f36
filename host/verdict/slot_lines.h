/*
 * Which line of the slot is stuck, from where the processor went after the reset vector and from the address
 * lines that moved. Inside verdict/ only.
 *
 * Each of the 26 ways in which an address line can be stuck and of the 16 of a data line is a guess that
 * foretells the first addresses after the vector, up to the first one that it changes; what comes after that
 * depends on bytes that nobody meant to be run. A guess stands when its addresses came, and the line, if an
 * address line, did not move.
 */
#ifndef SLOTJIG_VERDICT_SLOT_LINES_H
#define SLOTJIG_VERDICT_SLOT_LINES_H

#include "verdict/slot.h"

enum { SLOT_ADDRESS_LINES = 13, SLOT_DATA_LINES = 8 };

struct slot_line {
    bool address; /* else a data line */
    int number;
    bool high;
    bool unmoved; /* an address line that never moved in a second with accesses */
};

/* Fills at most max guesses, the likeliest first, and returns how many. More than max of them are as good as
 * none: 0. */
size_t slot_lines(const struct slot_seen *seen, const struct slot_image *image, struct slot_line *lines,
                  size_t max);

#endif
