#include "verdict/colours_fit.h"

#include <math.h>

/* Levels: 1 is white. A step of luminance is 1/7 = 0.143. On all virtual grabbers a good console's means lie
 * within 0.013 of what they should be. What is off by 0.06 on the whole may be a stuck bit, if one fits to
 * less than half a step; without that it takes a half more to be called wrong. */
#define LEVEL_OFF 0.06
#define LEVEL_FITS 0.065
#define ECHO_LEAST 0.03
#define FAR_OFF 1.6 /* of the bounds of what is off */
/* Colour differences over the black-white distance. Broadcast colour bars of 75 % reach 0.5 to 0.6, a video
 * chip's hues some 0.15 to 0.3 [P]; grey has none but what noise and cross-colour leave. */
#define CHROMA_OFF 0.08
#define ANGLE_STEP 24.0        /* degrees from hue to hue: 15 of them in 360 [H 4.0 + A] */
#define ANGLE_FITS 30.0        /* a grabber's own turn of all hues among them [P] */
#define ANGLE_FITS_TURNED 11.0 /* less than half the way to the next hue, once that turn is known */
#define ROTATION_HUES 3        /* different hues it takes to know it */
#define SLOPE_HUES 5           /* and to know the colour trimmer's part */
#define WIDE 0.5         /* of the most cells of a colour in a step: fewer are too narrow to be sure of */
#define WIDE_ENOUGH 60   /* five cells on each of the dozen lines that are looked at */
#define CLIPPED_MOST 1.3 /* more than that above white is not expected of a grabber's gain [P] */

enum { FIELDS_LEAST = 2, HUES = 16 };

/* A gain that hunts cuts white off in some fields: those that were not cut off are better, if there are a few
 * that show the colour. */
static bool uses_clipped(const struct judge *judge, enum side side) {
    const double *cells = judge->colours.cells[side];
    return cells[0] < cells[1] * COLOUR_OUTLIERS;
}

/* The same of a step: one that was seen in fields that cut white off alone is not left out. */
static bool step_uses_clipped(const struct judge *judge, const struct step_state *step, enum side side) {
    return uses_clipped(judge, side) || step->colours[0][side].fields < FIELDS_LEAST;
}

static const struct colour_mean *seen_in(const struct judge *judge, const struct step_state *step,
                                         enum side side) {
    return &step->colours[step_uses_clipped(judge, step, side)][side];
}

/* ---- what a supposition foretells ---- */

const struct fault colours_no_fault = {{0xFF, 0xFF}, {0, 0}};

/* What a register holds that was told `value`. */
static uint8_t held(const struct fault *fault, enum side side, int value) {
    return (uint8_t)((value & fault->keep[side]) | fault->force[side]);
}

static double luminance(uint8_t colour) {
    return (colour >> 1 & 7) / 7.0;
}

static struct foretold foretell(const struct colours *run, const struct fault *fault, uint8_t colour) {
    const double white = luminance(held(fault, DARK, SLATE_WHITE));
    const double black = run->blank ? 0 : luminance(held(fault, DARK, SLATE_BLACK));
    const int hue = colour >> 4;
    return (struct foretold){.level = white > black ? (luminance(colour) - black) / (white - black) : 0,
                             .hue = hue != 0,
                             .angle = (hue - 1) * ANGLE_STEP};
}

/* ---- holding it against what was seen ---- */

double colours_chroma_of(const struct colour_mean *seen) {
    return hypot(seen->cb, seen->cr);
}

static double hue_of(const struct item *item) {
    return item->foretold.angle / ANGLE_STEP;
}

/* Of seen against foretold, -180..180. */
static double angle_between(const struct item *item, const struct turn *turn) {
    double degrees = atan2(-item->seen->cr, -item->seen->cb) * 180 / M_PI;
    double away = turn->rotation + turn->slope * (hue_of(item) - turn->middle);
    return remainder(degrees - item->foretold.angle - away, 360);
}

/* The slate's white has all of an echo in it, a cell what its neighbourhood leaves: any share of it. */
static double without_echo(const struct colours *run, double level, double error) {
    if (fabs(run->echo) < ECHO_LEAST) {
        return error;
    }
    double one = -run->echo * level, other = run->echo * (1 - level);
    double low = fmin(fmin(one, other), 0), high = fmax(fmax(one, other), 0);
    return error < low ? error - low : error > high ? error - high : 0;
}

static double level_error(const struct judge *judge, const struct item *item) {
    double error =
        without_echo(&judge->colours, item->foretold.level, item->seen->level - item->foretold.level);
    bool lit = item->side == LIT || item->foretold.level >= COLOUR_STEP;
    if (item->white) {
        return 0;
    }
    if (item->clipped && lit && error > 0 && item->foretold.level <= 1) {
        /* White was cut off, so that what is darker seems lighter than it is; and less is likelier. */
        double more = item->seen->level / fmax(item->foretold.level, COLOUR_STEP) - 1;
        return more < CLIPPED_MOST - 1 ? more * COLOUR_STEP : error;
    }
    if (error < 0 && item->foretold.level > 1 && item->seen->level > 1 && judge->colours.ceiling) {
        /* Lighter than the slate's white: that is cut off before white is. */
        return error * COLOUR_STEP;
    }
    return error;
}

/* Whether the hues' angles are this standard's and this grabber's to judge. */
bool colours_judges_hue(const struct judge *judge, const struct item *item) {
    return judge->colours.chroma * 2 > judge->colours.fields &&
           !(item->foretold.hue && judge->colours.no_hue) &&
           (judge->plan->standard == STANDARD_NTSC || !item->foretold.hue);
}

/* In shares of what would be too far. */
static double chroma_error(const struct judge *judge, const struct item *item, const struct turn *turn) {
    double chroma = colours_chroma_of(item->seen);
    if (!colours_judges_hue(judge, item)) {
        return 0;
    }
    if (!item->foretold.hue) {
        return chroma / COLOUR_GREY;
    }
    double fits = turn->known ? ANGLE_FITS_TURNED : ANGLE_FITS;
    return chroma < COLOUR_GREY ? 2 : fabs(angle_between(item, turn)) / fits;
}

/* 1 is off, 0 as foretold. */
double colours_offness(const struct judge *judge, const struct item *item, const struct turn *turn) {
    double level = fabs(level_error(judge, item)) / LEVEL_OFF;
    double chroma = chroma_error(judge, item, turn) * (item->foretold.hue ? 1 : COLOUR_GREY / CHROMA_OFF);
    return fmin(fmax(level, chroma), 2);
}

/* Most cells of a colour that a step shows. */
static double most_cells(const struct judge *judge, enum side side) {
    double most = 0;
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        most = fmax(most, seen_in(judge, &judge->steps[i], side)->cells);
    }
    return most;
}

struct items colours_items_of(const struct judge *judge, const struct fault *fault) {
    return (struct items){
        .judge = judge, .fault = fault, .most = {most_cells(judge, LIT), most_cells(judge, DARK)}};
}

bool colours_next_item(struct items *items, struct item *item) {
    const struct judge *judge = items->judge;
    while (items->at < 2 * judge->plan->step_count) {
        const struct step_state *step = &judge->steps[items->at / 2];
        enum side side = (enum side)(items->at++ % 2);
        const struct colour_mean *seen = seen_in(judge, step, side);
        int expected = side == LIT ? step->expect.lit_colour : step->expect.dark_colour;
        if (expected >= 0 && seen->fields >= FIELDS_LEAST &&
            seen->cells >= fmin(items->most[side] * WIDE, WIDE_ENOUGH)) {
            *item = (struct item){
                .seen = seen,
                .side = side,
                .clipped = step_uses_clipped(judge, step, side),
                .foretold = foretell(&judge->colours, items->fault, held(items->fault, side, expected))};
            return true;
        }
    }
    if (items->at++ == 2 * judge->plan->step_count && judge->colours.blank) {
        uint8_t white = held(items->fault, DARK, SLATE_WHITE);
        *item = (struct item){.seen = &judge->colours.white[uses_clipped(judge, DARK)],
                              .side = DARK,
                              .white = true,
                              .foretold = foretell(&judge->colours, items->fault, white)};
        return judge->colours.fields > 0;
    }
    return false;
}

static bool next_hue(struct items *items, struct item *item) {
    while (colours_next_item(items, item)) {
        if (item->foretold.hue && colours_chroma_of(item->seen) >= COLOUR_GREY) {
            return true;
        }
    }
    return false;
}

/* Nothing is coloured: a grabber without colour shows no hue, and rules none out. */
bool colours_sees_no_hue(const struct judge *judge) {
    struct items items = colours_items_of(judge, &colours_no_fault);
    struct item item;
    while (colours_next_item(&items, &item)) {
        if (colours_chroma_of(item.seen) >= COLOUR_GREY) {
            return false;
        }
    }
    return true;
}

static int different_hues(struct items items, double *middle) {
    bool hues[HUES] = {false};
    struct item item;
    int different = 0;
    *middle = 0;
    while (next_hue(&items, &item)) {
        int hue = (int)lround(hue_of(&item)) & (HUES - 1);
        *middle += hues[hue] ? 0 : hue;
        different += !hues[hue];
        hues[hue] = true;
    }
    *middle /= different > 0 ? different : 1;
    return different;
}

/* Least squares round the circular mean. */
static double slope_of(struct items items, const struct turn *turn) {
    struct item item;
    double xx = 0, xy = 0;
    while (next_hue(&items, &item)) {
        double x = hue_of(&item) - turn->middle;
        xx += x * x;
        xy += x * angle_between(&item, turn);
    }
    return xx > 0 ? xy / xx : 0;
}

struct turn colours_turn_of(const struct judge *judge, const struct fault *fault) {
    static const struct turn none;
    struct turn turn = none;
    struct items items = colours_items_of(judge, fault), all = items;
    struct item item;
    double x = 0, y = 0;
    int different = different_hues(all, &turn.middle);
    if (different < ROTATION_HUES) {
        return none;
    }
    while (next_hue(&items, &item)) {
        double away = angle_between(&item, &none) * M_PI / 180;
        x += cos(away);
        y += sin(away);
    }
    turn.known = true;
    turn.rotation = atan2(y, x) * 180 / M_PI;
    turn.slope = different >= SLOPE_HUES ? slope_of(all, &turn) : 0;
    return turn;
}

/* Of levels and hues together. Negative: it does not fit. */
double colours_error_of(const struct judge *judge, const struct fault *fault) {
    struct items items = colours_items_of(judge, fault);
    struct item item;
    struct turn turn = colours_turn_of(judge, fault);
    double sum = 0;
    int count = 0, off = 0;
    while (colours_next_item(&items, &item)) {
        double level = fabs(level_error(judge, &item)) / LEVEL_FITS;
        double chroma = chroma_error(judge, &item, &turn);
        double error = fmax(level, chroma);
        off += error > 1;
        sum += fmin(error, 2);
        count++;
    }
    return count == 0 || off > count * COLOUR_OUTLIERS ? -1 : sum / count;
}

struct offs colours_count_off(const struct judge *judge, const struct fault *fault) {
    struct offs offs = {.items = {0}};
    struct items items = colours_items_of(judge, fault);
    struct item item;
    struct turn turn = colours_turn_of(judge, fault);
    while (colours_next_item(&items, &item)) {
        offs.items[item.side] += !item.white;
        double by = colours_offness(judge, &item, &turn);
        offs.far[item.side] += by > FAR_OFF;
        if (by > 1) {
            offs.off[item.side]++;
            if (offs.worst[item.side].seen == NULL || offs.worst[item.side].white) {
                offs.worst[item.side] = item;
            }
        }
    }
    return offs;
}
