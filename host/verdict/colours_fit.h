/*
 * What the colour registers would draw under a supposition, held against what was measured. Inside verdict/
 * only.
 */
#ifndef SLOTJIG_VERDICT_COLOURS_FIT_H
#define SLOTJIG_VERDICT_COLOURS_FIT_H

#include "verdict/state.h"

#define COLOUR_STEP (1.0 / 7) /* of luminance; 1 is white */
#define COLOUR_GREY 0.06      /* colour differences over the black-white distance: less is grey */
#define COLOUR_OUTLIERS 0.1   /* share of what was measured that may disagree */

enum side { LIT, DARK, SIDES };

/* What the two registers do to what they are told. */
struct fault {
    uint8_t keep[SIDES], force[SIDES];
};
extern const struct fault colours_no_fault;

struct foretold {
    double level;
    bool hue;
    double angle; /* degrees */
};

/* One thing that was measured, and what was foretold of it. */
struct item {
    const struct colour_mean *seen;
    enum side side;
    bool white;
    bool clipped; /* seen in fields that cut white off */
    struct foretold foretold;
};

struct items {
    const struct judge *judge;
    const struct fault *fault;
    double most[SIDES];
    size_t at; /* step and side; then the slate's white */
};

/* What grabber and console do to all hues together: a turn, and by the console's colour trimmer as much from
 * hue to hue. */
struct turn {
    bool known;
    double rotation, slope, middle; /* degrees; degrees a hue, from the middle hue on */
};

/* What was off under what is known, of each register, and how far. */
struct offs {
    int items[SIDES], off[SIDES], far[SIDES];
    struct item worst[SIDES];
};

/* In the black-white distance. */
double colours_chroma_of(const struct colour_mean *seen);
/* Whether the hues' angles are this standard's and this grabber's to judge. */
bool colours_judges_hue(const struct judge *judge, const struct item *item);
/* 1 is off, 0 as foretold. */
double colours_offness(const struct judge *judge, const struct item *item, const struct turn *turn);
/* All that was measured well enough, one after the other, always in the same order. */
struct items colours_items_of(const struct judge *judge, const struct fault *fault);
bool colours_next_item(struct items *items, struct item *item);
/* Nothing is coloured: a grabber without colour shows no hue, and rules none out. */
bool colours_sees_no_hue(const struct judge *judge);
/* As it would be under the supposition. */
struct turn colours_turn_of(const struct judge *judge, const struct fault *fault);
/* Of levels and hues together. Negative: it does not fit. */
double colours_error_of(const struct judge *judge, const struct fault *fault);
struct offs colours_count_off(const struct judge *judge, const struct fault *fault);

#endif
