/*
 * Wrong pictures that no rule explains: are they the console's, always or at times, or the capture chain's?
 * Inside verdict/ only.
 */
#ifndef SLOTJIG_VERDICT_EVERY_DOUBT_H
#define SLOTJIG_VERDICT_EVERY_DOUBT_H

#include "verdict/every_sets.h"

/* A console draws a value alike wherever it stands. True where the wrong pictures keep to some of the
 * picture's lines, from first to last (of the picture): something lies over it, or is cut off. */
bool doubt_place(const struct every_state *every, int *first, int *last);
/* Fewer wrong pictures than video with so many cells between black and white makes by itself. */
bool doubt_clarity(const struct every_state *every);

/* Bits that are stuck at times: pictures that were right in one field and wrong in another, each wrong one as
 * these bits draw it. low, high: masks of the serial output. */
struct flaky_bits {
    uint32_t low, high;
    uint64_t hits, tries; /* fields that show it; of those that could */
};
bool flaky_find(const struct every_state *every, struct flaky_bits *flaky);

#endif
