/* RAM faults of every published class, found by the March C- of the console's image and of the reader? */
#ifndef SLOTJIG_TESTS_COMMANDS_COVER_MARCH_H
#define SLOTJIG_TESTS_COMMANDS_COVER_MARCH_H

#include "virtual/cart_model.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Single cells: all bits. Coupled: all ordered pairs of cells that differ in one address line, with bits by
 * seed, all ordered pairs of bits of a cell, and other pairs by seed; each in all values. Decoder: every
 * address, with each cell that differs in one line and others by seed. index below cover_march_faults(). */
size_t cover_march_faults(void);
void cover_march_fault(size_t index, struct cart_ram_fault *fault);

struct march_seen {
    bool console, reader;
};
/* fault: NULL for a good RAM. */
void cover_march_run(const struct cart_ram_fault *fault, uint64_t seed, struct march_seen *seen);

#endif
