/*
 * Flashes counted the long way: every cell of every field kept, each second looked at by itself, each place
 * added up cell by cell. It shares nothing with host/flash but the places' size.
 */
#ifndef SLOTJIG_TESTS_FLASH_NAIVE_H
#define SLOTJIG_TESTS_FLASH_NAIVE_H

#include "base/standard.h"

#include <stdbool.h>

enum { NAIVE_FIELDS_MAX = 400 };

struct naive {
    int lines, fields, window;
    unsigned char (*changes)[PICTURE_LINES_MAX][CELLS]; /* of each field: 1 where a cell changes */
};

struct naive_place {
    int cells, lines, step_cells, step_lines; /* of a block, and how far apart blocks lie */
    double limit;                             /* cells that are a large part */
};

/* Most changes in a second that cells of a large part of a place each made. */
int naive_by_cell(const struct naive *naive, const struct naive_place *place);
/* Most changes in a second that a large part of a place made at once. */
int naive_at_once(const struct naive *naive, const struct naive_place *place);

#endif
