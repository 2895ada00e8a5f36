/*
 * Counting changes: how often cells and places change within a second, and how much of a place at once.
 *
 * Cells come as masks of those that changed in a field, a line each. A place is a block of the picture that
 * may lie anywhere, in steps of FLICKER_STRIP cells and FLICKER_BAND lines.
 */
#ifndef SLOTJIG_FLASH_FLICKER_H
#define SLOTJIG_FLASH_FLICKER_H

#include "base/standard.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    FLICKER_STRIP = 4,
    FLICKER_BAND = 8,
    FLICKER_STRIPS = CELLS / FLICKER_STRIP,
    FLICKER_BANDS = (PICTURE_LINES_MAX + FLICKER_BAND - 1) / FLICKER_BAND,
    FLICKER_BLOCKS = FLICKER_STRIPS * FLICKER_BANDS,
    FLICKER_WINDOW_MAX = 63, /* fields of a second */
    FLICKER_COUNT_BITS = 6
};

/* One way to look at the changes: what size a place has. */
struct flicker_view {
    int strips, bands; /* of a place */
    double area;       /* of a place, in cells times lines; the picture may be smaller */
    double limit;      /* the part of area that counts as large */
    int most_by_cell;  /* most changes in a second that cells of a large part of a place each made */
    int most_at_once;  /* most changes in a second that a large part of a place made at once */
    double largest;    /* part of a place that changed at once, 0..1 */
    uint8_t recent[FLICKER_BLOCKS];                    /* large changes of each place in the last second */
    uint8_t large[FLICKER_WINDOW_MAX][FLICKER_BLOCKS]; /* which place changed in which field */
    bool any_large[FLICKER_WINDOW_MAX];
    uint8_t often[FLICKER_BANDS][FLICKER_STRIPS]; /* cells with more than most_by_cell changes */
    int often_total;
};

enum { FLICKER_VIEWS = 2 };

struct flicker {
    int lines, window; /* fields that lie within one second */
    int slot;
    uint64_t past[FLICKER_WINDOW_MAX][PICTURE_LINES_MAX];
    uint32_t past_bands[FLICKER_WINDOW_MAX];               /* bands with changes */
    uint64_t count[FLICKER_COUNT_BITS][PICTURE_LINES_MAX]; /* changes of each cell within the window, bit by
                                                              bit */
    int views;
    struct flicker_view view[FLICKER_VIEWS];
};

/* Of zeroes; then flicker_add_view() at most FLICKER_VIEWS times. */
void flicker_init(struct flicker *flicker, int lines, int window);
/* cells, lines: the size of a place; a place larger than the picture covers it all. share: what is large. */
void flicker_add_view(struct flicker *flicker, double cells, double lines, double share);
/* The cells that change in the next field; only bands of the set `bands` (bit n: lines 8n to 8n+7) are read.
 */
void flicker_field(struct flicker *flicker, const uint64_t changed[PICTURE_LINES_MAX], uint32_t bands);

#endif
