#include "virtual/blocks.h"

#include <string.h>

enum {
    PHASES = RESPONSE_PHASES,
    PAIR_BYTES = 4, /* two samples of luma, one of each colour difference */
    WORTH_MAKING = 64
};

/* ---- whether, and where ---- */

static int edge_of(const struct response *response, int cell) {
    return response->at[cell * BLOCK_CLOCKS];
}

/* Samples from..to - 1 see no edge but those of cells first..last. */
static bool sees_only(const struct response *response, int from, int to, int first, int last) {
    const int reach = response->reach * PHASES;
    const bool before = first == 0 || from * PHASES >= edge_of(response, first - 1) + reach + PHASES;
    const bool after =
        last == BLOCK_CELLS || (to - 1) * PHASES < edge_of(response, last + 1) - reach - PHASES;
    return before && after;
}

static bool pairs_see_only(const struct response *luma, const struct response *chroma, int from, int to,
                           int first, int last) {
    return sees_only(luma, 2 * from, 2 * to, first, last) && sees_only(chroma, from, to, first, last);
}

void blocks_init(struct blocks *blocks, const struct response *luma, const struct response *chroma) {
    int pair[BLOCK_CELLS + 1];
    blocks->made = false;
    blocks->asked = 0;
    for (int cell = 0; cell <= BLOCK_CELLS; cell++) {
        pair[cell] = (edge_of(luma, cell) + 2 * PHASES - 1) / (2 * PHASES);
        blocks->at[cell] = pair[cell] * PAIR_BYTES;
    }
    const int end = luma->width / 2;
    blocks->possible = 2 * luma->width == BLOCK_LINE && edge_of(luma, 0) > 0 &&
                       blocks->at[BLOCK_CELLS] <= BLOCK_LINE &&
                       blocks->at[BLOCK_CELLS - 1] + BLOCK_BYTES <= BLOCK_LINE &&
                       pairs_see_only(luma, chroma, 0, pair[0], 0, 0) &&
                       pairs_see_only(luma, chroma, pair[BLOCK_CELLS], end, BLOCK_CELLS, BLOCK_CELLS);
    for (int cell = 0; cell < BLOCK_CELLS; cell++) {
        const bool fits = blocks->at[cell + 1] - blocks->at[cell] <= BLOCK_BYTES;
        blocks->possible = blocks->possible && fits &&
                           pairs_see_only(luma, chroma, pair[cell], pair[cell + 1], cell, cell + 1);
    }
}

/* ---- lines as cells ---- */

/* Bit n: cell n is not of the first pixel's colour. False: not whole cells, or more than two colours; other
 * is the first one's where there is no second. */
static bool cells_of(const uint8_t *pixels, uint8_t *other, uint64_t *mask) {
    const uint32_t ones = 0x01010101;
    const uint8_t first = pixels[0];
    uint32_t second = first * ones, unlike = 0;
    uint64_t cells = 0;
    for (int cell = 0; cell < BLOCK_CELLS; cell++) {
        uint32_t four;
        memcpy(&four, pixels + cell * BLOCK_CLOCKS, sizeof four);
        const bool differs = four != first * ones;
        second = differs && cells == 0 ? (four & 0xFF) * ones : second;
        cells |= (uint64_t)differs << cell;
        unlike |= differs ? four ^ second : 0;
    }
    *other = (uint8_t)second;
    *mask = cells;
    return unlike == 0;
}

/* ---- making blocks ---- */

static void paint(uint8_t pixels[TIA_VISIBLE], const uint8_t colour[2], uint64_t cells) {
    for (int i = 0; i < TIA_VISIBLE; i++) {
        pixels[i] = colour[cells >> (i / BLOCK_CLOCKS) & 1];
    }
}

static int pattern_of(uint64_t cells, int cell) {
    return (int)(cells << 1 >> cell & (BLOCK_PATTERNS - 1));
}

static void take_blocks(struct blocks *blocks, const uint8_t *line, uint64_t cells) {
    for (int cell = 0; cell < BLOCK_CELLS; cell++) {
        const int bytes = blocks->at[cell + 1] - blocks->at[cell];
        memcpy(blocks->block[cell][pattern_of(cells, cell)], line + blocks->at[cell], (size_t)bytes);
    }
    memcpy(blocks->before[cells & 1], line, (size_t)blocks->at[0]);
    const int end = blocks->at[BLOCK_CELLS];
    memcpy(blocks->after[cells >> (BLOCK_CELLS - 1) & 1], line + end, (size_t)(BLOCK_LINE - end));
}

/* Every pattern of three, repeated, begun at each of its places: all eight at every cell. */
static void make(struct blocks *blocks, blocks_draw draw, void *user) {
    uint8_t pixels[TIA_VISIBLE], line[BLOCK_LINE];
    for (unsigned three = 0; three < BLOCK_PATTERNS; three++) {
        for (int begin = 0; begin < 3; begin++) {
            uint64_t cells = 0;
            for (int cell = 0; cell < BLOCK_CELLS; cell++) {
                cells |= (uint64_t)(three >> (cell + begin) % 3 & 1) << cell;
            }
            paint(pixels, blocks->colour, cells);
            draw(user, pixels, line);
            take_blocks(blocks, line, cells);
        }
    }
    blocks->made = true;
}

/* Whether there are blocks in these colours. */
static bool have(struct blocks *blocks, const uint8_t colour[2], blocks_draw draw, void *user) {
    if (blocks->colour[0] != colour[0] || blocks->colour[1] != colour[1]) {
        if (blocks->asked > 0) {
            blocks->asked--;
            return false;
        }
        memcpy(blocks->colour, colour, sizeof blocks->colour);
        blocks->made = false;
    }
    blocks->asked += blocks->asked < WORTH_MAKING;
    if (!blocks->made && blocks->asked == WORTH_MAKING) {
        make(blocks, draw, user);
    }
    return blocks->made;
}

/* ---- a line ---- */

static void put_together(const struct blocks *blocks, uint64_t cells, uint8_t *out) {
    memcpy(out, blocks->before[cells & 1], (size_t)blocks->at[0]);
    uint64_t three = cells << 1;
    for (int cell = 0; cell < BLOCK_CELLS; cell++) {
        memcpy(out + blocks->at[cell], blocks->block[cell][three & (BLOCK_PATTERNS - 1)], BLOCK_BYTES);
        three >>= 1;
    }
    const int end = blocks->at[BLOCK_CELLS];
    memcpy(out + end, blocks->after[cells >> (BLOCK_CELLS - 1) & 1], (size_t)(BLOCK_LINE - end));
}

/* In the order of the blocks' own colours. */
static bool same_colour(const struct blocks *blocks, uint8_t only, uint64_t *cells) {
    *cells = only == blocks->colour[1] ? (UINT64_C(1) << BLOCK_CELLS) - 1 : 0;
    return blocks->made && (only == blocks->colour[0] || only == blocks->colour[1]);
}

bool blocks_line(struct blocks *blocks, const uint8_t *pixels, blocks_draw draw, void *user, uint8_t *out) {
    uint8_t other;
    uint64_t cells;
    if (!blocks->possible || !cells_of(pixels, &other, &cells)) {
        return false;
    }
    const uint8_t first = pixels[0];
    const uint8_t colour[2] = {first < other ? first : other, first < other ? other : first};
    if (first == other ? !same_colour(blocks, first, &cells) : !have(blocks, colour, draw, user)) {
        return false;
    }
    if (first != other && first == colour[1]) {
        cells ^= (UINT64_C(1) << BLOCK_CELLS) - 1;
    }
    put_together(blocks, cells, out);
    return true;
}
