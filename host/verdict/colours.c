#include "verdict/colours.h"

#include "verdict/advice.h"

#include <math.h>
#include <stdio.h>

/* Levels: 1 is white. A step of luminance is 1/7 = 0.143. On all virtual grabbers a good console's means lie
 * within 0.013 of what they should be. What is off by 0.06 on the whole may be a stuck bit, if one fits to
 * less than half a step; without that it takes a half more to be called wrong. */
#define STEP (1.0 / 7)
#define LEVEL_OFF 0.06
#define LEVEL_FITS 0.065
#define FAR_OFF 1.6 /* of the bounds of what is off */
/* Colour differences over the black-white distance. Broadcast colour bars of 75 % reach 0.5 to 0.6, a video
 * chip's hues some 0.15 to 0.3 [P]; grey has none but what noise and cross-colour leave. */
#define CHROMA_OFF 0.08
#define CHROMA_GREY 0.06
#define ANGLE_STEP 24.0        /* degrees from hue to hue: 15 of them in 360 [H 4.0 + A] */
#define ANGLE_FITS 30.0        /* a grabber's own turn of all hues among them [P] */
#define ANGLE_FITS_TURNED 11.0 /* less than half the way to the next hue, once that turn is known */
#define ROTATION_HUES 3        /* different hues it takes to know it */
#define SLOPE_HUES 5           /* and to know the colour trimmer's part */
#define OUTLIERS 0.1           /* share of what was measured that may disagree */
#define WIDE 0.5         /* of the most cells of a colour in a step: fewer are too narrow to be sure of */
#define CLIPPED_MOST 1.3 /* more than that above white is not expected of a grabber's gain [P] */

#define CODE_CEILING 252 /* codes: with noise, the mean of what is cut off at 254 or 255 */

enum { FIELDS_LEAST = 2, HUES = 16 };

enum side { LIT, DARK, SIDES };

/* ---- gathering ---- */

static int popcount(uint64_t cells) {
    return __builtin_popcountll(cells);
}

static void mix(struct cell_colour *into, const struct cell_colour *other) {
    int count = into->count + other->count;
    if (count > 0) {
        double share = (double)other->count / count;
        into->level += (other->level - into->level) * share;
        into->cb += (other->cb - into->cb) * share;
        into->cr += (other->cr - into->cr) * share;
        into->count = count;
    }
}

/* Where all cells are expected alike, what most are seen as is that colour, though it be seen as the other.
 */
static void sort_sides(const struct step_state *step, const struct reading *reading,
                       struct cell_colour sides[SIDES]) {
    sides[LIT] = reading->lit_colour;
    sides[DARK] = reading->dark_colour;
    if (step->flat != FLAT_NOT) {
        enum side expected = step->flat == FLAT_LIT ? LIT : DARK;
        enum side seen = 2 * popcount(reading->lit[step->expect.lines / 2]) > CELLS ? LIT : DARK;
        sides[expected] = sides[seen];
        sides[1 - expected].count = 0;
    }
}

/* Too many cells unclear or wrong: then those that seem dark are not the ones that should be. */
static bool is_muddled(const struct step_state *step, const struct reading *reading) {
    int line = step->expect.lines / 2;
    uint64_t lit = step->expect.lit[line], dark = CELLS_ALL & ~lit;
    uint64_t bad = reading->unclear[line] | (reading->lit[line] ^ lit);
    return step->flat == FLAT_NOT &&
           (popcount(bad & lit) * 4 > popcount(lit) || popcount(bad & dark) * 4 > popcount(dark));
}

static void add_mean(struct colour_mean *mean, const struct cell_colour *colour) {
    double share = 1.0 / (double)++mean->fields;
    mean->cells += (colour->count - mean->cells) * share;
    mean->level += (colour->level - mean->level) * share;
    mean->cb += (colour->cb - mean->cb) * share;
    mean->cr += (colour->cr - mean->cr) * share;
}

/* To black and grey from the blank, and white at 1. */
static struct cell_colour against_blank(const struct cell_colour *colour, const struct reading *reading) {
    const bool blank = reading->beside_picture.count > 0;
    double black = blank ? reading->beside_picture.level : 0;
    double span = blank ? reading->band_white - reading->beside_band : 1;
    double codes = span * (reading->raster.white - reading->raster.black);
    return (struct cell_colour){.count = colour->count,
                                .level = (colour->level - black) / span,
                                .cb = (colour->cb - reading->beside_picture.cb) / codes,
                                .cr = (colour->cr - reading->beside_picture.cr) / codes};
}

static void add_run(struct colours *run, const struct reading *reading) {
    static const struct cell_colour white = {.count = 1, .level = 1};
    struct cell_colour colour = against_blank(&white, reading);
    run->blank = reading->beside_picture.count > 0;
    run->fields++;
    run->clipped += reading->clips_white;
    run->chroma += reading->has_chroma;
    add_mean(&run->white[reading->clips_white], &colour);
}

static void add_result(struct step_result *result, const struct cell_colour sides[SIDES]) {
    mix(&result->lit_colour, &sides[LIT]);
    mix(&result->dark_colour, &sides[DARK]);
}

void colours_add(struct judge *judge, struct step_state *step, const struct reading *reading) {
    struct cell_colour sides[SIDES];
    const bool blank = reading->beside_picture.count > 0;
    if ((judge->colours.fields > 0 && blank != judge->colours.blank) ||
        !(reading->raster.white > reading->raster.black) ||
        (blank && reading->band_white - reading->beside_band < 0.5) || is_muddled(step, reading)) {
        return;
    }
    sort_sides(step, reading, sides);
    double lit = reading->raster.black + sides[LIT].level * (reading->raster.white - reading->raster.black);
    judge->colours.ceiling |= sides[LIT].count > 0 && lit > CODE_CEILING;
    add_run(&judge->colours, reading);
    add_result(&step->result, sides);
    for (int side = 0; side < SIDES; side++) {
        if (sides[side].count > 0) {
            struct cell_colour colour = against_blank(&sides[side], reading);
            judge->colours.cells[side][reading->clips_white] += sides[side].count;
            add_mean(&step->colours[reading->clips_white][side], &colour);
        }
    }
}

/* A gain that hunts cuts white off in some fields: those that were not cut off are better, if there are a few
 * that show the colour. */
static bool uses_clipped(const struct judge *judge, enum side side) {
    const double *cells = judge->colours.cells[side];
    return cells[0] < cells[1] * OUTLIERS;
}

static const struct colour_mean *seen_in(const struct judge *judge, const struct step_state *step,
                                         enum side side) {
    return &step->colours[uses_clipped(judge, side)][side];
}

/* ---- what a supposition foretells ---- */

/* What the two registers do to what they are told. */
struct fault {
    uint8_t keep[SIDES], force[SIDES];
};

static const struct fault no_fault = {{0xFF, 0xFF}, {0, 0}};

static uint8_t held(const struct fault *fault, enum side side, int value) {
    return (uint8_t)((value & fault->keep[side]) | fault->force[side]);
}

struct foretold {
    double level;
    bool hue;
    double angle; /* degrees */
};

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

/* One thing that was measured, and what was foretold of it. */
struct item {
    const struct colour_mean *seen;
    enum side side;
    bool white;
    struct foretold foretold;
};

static double chroma_of(const struct colour_mean *seen) {
    return hypot(seen->cb, seen->cr);
}

/* What grabber and console do to all hues together: a turn, and by the console's colour trimmer as much from
 * hue to hue. */
struct turn {
    bool known;
    double rotation, slope, middle; /* degrees; degrees a hue, from the middle hue on */
};

static double hue_of(const struct item *item) {
    return item->foretold.angle / ANGLE_STEP;
}

/* Of seen against foretold, -180..180. */
static double angle_between(const struct item *item, const struct turn *turn) {
    double degrees = atan2(-item->seen->cr, -item->seen->cb) * 180 / M_PI;
    double away = turn->rotation + turn->slope * (hue_of(item) - turn->middle);
    return remainder(degrees - item->foretold.angle - away, 360);
}

static double level_error(const struct judge *judge, const struct item *item) {
    double error = item->seen->level - item->foretold.level;
    bool clipped = uses_clipped(judge, item->side);
    if (item->white) {
        return 0;
    }
    if (clipped && item->side == LIT && error > 0 && item->foretold.level <= 1) {
        /* White was cut off, so that what is darker seems lighter than it is; and less is likelier. */
        double more = item->seen->level / fmax(item->foretold.level, STEP) - 1;
        return more < CLIPPED_MOST - 1 ? more * STEP : error;
    }
    if (error < 0 && item->foretold.level > 1 && item->seen->level > 1 && judge->colours.ceiling) {
        /* Lighter than the slate's white: that is cut off before white is. */
        return error * STEP;
    }
    return error;
}

/* Whether the hues' angles are this standard's and this grabber's to judge. */
static bool judges_hue(const struct judge *judge, const struct item *item) {
    return judge->colours.chroma * 2 > judge->colours.fields &&
           !(item->foretold.hue && judge->colours.no_hue) &&
           (judge->plan->standard == STANDARD_NTSC || !item->foretold.hue);
}

/* In shares of what would be too far. */
static double chroma_error(const struct judge *judge, const struct item *item, const struct turn *turn) {
    double chroma = chroma_of(item->seen);
    if (!judges_hue(judge, item)) {
        return 0;
    }
    if (!item->foretold.hue) {
        return chroma / CHROMA_GREY;
    }
    double fits = turn->known ? ANGLE_FITS_TURNED : ANGLE_FITS;
    return chroma < CHROMA_GREY ? 2 : fabs(angle_between(item, turn)) / fits;
}

/* 1 is off, 0 as foretold. */
static double offness(const struct judge *judge, const struct item *item, const struct turn *turn) {
    double level = fabs(level_error(judge, item)) / LEVEL_OFF;
    double chroma = chroma_error(judge, item, turn) * (item->foretold.hue ? 1 : CHROMA_GREY / CHROMA_OFF);
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

struct items {
    const struct judge *judge;
    const struct fault *fault;
    double most[SIDES];
    size_t at; /* step and side; then the slate's white */
};

static struct items items_of(const struct judge *judge, const struct fault *fault) {
    return (struct items){
        .judge = judge, .fault = fault, .most = {most_cells(judge, LIT), most_cells(judge, DARK)}};
}

static bool next_item(struct items *items, struct item *item) {
    const struct judge *judge = items->judge;
    while (items->at < 2 * judge->plan->step_count) {
        const struct step_state *step = &judge->steps[items->at / 2];
        enum side side = (enum side)(items->at++ % 2);
        const struct colour_mean *seen = seen_in(judge, step, side);
        int expected = side == LIT ? step->expect.lit_colour : step->expect.dark_colour;
        if (expected >= 0 && seen->fields >= FIELDS_LEAST && seen->cells >= items->most[side] * WIDE) {
            *item = (struct item){
                .seen = seen,
                .side = side,
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
    while (next_item(items, item)) {
        if (item->foretold.hue && chroma_of(item->seen) >= CHROMA_GREY) {
            return true;
        }
    }
    return false;
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

static struct turn turn_of(const struct judge *judge, const struct fault *fault) {
    static const struct turn none;
    struct turn turn = none;
    struct items items = items_of(judge, fault), all = items;
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

/* ---- suppositions ---- */

struct guess {
    struct fault fault;
    enum side side;
    int bit;
    bool high;
    double error; /* mean; 1 is as bad as it may be */
};

/* Of levels and hues together. Negative: it does not fit. */
static double error_of(const struct judge *judge, const struct fault *fault) {
    struct items items = items_of(judge, fault);
    struct item item;
    struct turn turn = turn_of(judge, fault);
    double sum = 0;
    int count = 0, off = 0;
    while (next_item(&items, &item)) {
        double level = fabs(level_error(judge, &item)) / LEVEL_FITS;
        double chroma = chroma_error(judge, &item, &turn);
        double error = fmax(level, chroma);
        off += error > 1;
        sum += fmin(error, 2);
        count++;
    }
    return count == 0 || off > count * OUTLIERS ? -1 : sum / count;
}

static enum reg reg_of(enum side side) {
    return side == LIT ? REG_COLUPF : REG_COLUBK;
}

/* What the guess would change is off indeed, on the whole, and nearly all of it by half at least. */
static bool is_confirmed(const struct judge *judge, const struct fault *before, const struct fault *guess) {
    struct items items = items_of(judge, before), others = items_of(judge, guess);
    struct item item, other;
    struct turn turn = turn_of(judge, guess); /* it is the guess that fits */
    int changed = 0, half_off = 0;
    double off = 0;
    while (next_item(&items, &item) && next_item(&others, &other)) {
        bool hue = item.foretold.hue != other.foretold.hue ||
                   (item.foretold.hue && item.foretold.angle != other.foretold.angle);
        bool level = !item.white && fabs(item.foretold.level - other.foretold.level) > STEP / 2;
        if ((hue && judges_hue(judge, &other)) || level) {
            changed++;
            double by = offness(judge, &item, &turn);
            off += by;
            half_off += by > 0.5;
        }
    }
    return changed > 0 && off > changed && half_off >= changed * (1 - 2 * OUTLIERS);
}

/* How many fit, the best first. */
static int find_guesses(const struct judge *judge, const struct fault *before, struct guess guesses[],
                        int most) {
    int count = 0;
    for (int trial = 0; trial < 2 * 2 * 7; trial++) {
        struct guess guess = {
            .fault = *before, .side = (enum side)(trial / 14), .bit = 1 + trial % 14 / 2, .high = trial & 1};
        uint8_t mask = (uint8_t)(1u << guess.bit);
        guess.fault.keep[guess.side] &= guess.high ? 0xFF : (uint8_t)~mask;
        guess.fault.force[guess.side] |= guess.high ? mask : 0;
        guess.error = error_of(judge, &guess.fault);
        int at = count < most ? count : most - 1;
        if (guess.error < 0 || (count == most && guess.error >= guesses[at].error) ||
            !is_confirmed(judge, before, &guess.fault)) {
            continue;
        }
        while (at > 0 && guesses[at - 1].error > guess.error) {
            guesses[at] = guesses[at - 1];
            at--;
        }
        guesses[at] = guess;
        count += count < most;
    }
    return count;
}

/* What was off under what is known, of each register, and how far. */
struct offs {
    int items[SIDES], off[SIDES], far[SIDES];
    struct item worst[SIDES];
};

static struct offs count_off(const struct judge *judge, const struct fault *fault) {
    struct offs offs = {.items = {0}};
    struct items items = items_of(judge, fault);
    struct item item;
    struct turn turn = turn_of(judge, fault);
    while (next_item(&items, &item)) {
        offs.items[item.side] += !item.white;
        double by = offness(judge, &item, &turn);
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

/* ---- telling ---- */

static struct finding *add(struct judge *judge, enum side side) {
    struct result *result = &judge->result;
    if (result->finding_count == FINDINGS_MAX) {
        return NULL;
    }
    struct finding *finding = &result->findings[result->finding_count++];
    *finding = (struct finding){.kind = FINDING_COLOUR_WRONG,
                                .reg = (int)reg_of(side),
                                .bit = -1,
                                .rate = 1,
                                .rate_low = 1,
                                .rate_high = 1};
    snprintf(finding->next, sizeof finding->next, "%s", advice_next(FINDING_COLOUR_WRONG));
    return finding;
}

static void name_colour(bool hue, double level, double angle, char *text, size_t size) {
    if (hue) {
        snprintf(text, size, "luminance %.1f of 7, hue at %d degrees", level * 7,
                 (int)lround(angle + 360) % 360);
    } else {
        snprintf(text, size, "luminance %.1f of 7, grey", level * 7);
    }
}

static void say_item(const struct item *item, char *text, size_t size) {
    char expected[64], seen[64];
    double chroma = chroma_of(item->seen);
    double angle = atan2(-item->seen->cr, -item->seen->cb) * 180 / M_PI;
    name_colour(item->foretold.hue, item->foretold.level, item->foretold.angle, expected, sizeof expected);
    name_colour(chroma >= CHROMA_GREY, item->seen->level, angle, seen, sizeof seen);
    snprintf(text, size, "%s: expected %s; seen %s",
             item->white         ? "the slate's white (COLUBK $0E)"
             : item->side == LIT ? "lit cells (COLUPF)"
                                 : "dark cells (COLUBK)",
             expected, seen);
}

/* The item that says most of what is wrong: of the register at fault where it has one. */
static const struct item *telling_item(const struct offs *offs, enum side side) {
    return offs->worst[side].seen != NULL ? &offs->worst[side] : &offs->worst[1 - side];
}

static void tell_guesses(struct judge *judge, const struct offs *offs, const struct guess *guesses,
                         int count) {
    const size_t before = judge->result.finding_count;
    const int first = before > 0 ? judge->result.findings[before - 1].explanation + 1 : 0;
    for (int i = 0; i < count; i++) {
        struct finding *finding = add(judge, guesses[i].side);
        char item[200], other[64] = "";
        if (finding == NULL) {
            return;
        }
        finding->bit = guesses[i].bit;
        finding->alternative = count > 1;
        finding->explanation = first + i;
        if (count > 1) {
            const struct guess *next = &guesses[(i + 1) % count];
            snprintf(other, sizeof other, " Fits nearly as well: %s D%d stuck %s.",
                     reg_name(reg_of(next->side)), next->bit, next->high ? "high" : "low");
        }
        say_item(telling_item(offs, guesses[i].side), item, sizeof item);
        snprintf(finding->text, sizeof finding->text, "%s D%d stuck %s. In %s.%s",
                 reg_name(reg_of(guesses[i].side)), guesses[i].bit, guesses[i].high ? "high" : "low", item,
                 other);
    }
}

static void tell_registers(struct judge *judge, const struct offs *offs) {
    for (int side = 0; side < SIDES; side++) {
        struct finding *finding =
            offs->far[side] > (1 - OUTLIERS) * offs->items[side] ? add(judge, (enum side)side) : NULL;
        if (finding != NULL) {
            char item[200];
            say_item(&offs->worst[side], item, sizeof item);
            snprintf(finding->text, sizeof finding->text,
                     "%s draws another colour than it is told, and no single stuck bit explains it. In %s.",
                     reg_name(reg_of((enum side)side)), item);
        }
    }
}

static struct fault fault_of(const struct cause *cause) {
    struct fault fault = no_fault;
    if (cause != NULL && cause->kind == FINDING_DATA_LINE_STUCK) {
        uint8_t mask = (uint8_t)(1u << cause->bit);
        for (int side = 0; side < SIDES; side++) {
            fault.keep[side] = cause->high ? 0xFF : (uint8_t)~mask;
            fault.force[side] = cause->high ? mask : 0;
        }
    }
    return fault;
}

bool colours_rule_out(const struct judge *judge, const struct cause *cause) {
    if ((cause != NULL && cause->kind != FINDING_DATA_LINE_STUCK) || judge->colours.fields == 0) {
        return false;
    }
    const struct fault fault = fault_of(cause);
    struct offs offs = count_off(judge, &fault);
    return offs.off[LIT] * 2 > offs.items[LIT] || offs.off[DARK] * 2 > offs.items[DARK];
}

/* Suppositions that fit about as well as the best. */
static int drop_worse(const struct guess *guesses, int count) {
    while (count > 1 && guesses[count - 1].error > guesses[0].error + 0.35) {
        count--;
    }
    return count;
}

bool colours_judge(struct judge *judge, const struct cause *explained) {
    enum { GUESSES = 4 };
    struct guess guesses[GUESSES];
    const struct fault before = fault_of(explained);
    judge->colours.wrong = false;
    judge->colours.no_hue = colours_lack_hue(judge);
    if (judge->colours.fields == 0) {
        return false;
    }
    struct offs offs = count_off(judge, &before);
    if (error_of(judge, &before) >= 0) {
        return false;
    }
    int count = drop_worse(guesses, find_guesses(judge, &before, guesses, GUESSES));
    size_t told = judge->result.finding_count;
    if (count > 0) {
        tell_guesses(judge, &offs, guesses, count);
    } else {
        tell_registers(judge, &offs);
    }
    judge->colours.wrong = judge->result.finding_count > told;
    return judge->colours.wrong;
}

bool colours_explain_cells(const struct judge *judge) {
    bool any = false;
    for (size_t i = 0; i < judge->plan->step_count && judge->colours.wrong; i++) {
        const struct step_state *step = &judge->steps[i];
        for (int j = 0; j < step->sighting_count; j++) {
            const struct sighting *sighting = &step->sightings[j];
            bool flat = (sighting->lit | sighting->unclear) == sighting->unclear ||
                        (sighting->lit | sighting->unclear) == CELLS_ALL;
            if (!sighting->pass && !flat) {
                return false;
            }
            any = any || !sighting->pass;
        }
    }
    return any;
}

bool colours_lack_hue(const struct judge *judge) {
    struct items items = items_of(judge, &no_fault);
    struct item item;
    bool expected = false;
    while (judge->plan->standard != STANDARD_SECAM && next_item(&items, &item)) {
        if (chroma_of(item.seen) >= CHROMA_GREY) {
            return false;
        }
        expected = expected || item.foretold.hue;
    }
    return expected;
}
