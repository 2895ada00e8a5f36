/*
 * What the files of picture/ share: sample access, the band's place, and the parts of a reading. Private to
 * the stage.
 */
#ifndef SLOTJIG_PICTURE_PARTS_H
#define SLOTJIG_PICTURE_PARTS_H

#include "picture/picture.h"

#include <stddef.h>

enum {
    CONTRAST_MIN = 16, /* grabber codes: a field or an edge with less is flat */
    CELL_SAMPLES = 8,  /* samples whose mean is a cell's level: about its two middle clocks at 13.5 MHz */
    EDGE_LINES = 12,   /* picture lines on which playfield edges are measured */
    EDGE_STEPS = 256,  /* steps of one cell in the circular mean's table: 1/64 clock */
    EDGES_MAX = EDGE_LINES * PICTURE_CLOCKS,
    BAND_CANDIDATES_MAX = 8 /* white bands tried in one field before giving up */
};

static inline const uint8_t *field_line(const struct field *field, int line) {
    return field->luma + (ptrdiff_t)line * field->stride;
}

/* A white band's place as the search sees it: good to a few samples. */
struct band_place {
    int top;
    double left, right;
};

/* Bands in the upper half of the field, topmost first. *contrast: brightest less darkest stretch of the
 * field, in codes. */
int band_search(const struct field *field, struct band_place found[BAND_CANDIDATES_MAX], int *contrast);
/* True when the band still begins on the place's line. */
bool band_still_there(const struct field *field, const struct band_place *place);
/* Measures left, clock_width and white in fractions of a sample from a place that is right to 10 samples; top
 * is taken over. False when an edge is not there. */
bool raster_measure(const struct field *field, const struct band_place *place, struct raster *raster);

enum slate_state { SLATE_ABSENT, SLATE_BROKEN, SLATE_GOOD };
/* Reads the rows below the band and sets raster->black. *shift: clocks by which the chip's writes landed late
 * last time; a first guess, corrected when the check code is right at another. SLATE_ABSENT: what is there
 * are no rows. */
enum slate_state slate_read(const struct field *field, struct raster *raster, int *shift,
                            struct slate *slate);

/* Fills lines, lit, unclear and the margin of *out, whose raster stands. */
void cells_read(const struct field *field, const struct picture_options *options, struct reading *out);

/* Fills beside_picture and beside_band of *out, whose raster and lines stand. */
void beside_measure(const struct field *field, struct reading *out);

struct edge_tools {
    float cosine[EDGE_STEPS], sine[EDGE_STEPS];
    float position[EDGES_MAX]; /* clocks */
};
void edge_tools_init(struct edge_tools *tools);
/* Fills offset, edges and offset_spread of *out, whose raster and lines stand. */
void edges_measure(const struct field *field, struct edge_tools *tools, struct reading *out);

#endif
