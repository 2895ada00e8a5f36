/*
 * One field to raster, slate and cells. Knows nothing of what should be there: it never includes expect/ or
 * plan/. The raster is found from the slate's background edges, never from the playfield under test.
 */
#ifndef SLOTJIG_PICTURE_PICTURE_H
#define SLOTJIG_PICTURE_PICTURE_H

#include "capture/video.h"
#include "slate/slate.h"

#include <stdbool.h>
#include <stdint.h>

enum field_state {
    FIELD_READ,      /* slate and cells read */
    FIELD_NO_SIGNAL, /* flat: nothing that differs from line to line or along a line */
    FIELD_NO_SLATE,  /* a picture, but no slate in it */
    FIELD_BAD_SLATE  /* a white band with rows below it, but the check code disagrees */
};

/* Where the console's picture lies in the field. Samples and lines of the field, sample 0's centre is 0.0. */
struct raster {
    double left;         /* left edge of clock 0 of the 160 */
    double top;          /* first line of the slate's band */
    double clock_width;  /* samples a colour clock; a cell is 4 of them */
    double black, white; /* levels, in grabber codes */
    double slant;        /* samples by which each line lies to the right of the one above; `left` is that of
                            the middle of the slate's band */
};

/* A colour as the grabber gave it, mean over many cells. */
struct cell_colour {
    int count;     /* cells of lines it stands for, some of which were measured; 0: nothing is known */
    double level;  /* of the luma: 0 the slate's black, 1 its white */
    double cb, cr; /* codes away from grey, after what the slate's white itself has */
};
/* 0..360 degrees from the -Cb axis (where the burst lies) towards -Cr. */
double colour_hue(const struct cell_colour *colour);
double colour_saturation(const struct cell_colour *colour); /* codes */

/* What plans that measure need beyond cells: profiles, or the whole picture's colour, as picture_options ask.
 * Lines are the picture's, below the slate. Point i of a profile lies at (i + 0.5) / PROFILE_FINE clocks from
 * the raster's left on the line at hand (slant included). Levels: 0 the slate's black, 1 its white. */
enum { DETAILS_KEPT = 2 }; /* as many as a frame has fields */
enum { PROFILE_FINE = 4, PROFILE_POINTS = PICTURE_CLOCKS * PROFILE_FINE, PROFILE_PERIOD = 4 };
struct detail {
    /* Mean luma of the lines whose number modulo PROFILE_PERIOD is the index, of whole periods from line 1
     * on. */
    float profile[PROFILE_PERIOD][PROFILE_POINTS];
    int lines[PROFILE_PERIOD]; /* that went into it; 0: it is not filled */
    bool placed;               /* slant and jitter leave no doubt about where its edges lie */
    /* The whole picture's one colour: mean over its middle, clocks 8 to 151, without the first and last eight
     * lines. count: lines; 0: it is not filled. */
    struct cell_colour whole;
    double whole_spread;          /* rms of the lines' levels */
    double whole_low, whole_high; /* the darkest and the brightest line's mean, codes */
    bool shares_chroma; /* a line of chroma may be the mean of both fields of the frame (woven 4:2:0) */
};

struct reading {
    enum field_state state;
    struct slate slate;
    struct raster raster;
    uint64_t lit[PICTURE_LINES_MAX];     /* bit n: cell n lit */
    uint64_t unclear[PICTURE_LINES_MAX]; /* bit n: cell n's margin is below the bound (its lit bit says which
                                            side of the threshold) */
    double margin; /* worst cell's: distance from the threshold over half the black-white distance, clipped to
                      0..1 */
    int margin_line, margin_cell; /* which cell that was */
    int lines; /* picture lines below the slate that were read: fewer than the standard's when the field ends
                */
    int edges; /* of the playfield that were measured; 0: `offset` means nothing */
    /* Playfield edges against the raster: circular mean of the edge positions modulo one cell, -2..2 clocks,
     * over a few lines spread over the picture. */
    double offset;
    double offset_spread; /* rms distance of single edges from the mean, clocks */
    /* The cells' two colours, from cells whose neighbours in the line are like them. */
    struct cell_colour lit_colour, dark_colour;
    /* The blank left of the picture: black and grey whatever the colour registers hold. cb and cr are away
     * from the slate's white as above, so those of a grey slate are 0. count 0: the field does not show it.
     */
    struct cell_colour beside_picture; /* on lines of the picture */
    double beside_low;                 /* its darkest line's mean there, codes */
    double beside_band, band_white;    /* levels, on the middle line of the slate's white band: of the blank
                                          beside it, and its own: 1 but for what the grabber mixes in */
    bool has_chroma;                   /* the field carries colour differences at all */
    /* What the grabber does to the picture, all from the slate. */
    double noise;  /* rms of the luma on flat parts, codes */
    double mixing; /* share of the lines next to it that a line holds: 0 none, 0.5 as much as of itself */
    double echo;   /* share of its white that the slate's band has more of at its end than near its beginning:
                      what   an echo of more than a cell adds; below 0: takes away */
    bool clips_white,
        clips_black; /* the level stands at the end of the code range, so that more is cut off */
    bool blended;    /* two of the console's fields in one: slate is the older one's */
    bool unsettled;  /* how far the lines lean is not known yet: what looks wrong may lie elsewhere */
    const struct detail *detail; /* of the picture's (picture_read()'s) own, good until DETAILS_KEPT more
                                    were read; NULL where not asked for */
};

struct picture_options {
    enum standard standard;
    double unclear_below; /* margin bound; 0 or less: PICTURE_UNCLEAR */
    bool profiles, whole; /* fill these parts of the readings' detail */
};
#define PICTURE_UNCLEAR 0.25

struct picture; /* remembers the raster of the last good field as a first guess; allocated once */

struct picture *picture_new(const struct picture_options *options);
void picture_free(struct picture *picture);
/* Reads one field. Never allocates. out->state says what was found; cells and raster only with FIELD_READ. */
void picture_read(struct picture *picture, const struct field *field, struct reading *out);

#endif
