#include "verdict/colours.h"
#include "verdict/colours_fit.h"
#include "verdict/findings.h"

#include <math.h>
#include <stdio.h>

#define UNCLEAR_LEVEL 0.25 /* of the black-white distance: half way to the threshold */

/* One step that is off may be the chain's; two that are what one stuck bit makes of just them are not. */
enum { RARE_LEAST = 2 };

/* ---- suppositions ---- */

struct guess {
    struct fault fault;
    enum side side;
    int bit;
    bool high;
    double error; /* mean; 1 is as bad as it may be */
};

static enum reg reg_of(enum side side) {
    return side == LIT ? REG_COLUPF : REG_COLUBK;
}

/* What the guess would change is off indeed, on the whole, and nearly all of it by half at least. Where it is
 * few of all that was measured (`rare`): two at least, and the guess is what they look like. */
static bool is_confirmed(const struct judge *judge, const struct fault *before, const struct fault *guess,
                         bool rare) {
    struct items items = colours_items_of(judge, before), others = colours_items_of(judge, guess);
    struct item item, other;
    struct turn turn = colours_turn_of(judge, guess); /* it is the guess that fits */
    int changed = 0, half_off = 0, as_guessed = 0;
    double off = 0;
    while (colours_next_item(&items, &item) && colours_next_item(&others, &other)) {
        bool hue = item.foretold.hue != other.foretold.hue ||
                   (item.foretold.hue && item.foretold.angle != other.foretold.angle);
        bool level = !item.white && fabs(item.foretold.level - other.foretold.level) > COLOUR_STEP / 2;
        if ((hue && colours_judges_hue(judge, &other)) || level) {
            changed++;
            double by = colours_offness(judge, &item, &turn);
            off += by;
            half_off += by > 0.5;
            as_guessed += colours_offness(judge, &other, &turn) <= 1;
        }
    }
    const double most = changed * (1 - 2 * COLOUR_OUTLIERS);
    return changed > 0 && off > changed && half_off >= most &&
           (!rare || (changed >= RARE_LEAST && as_guessed >= most));
}

/* How many fit, the best first. */
static int find_guesses(const struct judge *judge, const struct fault *before, bool rare,
                        struct guess guesses[], int most) {
    int count = 0;
    for (int trial = 0; trial < 2 * 2 * 7; trial++) {
        struct guess guess = {
            .fault = *before, .side = (enum side)(trial / 14), .bit = 1 + trial % 14 / 2, .high = trial & 1};
        uint8_t mask = (uint8_t)(1u << guess.bit);
        guess.fault.keep[guess.side] &= guess.high ? 0xFF : (uint8_t)~mask;
        guess.fault.force[guess.side] |= guess.high ? mask : 0;
        guess.error = colours_error_of(judge, &guess.fault);
        int at = count < most ? count : most - 1;
        if (guess.error < 0 || (count == most && guess.error >= guesses[at].error) ||
            !is_confirmed(judge, before, &guess.fault, rare)) {
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

/* ---- telling ---- */

static struct finding *add(struct judge *judge, enum side side) {
    struct finding *finding = finding_add(&judge->result, FINDING_COLOUR_WRONG);
    if (finding != NULL) {
        finding->reg = (int)reg_of(side);
    }
    return finding;
}

static void name_colour(bool hue, double level, double angle, char *text, size_t size) {
    level = fabs(level) < 0.05 / 7 ? 0 : level; /* no -0.0 */
    if (hue) {
        snprintf(text, size, "luminance %.1f of 7, hue at %d degrees", level * 7,
                 (int)lround(angle + 360) % 360);
    } else {
        snprintf(text, size, "luminance %.1f of 7, grey", level * 7);
    }
}

static void say_item(const struct item *item, char *text, size_t size) {
    char expected[64], seen[64];
    double chroma = colours_chroma_of(item->seen);
    double angle = atan2(-item->seen->cr, -item->seen->cb) * 180 / M_PI;
    name_colour(item->foretold.hue, item->foretold.level, item->foretold.angle, expected, sizeof expected);
    name_colour(chroma >= COLOUR_GREY, item->seen->level, angle, seen, sizeof seen);
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
            offs->far[side] > (1 - COLOUR_OUTLIERS) * offs->items[side] ? add(judge, (enum side)side) : NULL;
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
    struct fault fault = colours_no_fault;
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
    struct offs offs = colours_count_off(judge, &fault);
    return offs.off[LIT] * 2 > offs.items[LIT] || offs.off[DARK] * 2 > offs.items[DARK];
}

/* Suppositions that fit about as well as the best. */
static int drop_worse(const struct guess *guesses, int count) {
    while (count > 1 && guesses[count - 1].error > guesses[0].error + 0.35) {
        count--;
    }
    return count;
}

/* By less than any bit that would make cells unclear, and more fields are unclear than not: what spoils the
 * cells spoils the colours too. */
static bool is_spoilt(const struct judge *judge, const struct offs *offs) {
    uint64_t unclear = 0;
    double most = 0;
    for (size_t i = 0; i < judge->plan->step_count; i++) {
        unclear += (uint64_t)judge->steps[i].unclear;
    }
    for (int side = 0; side < SIDES; side++) {
        const struct item *item = &offs->worst[side];
        most = fmax(most, item->seen != NULL ? fabs(item->seen->level - item->foretold.level) : 0);
    }
    return unclear > judge->result.fields_judged && most < UNCLEAR_LEVEL;
}

bool colours_judge(struct judge *judge, const struct cause *explained) {
    enum { GUESSES = 4 };
    struct guess guesses[GUESSES];
    const struct fault before = fault_of(explained);
    judge->colours.wrong = false;
    judge->colours.no_hue = colours_sees_no_hue(judge);
    if (judge->colours.fields == 0) {
        return false;
    }
    struct offs offs = colours_count_off(judge, &before);
    /* Few of all that was measured: only a stuck bit that draws just these is believed. */
    const bool rare = colours_error_of(judge, &before) >= 0;
    if ((rare && offs.off[LIT] + offs.off[DARK] < RARE_LEAST) || is_spoilt(judge, &offs)) {
        return false;
    }
    int count = drop_worse(guesses, find_guesses(judge, &before, rare, guesses, GUESSES));
    size_t told = judge->result.finding_count;
    if (count > 0) {
        tell_guesses(judge, &offs, guesses, count);
    } else if (!rare) {
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
    struct items items = colours_items_of(judge, &colours_no_fault);
    struct item item;
    while (judge->plan->standard != STANDARD_SECAM && colours_sees_no_hue(judge) &&
           colours_next_item(&items, &item)) {
        if (item.foretold.hue) {
            return true;
        }
    }
    return false;
}
