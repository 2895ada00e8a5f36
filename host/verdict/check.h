/*
 * Plan `cartridge`: what the console said of the cartridge it ran from (plan/check.h), item by item and round
 * by round, and what is wrong with the cartridge.
 *
 * An item counts as bad when it was read bad in two different fields, or in one while the console's own count
 * of errors, read in two others, says that there were any. Once only is never a fail by itself: it may have
 * been misread. Every error is told with its round, as long as there is room.
 */
#ifndef SLOTJIG_VERDICT_CHECK_H
#define SLOTJIG_VERDICT_CHECK_H

#include "plan/check.h"
#include "verdict/verdict.h"

enum { CHECK_TOLD_MAX = 1024 };

struct check_item_seen {
    struct check_item item;   /* as last read; where it was bad ever, as it was read bad last */
    uint32_t good, bad;       /* fields */
    uint32_t rounds_read;     /* different rounds in which it was read */
    uint32_t rounds_bad;      /* rounds in which it was bad */
    uint32_t first_bad_round; /* as the console counts them */
    bool confirmed;           /* bad, and no misreading; see above */
    bool steady;              /* confirmed, and bad whenever it was looked at, or of late */
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
        int shows;       /* the page of the image that shows in its place, or -1 */
        bool unsteady;   /* CRC or sum were not always the same */
    } pages[SCHEME_PAGES_MAX];
    int started_in;                            /* bank that came up; -1: not seen */
    uint8_t banks_up;                          /* mask of all banks that came up, over restarts */
    int ram_cell, ram_background, ram_element; /* of the first wrong read; -1: none */
    uint8_t ram_flipped;
    uint32_t ram_wrong;
    uint32_t rounds;         /* finished, as the console says */
    uint32_t rounds_watched; /* begun and ended while it was watched */
    uint32_t rounds_seen;    /* of which all items were read */
    uint32_t rounds_bad;     /* in which any item was read bad */
    uint32_t errors;         /* as the console says */
    uint32_t errors_told;    /* fields in which it said that there were any */
    uint32_t still;          /* fields, the last ones, in which the item did not change */
    struct check_item now;   /* that item */
    uint32_t restarts;       /* the console's count of rounds went back: it started again */
    size_t error_count, errors_left_out;
    struct check_error error[CHECK_TOLD_MAX];
};

/* So many rounds are read before anything is called good. */
enum { CHECK_ROUNDS_LEAST = 2 };
/* An item that stands for so many fields, which is longer than the longest hold by far, stands for ever. */
enum { CHECK_STILL = 900 };

/* Of plan cartridge, as it is now, for progress and for the end of a watch; NULL of another plan. */
const struct check_seen *judge_check(const struct judge *judge);

/* What an item says, in words: "page 3 of bank 1 ($F300-$F3FF): its CRC and sum are wrong". */
void check_words(const struct cart_check *check, struct check_item item, char *text, size_t size);
bool check_from_digits(const char *digits, struct check_item *item); /* five hexadecimal ones */
bool check_item_bad(struct check_item item);                         /* not what a good cartridge gives */
/* Whether an image of this scheme can show it at all; digits that are copied wrong most often say what none
 * of its items says. A start's scheme may be another one's: that tells which image it is. */
bool check_item_possible(const struct cart_check *check, struct check_item item);

#endif
