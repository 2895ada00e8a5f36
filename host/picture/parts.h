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
    CELL_SAMPLES_MAX = 64,
    LAST_BIT_CLOCKS = 15,  /* the eighth bit's width, see slate.h */
    LATE_CLOCKS_MOST = 12, /* by which a chip's writes to COLUBK may come late, and the slate still be read */
    EDGE_LINES = 12,       /* picture lines on which playfield edges are measured */
    EDGE_STEPS = 256,      /* steps of one cell in the circular mean's table: 1/64 clock */
    EDGES_MAX = EDGE_LINES * PICTURE_CLOCKS,
    BAND_CANDIDATES_MAX = 8 /* white bands tried in one field before giving up */
};

static inline const uint8_t *field_line(const struct field *field, int line) {
    return field->luma + (ptrdiff_t)line * field->stride;
}

/* The left edge of clock 0 on any line. */
static inline double raster_left(const struct raster *raster, int line) {
    return raster->left + raster->slant * (line - raster->top - (SLATE_BAND_LINES - 1) / 2.0);
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
/* Measures left, clock_width and white, in fractions of a sample from a place that is right to 10 samples;
 * top is taken over. False when an edge is not there. */
bool raster_measure(const struct field *field, const struct band_place *place, struct raster *raster);

enum slate_state {
    SLATE_ABSENT,
    SLATE_BROKEN,
    SLATE_GOOD,
    SLATE_MIXED /* good, and two fields' in one */
};
/* Reads the rows below the band and sets raster->black. *shift: clocks by which the chip's writes landed late
 * last time; a first guess, corrected when the check code is right at another. SLATE_ABSENT: what is there
 * are no rows. */
enum slate_state slate_read(const struct field *field, struct raster *raster, int *shift,
                            struct slate *slate);

/* Whether the field begins in the middle of the band, so that its lines are not where they seem. Black
 * stands.
 */
bool slate_beheaded(const struct field *field, const struct raster *raster);

/* Samples whose mean is a cell's level: its two middle clocks. */
int cells_samples(const struct raster *raster);
/* Fills lines, lit, unclear and the margin of *out, whose raster stands. */
void cells_read(const struct field *field, const struct picture_options *options, struct reading *out);

/* Fills noise, mixing and clipping of *out, whose raster stands. */
void chain_measure(const struct field *field, struct reading *out);

/* Fills has_chroma and both colours of *out, whose cells stand. */
void colours_measure(const struct field *field, struct reading *out);

/* Mean of a plane of colour over the slate's white band, codes: what beside_picture's and whole's is away
 * from. */
double beside_white(const struct field *field, const struct plane *plane, const struct raster *raster);

/* The grabber's slant, as far as the fields seen tell. */
struct slant {
    double value, variance;
    int waited, strangers;
    int fields;           /* looked at so far, up to a bound */
    bool shaky;           /* lines jitter */
    double jitter;        /* square of the samples, mean */
    double late;          /* clocks by which the slate's edges come late */
    double later[2];      /* and those of even, odd columns beyond that */
    struct slate last[2]; /* of the fields of either parity */
};
void slant_init(struct slant *slant);
double slant_now(const struct slant *slant); /* samples a line; 0 where it makes no difference */
/* A field's slate tells more. Where lines jitter, raster->left is mended too. */
void slant_follow(const struct field *field, const struct slate *slate, struct slant *slant,
                  struct raster *raster);

/* Nothing seen so far says where the lines below the slate lie. */
bool slant_is_unknown(const struct slant *slant, const struct raster *raster);
/* Whether slant and jitter leave it open where the playfield's edges lie. */
bool slant_hides_edges(const struct slant *slant, const struct raster *raster);

/* Fills beside_picture and beside_band of *out, whose raster and lines stand. */
void beside_measure(const struct field *field, struct reading *out);

enum { DETAIL_WIDTH_MAX = 4096 }; /* wider fields get no detail */
struct detail_tools {
    bool profiles, whole; /* as in struct picture_options */
    struct detail detail[DETAILS_KEPT];
    int last; /* of them, the newest */
    float sums[DETAIL_WIDTH_MAX];
};
/* Fills and sets detail of *out, whose raster, lines and colours stand; left NULL where it can't be. */
void detail_measure(struct detail_tools *tools, const struct field *field, bool placed, struct reading *out);
/* Fills whole and whole_spread of *detail. The reading's raster, lines and has_chroma stand. */
void whole_measure(const struct field *field, const struct reading *reading, struct detail *detail);

struct edge_tools {
    float cosine[EDGE_STEPS], sine[EDGE_STEPS];
    float position[EDGES_MAX]; /* clocks */
};
void edge_tools_init(struct edge_tools *tools);
/* Fills offset, edges and offset_spread of *out, whose raster and lines stand. */
void edges_measure(const struct field *field, struct edge_tools *tools, struct reading *out);

#endif
