/*
 * The handbook: registers to cells. Knows no chip, no ROM and no video.
 * Source: TIA 1A technical manual, "Playfield registers serial output" table; colours of the score mode:
 * CTRLPF D1, same manual.
 *
 * A row of cells is a uint64_t: bit n is cell n (0 leftmost, 39 rightmost), 1 = lit.
 */
#ifndef SLOTJIG_EXPECT_EXPECT_H
#define SLOTJIG_EXPECT_EXPECT_H

#include "plan/plan.h"

#include <stdbool.h>
#include <stdint.h>

#define CELLS_ALL ((UINT64_C(1) << CELLS) - 1)

enum {
    /* How far round the end of a store the handbook leaves open what is shown [H TIA 1A 3.D: part old, part
     * new; where exactly is not said]. In clocks, from the change to the cell's nearest clock. */
    EXPECT_GUARD_BEFORE = 4,
    EXPECT_GUARD_AFTER = 8
};

/* One playfield bit of the twenty that are connected. */
struct pf_bit {
    enum reg reg; /* REG_PF0, REG_PF1 or REG_PF2 */
    uint8_t bit;  /* D0..D7 */
};
/* The serial output order: sequence position 0..19 to register bit. */
extern const struct pf_bit expect_serial[CELLS / 2];

/* Cells of registers that hold their value over the line. */
uint64_t expect_cells(uint8_t pf0, uint8_t pf1, uint8_t pf2, uint8_t ctrlpf);

/* What a step must show on each line of the plan's picture. */
struct expectation {
    int lines;
    uint64_t lit[PICTURE_LINES_MAX];
    uint64_t sure[PICTURE_LINES_MAX]; /* cells the handbook can vouch for: a cell being scanned when its
                                         register changes is not */
    /* What the colour registers hold that draw the lit and the dark cells, when it is the same for all cells
     * of the picture; else -1. In score mode COLUP0 and COLUP1 light the cells. */
    int lit_colour, dark_colour;
};
void expect_step(const struct step *step, int lines, struct expectation *out);

/* The inverse: registers that draw a row of cells. count is 20 (the left half; mode from *mirror_wanted)
 * or 40. Cells: 0 or 1 each. False with PROBLEM_INPUT when no setting of the registers draws it, saying for
 * both modes which pair of cells forbids it. */
struct solved {
    uint8_t pf0, pf1, pf2;
    bool mirror;
};
bool expect_solve(const uint8_t *cells, int count, bool mirror_wanted, struct solved *out,
                  struct problem *problem);

/* The other way round: `#` `1` `X` lit, `.` `0` `-` dark, blanks ignored; 20 or 40 cells. PROBLEM_INPUT else.
 */
bool cells_parse(const char *text, uint8_t cells[CELLS], int *count, struct problem *problem);

/* 40 characters of '0' and '1' (and '?' where unclear) and a final 0. */
void cells_text(uint64_t lit, uint64_t unclear, char text[CELLS + 1]);

#endif
