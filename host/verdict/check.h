/*
 * Plan `cartridge`: what the console said of the cartridge it ran from (plan/check.h), item by item and round
 * by round, and what is wrong with the cartridge.
 *
 * An item counts as bad when it was read bad in two different rounds, or in two fields of one; once only is
 * told as `once`, never a fail by itself but in soak, where every error is told with its round. An item
 * counts as good when it was read good and never bad.
 */
#ifndef SLOTJIG_VERDICT_CHECK_H
#define SLOTJIG_VERDICT_CHECK_H

#include "plan/check.h"
#include "verdict/verdict.h"

enum { CHECK_TOLD_MAX = 64 };

struct check_item_seen {
    struct check_item item;   /* as last read; where it was bad ever, as it was read bad last */
    uint32_t good, bad;       /* fields */
    uint32_t rounds_bad;      /* rounds in which it was bad */
    uint32_t first_bad_round; /* as the console counts them */
};

/* An error with its place, in the order in which they came. */
struct check_error {
    uint32_t round;
    struct check_item item;
};

struct check_seen {
    const struct cart_check *check;
    size_t item_count;
    struct check_item_seen items[CHECK_ITEMS_MAX]; /* those of a good cartridge, in check_items()'s order */
    struct page_seen {
        bool known; /* CRC and sum were told */
        uint16_t crc;
        uint8_t sum;
        int place;       /* of the one wrong byte in the page, or -1 */
        uint8_t flipped; /* its wrong bits */
    } pages[SCHEME_PAGES_MAX];
    int started_in;                            /* bank that came up; -1: not seen */
    uint8_t banks_up;                          /* mask of all banks that came up, over restarts */
    int ram_cell, ram_background, ram_element; /* of the first wrong read; -1: none */
    uint8_t ram_flipped;
    uint32_t ram_wrong;
    uint32_t rounds;      /* finished, as the console says */
    uint32_t rounds_seen; /* of which all items were read */
    uint32_t errors;      /* as the console says */
    uint32_t restarts;    /* the console's count of rounds went back: it started again */
    size_t error_count, errors_left_out;
    struct check_error error[CHECK_TOLD_MAX];
};

#endif
