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

/* The slates of two fields that follow each other (counters c and c + 1, all else alike), mixed: a bit that
 * is the same in both is 0 or 1, one that differs is half. ones: bits that are 1; halves: bits that are half.
 * *slate is the older field's; false, and untouched, when no such pair makes exactly these bits.
 *
 * What differs is the code word of c ^ (c + 1), one of six (2^k - 1, k = 1..6): 8, 8, 8, 8, 10 or 10 bits,
 * and any two of the six differ in at least 6. So up to five bits misread as half, or not as half, are always
 * noticed; up to seven where the field is not mixed at all. Against 0 taken for 1, right across the half,
 * there are fewer check bits than in a plain slate, since those that are half say nothing: 7, 8, 9, 10,
 * 9, 10. One such bit is always noticed, two go unnoticed in 9 of 1128 patterns at worst (k = 1), three in
 * 112 of 17,296. */
bool slate_decode_mixed(const uint8_t ones[SLATE_ROWS], const uint8_t halves[SLATE_ROWS],
                        struct slate *slate);

#endif
