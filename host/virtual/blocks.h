/*
 * Lines that show the playfield's cells in two colours, put together from blocks: of each cell the samples
 * that it covers, for each of the eight pictures that the cell and its neighbours can make. Byte for byte
 * what the digitiser draws, which makes the blocks; only for a channel in which an edge is over before the
 * next cell's begins, and whose lines depend on their colours alone.
 */
#ifndef SLOTJIG_VIRTUAL_BLOCKS_H
#define SLOTJIG_VIRTUAL_BLOCKS_H

#include "virtual/response.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    BLOCK_CELLS = 40,
    BLOCK_CLOCKS = TIA_VISIBLE / BLOCK_CELLS,
    BLOCK_PATTERNS = 8, /* bits 0, 1, 2: the cell before, the cell, the one after are of the second colour */
    BLOCK_BYTES = 32,   /* all blocks are copied alike; what is too much the next one overwrites */
    BLOCK_LINE = 1440   /* bytes of a line: YUYV */
};

struct blocks {
    bool possible; /* in this channel */
    bool made;
    uint8_t colour[2];       /* of the blocks, or of those to be made; the lower one first */
    int asked;               /* lines that asked for these, less those that asked for others since */
    int at[BLOCK_CELLS + 1]; /* byte where each cell's block begins; where the last one's ends */
    uint8_t block[BLOCK_CELLS][BLOCK_PATTERNS][BLOCK_BYTES];
    uint8_t before[2][BLOCK_LINE],
        after[2][BLOCK_LINE]; /* the line's ends, by the colour of the cell beside */
};

/* Edges of the luma in samples, of the chroma in pairs of them. */
void blocks_init(struct blocks *blocks, const struct response *luma, const struct response *chroma);

/* Draws a line of TIA_VISIBLE pixels to BLOCK_LINE bytes. */
typedef void (*blocks_draw)(void *user, const uint8_t *pixels, uint8_t *out);

/* False: the line has to be drawn, for it is no line of whole cells in these two colours, or they came too
 * seldom so far. */
bool blocks_line(struct blocks *blocks, const uint8_t *pixels, blocks_draw draw, void *user, uint8_t *out);

#endif
