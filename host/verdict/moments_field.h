/* One field of plan moments: the cells of its reference lines, and what each half of the two lines that are
 * rewritten shows. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_MOMENTS_FIELD_H
#define SLOTJIG_VERDICT_MOMENTS_FIELD_H

#include "picture/picture.h"
#include "verdict/moments.h"

/* Cells that are white with the value before the write, and with the one after it. */
struct moment_cells {
    uint64_t before, after;
};
/* Registers with this value in the one that is written. */
void moment_held(const struct moment_setting *setting, uint8_t value, uint8_t held[REG_COUNT]);
/* White cells, where these registers light those cells [H CTRLPF D1, colours]. */
uint64_t moment_white(const uint8_t held[REG_COUNT], uint64_t lit);
/* By the handbook: registers, mode and colours [H, expect/]. */
struct moment_cells moment_expected(enum moment_register reg, bool mirror);
/* First and last of the half's cells that the write changes; false: none. */
bool moment_block(const struct moment_cells *cells, int half, int *first, int *last);

struct moment_field {
    struct moment_cells light, dark; /* as seen; a cell that is neither is unclear */
    double margin;                   /* of them, the worst one's: 0 at the threshold, 1 at black and white */
    struct half_seen half[MOMENT_EDGES][HALVES];
    int edges;   /* inner edges of the cells that change */
    double late; /* clocks they lie right of the cells' own, mean */
};

/* Clocks by which a picture that is white all over lies beside where it should; 0: less than can be seen. */
double moment_beside(const struct detail *detail);

/* False: the lines that hold a value are not to be read. */
bool moment_field_read(const struct detail *detail, struct moment_field *out);

#endif
