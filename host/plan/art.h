/* Picture files for plan `drawing`: rows of 40 cells with two colours each. */
#ifndef SLOTJIG_PLAN_ART_H
#define SLOTJIG_PLAN_ART_H

#include "base/problem.h"
#include "base/standard.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { ART_ANY = -1 /* a colour that no cell of the row has */ };

struct art_row {
    uint64_t lit;                /* bit n: cell n */
    int lit_colour, dark_colour; /* codes, or ART_ANY */
};

struct art {
    int rows;
    struct art_row row[PICTURE_LINES_MAX];
};

/* PNG, PBM (P1, P4) or text, told apart by their first bytes; at most `rows_most` rows. PROBLEM_INPUT names
 * the file and the rows that do not fit. */
bool art_open(const char *path, int rows_most, struct art *art, struct problem *problem);

/* A list of rows (from 1 on) as ranges: "3, 7-9". `rows[i]`: row i is in it. Cut short with how many more
 * there are. */
void art_rows_text(const bool *rows, int count, char *text, size_t size);

/* The parts, each for one kind of file. */
bool art_png(const char *path, const uint8_t *bytes, size_t size, int rows_most, struct art *art,
             struct problem *problem);
bool art_pbm(const char *path, const uint8_t *bytes, size_t size, int rows_most, struct art *art,
             struct problem *problem);
bool art_text(const char *path, const uint8_t *bytes, size_t size, int rows_most, struct art *art,
              struct problem *problem);

/* Whether the picture is 40 wide and not too high. */
bool art_check_size(const char *path, unsigned long width, unsigned long height, int rows_most,
                    struct problem *problem);
/* Whether each row's colours can be told apart: COLUPF of luminance 5 to 7, COLUBK of 0 to 2. */
bool art_check_colours(const char *path, const struct art *art, struct problem *problem);

#endif
