/*
 * Pictures of which the capture chain shows a part only: torn between two fields, with lines of another field
 * in the midst, or black from some line on. The slate's check code lies in its last rows, so a tear within it
 * is noticed there. Inside verdict/ only.
 */
#ifndef SLOTJIG_VERDICT_TORN_H
#define SLOTJIG_VERDICT_TORN_H

#include "verdict/state.h"

/* cells: wrong throughout lines first..end-1, which are one band. True when some lines
 * of the band, or the last of the band above, are otherwise: a console draws a band's lines alike. */
bool torn_band(const struct expectation *expect, const struct reading *reading, int first, int end,
               uint64_t cells);

/* True when the field shows, from some line on, what the step before or after the given one draws there. */
bool torn_between_steps(const struct judge *judge, size_t step, const struct reading *reading, int lines);

#endif
