/*
 * What the files that judge plan `colours` share: what was measured of each code, what follows from it, and
 * what is wrong. Inside verdict/ only.
 */
#ifndef SLOTJIG_VERDICT_PALETTE_PARTS_H
#define SLOTJIG_VERDICT_PALETTE_PARTS_H

#include "verdict/palette.h"
#include "verdict/state.h"

enum {
    PALETTE_CLIPPED_FIELDS = 6, /* with so many that cut white off, no others are waited for */
    HUE_SHIFT = 3               /* code index: hue above, level below */
};

/* Of the fields of one code that cut white off, or of those that did not. Sums of squares round the mean. */
struct shade {
    int fields, at_limit; /* its own level stood at the end of the code range */
    double level, cb, cr;
    double level2, cb2, cr2, cross2;
};

/* Cells of flat pictures that are not like the rest: how often. */
struct strays {
    int fields;
    int cell[CELLS];
};

/* A field that is good if the next one is of its step too. */
struct candidate {
    uint32_t step; /* COLOUR_STEPS: none */
    bool clipped;
    struct shade shade;
    double codes;  /* black to white */
    double spread; /* of the lines' levels */
};

struct palette_state {
    const struct plan *plan;
    struct shade shades[PALETTE_REGISTERS][COLOUR_CODES][2]; /* [1]: white was cut off */
    struct candidate waiting;
    int mixing;    /* fields for which the source still counts as one that mixes */
    uint32_t last; /* step of the field before; COLOUR_STEPS: none */
    size_t owed;
    uint32_t turn, asked[COLOUR_STEPS]; /* when it was asked for; 0: not under way */
    long fields, chroma;
    bool blank;    /* the fields show the blank beside the picture */
    double codes;  /* mean black-white distance, codes */
    double spread; /* mean rms of the lines' levels within a picture */
    struct strays lit, dark;
    struct palette palette;
};

/* Units in which differences count, from all that was measured. */
struct palette_units {
    bool has_hue;                     /* hues are there to be judged */
    double step;                      /* level from code to code: a seventh of the range seen */
    double saturation;                /* of the hues, median; codes */
    double hue_step;                  /* codes between neighbouring hues */
    double level_sigma, chroma_sigma; /* of single fields, all codes together */
    double level_doubt; /* that fields of a step share, and those of another need not: where there is no blank
                           to hold against, hum lies between the slate and the picture */
};

/* A register's bits that change nothing, and what they seem to be held at. */
struct palette_stuck {
    uint8_t dead, high, unknown; /* masks; high and unknown are within dead */
};

/* Fills state->palette. */
void palette_work_out(struct palette_state *state);
struct palette_units palette_units_of(const struct palette_state *state);
bool palette_is_measured(const struct palette_colour *colour);

/* Differences in units: 1 is a step of the code. */
double palette_level_apart(const struct palette_units *units, const struct palette_colour *a,
                           const struct palette_colour *b);
double palette_hue_apart(const struct palette_units *units, const struct palette_colour *a,
                         const struct palette_colour *b);

void palette_find_stuck(const struct palette_state *state, const struct palette_units *units,
                        struct palette_stuck stuck[PALETTE_REGISTERS]);
/* Verdict and findings. */
void palette_conclude(struct palette_state *state, struct judge *judge, struct result *result);

#endif
