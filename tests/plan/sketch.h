/* Random pictures for plan `drawing`, and where they must stand on the screen. */
#ifndef TESTS_PLAN_SKETCH_H
#define TESTS_PLAN_SKETCH_H

#include "base/standard.h"

#include <stdbool.h>
#include <stdint.h>

enum sketch_kind {
    SKETCH_ANY,      /* each row of a kind of its own */
    SKETCH_REPEATED, /* the right half is the left one again */
    SKETCH_MIRRORED, /* the right half is the left one turned round */
    SKETCH_SIMPLE,   /* some registers' cells are the same in both halves */
    SKETCH_KINDS
};

struct sketch {
    int rows;
    uint64_t lit[PICTURE_LINES_MAX]; /* bit n: cell n */
    uint8_t lit_colour[PICTURE_LINES_MAX], dark_colour[PICTURE_LINES_MAX];
};

uint64_t sketch_random(uint64_t *state);
/* Of a seed: kind, height and whether it has colours follow from it too. */
void sketch_make(struct sketch *sketch, uint64_t seed, enum standard standard);
/* Rows whose halves are alike, and among them some (`bad`) whose halves differ in the cells of PF`reg` alone:
 * those need it rewritten in mid-line in copy mode, and no others; more than half of the rows are none. */
void sketch_make_bad(struct sketch *sketch, bool bad[PICTURE_LINES_MAX], int reg, uint64_t seed);
/* "3, 7-9"; text: room for 700. */
void sketch_rows_text(const bool *rows, int count, char *text);
/* As the text that plan `drawing` reads. False when the file cannot be written. */
bool sketch_write(const struct sketch *sketch, const char *path);
/* The colour that the sketch wants at a line of the plan's picture, whose rows lie in its middle; around them
 * all is black. */
uint8_t sketch_pixel(const struct sketch *sketch, enum standard standard, int line, int cell);

#endif
