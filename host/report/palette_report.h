/* Plan `colours`, written out: text, CSV, JSON, chart; read back, and two consoles held side by side. */
#ifndef SLOTJIG_REPORT_PALETTE_REPORT_H
#define SLOTJIG_REPORT_PALETTE_REPORT_H

#include "base/problem.h"
#include "verdict/palette.h"

#include <jansson.h>
#include <stdio.h>

/* "COLUBK", "COLUPF". */
const char *palette_register_name(int reg);

/* Mean of the hues' saturation, codes; 0 where none is known. */
double palette_saturation(const struct palette *palette);
/* Whether the colour is so much of one that its angle says something. */
bool palette_has_hue(const struct palette *palette, const struct palette_colour *colour);

/* Likewise of a whole hue. */
bool palette_hue_is_known(const struct palette *palette, int reg, int number);

/* `colours`, `hues`: merged into the result's object. */
json_t *palette_json(const struct palette *palette);
void palette_terminal(FILE *stream, const struct palette *palette);
/* Into the folder: colours.csv, colours.txt, colours.svg. of: whose they are, such as the bench. */
bool palette_write(const struct palette *palette, const char *of, const char *folder,
                   struct problem *problem);

/* Of a result of plan `colours`. where: what the problem's text begins with, such as the file. */
bool palette_from_json(const json_t *result, const char *where, struct palette *palette,
                       struct problem *problem);

/* Two consoles' colours. A difference counts beyond the bound, or beyond so many sigma of both means where
 * that is more. */
#define PALETTE_LEVEL_BOUND 0.02 /* of the black-white distance */
#define PALETTE_HUE_BOUND 3.0    /* degrees */
enum { PALETTE_SIGMAS = 4 };

struct colour_difference {
    int reg, code;             /* code 0..127: the register holds twice that */
    double level, level_bound; /* second less first */
    double hue, hue_bound;     /* degrees; bound 0: no two hues to compare */
    bool level_differs, hue_differs;
    bool missing; /* one of them lacks it */
};

struct palette_difference {
    double turn; /* degrees by which the second's hues lie from the first's, all together */
    int compared, differing, missing;
    struct colour_difference colour[PALETTE_REGISTERS][COLOUR_CODES];
};

void palette_differ(const struct palette *first, const struct palette *second,
                    struct palette_difference *difference);
json_t *palette_difference_json(const struct palette_difference *difference);
void palette_difference_text(FILE *stream, const struct palette_difference *difference);
void palette_difference_csv(FILE *stream, const struct palette_difference *difference);

#endif
