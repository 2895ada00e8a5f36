/* The slate's code: bits to rows and back, with its check code. The layout itself is in slotjig/slate.h. */
#ifndef SLOTJIG_SLATE_SLATE_H
#define SLOTJIG_SLATE_SLATE_H

#include "slotjig/slate.h"

#include <stdbool.h>
#include <stdint.h>

struct slate {
    uint16_t hash;
    uint32_t value;  /* 0..2^20-1 */
    uint8_t counter; /* 0..63 */
};

/* CRC over the 42 bits of hash, value and counter. 14 bits. */
uint16_t slate_check(const struct slate *slate);
/* The part of the check code that bits set in value and counter contribute, with hash 0 and no complement:
 * the code is linear, so slate_check(h,v,c) = slate_check(h,0,0) ^ slate_check_part(v,c). rom/ makes its
 * tables of this. */
uint16_t slate_check_part(uint32_t value, uint8_t counter);
void slate_encode(const struct slate *slate, uint8_t rows[SLATE_ROWS]);
/* False when the check code disagrees; *slate is then untouched. */
bool slate_decode(const uint8_t rows[SLATE_ROWS], struct slate *slate);

#endif
