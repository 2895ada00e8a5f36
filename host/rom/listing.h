/* The program of an encoder as plain MOS assembly, which assembles to exactly the same bytes. To be freed;
 * NULL: out of memory. */
#ifndef SLOTJIG_ROM_LISTING_H
#define SLOTJIG_ROM_LISTING_H

#include "rom/encoder.h"

char *listing_text(const struct encoder *encoder);
/* The same, with bytes in front of it. */
char *listing_banks(const struct encoder *encoder, const uint8_t *before, size_t count);

#endif
