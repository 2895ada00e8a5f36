/* Plan `colours`: takes in fields. What follows from them: palette_work.c, palette_stuck.c, palette_tell.c.
 */
#include "verdict/counted.h"
#include "verdict/palette_parts.h"

#include <math.h>
#include <stdlib.h>

enum {
    MIXED_FIELDS = 64, /* as long as picture/ remembers it */
    CODE_LIMIT = 252,  /* codes: with noise, the mean of what is cut off at 254 or 255 */
    CODE_FLOOR = 3,
    UNEVEN = 4 /* codes between a flat picture's lines: hum, which may take some of them beyond the range */
};
#define NEAR_LIMIT 0.015 /* of the black-white distance */
#define SPREAD_MOST 0.15 /* of the lines' levels: more, and they are not all of one colour */
#define SPAN_LEAST 0.5   /* the white band must stand out from the blank beside it by that */

static int register_of(uint32_t step) {
    return colour_step_register(step) == REG_COLUPF ? PALETTE_COLUPF : PALETTE_COLUBK;
}

static struct shade *shade_of(struct palette_state *state, uint32_t step, bool clipped) {
    return &state->shades[register_of(step)][step % COLOUR_CODES][clipped];
}

static bool has_enough(struct palette_state *state, uint32_t step) {
    return shade_of(state, step, false)->fields >= JUDGE_GOOD_FIELDS ||
           shade_of(state, step, true)->fields >= PALETTE_CLIPPED_FIELDS;
}

/* Hum takes the brightest lines, or the blank beside the darkest, beyond the end of the code range. */
static bool is_cut_in_part(const struct reading *reading) {
    const struct detail *detail = reading->detail;
    const double low =
        reading->beside_picture.count > 0 ? fmin(reading->beside_low, detail->whole_low) : detail->whole_low;
    return detail->whole_high - detail->whole_low > UNEVEN &&
           (detail->whole_high > CODE_LIMIT || low < CODE_FLOOR);
}

/* Level and colour from the blank where it is shown: it is black and grey whatever COLUBK holds, and the
 * slate is drawn with that. */
static struct candidate measure(const struct reading *reading) {
    const struct cell_colour *whole = &reading->detail->whole, *blank = &reading->beside_picture;
    const bool shown = blank->count > 0;
    const double span = shown ? reading->band_white - reading->beside_band : 1;
    const double contrast = reading->raster.white - reading->raster.black;
    const double luma = reading->raster.black + whole->level * contrast;
    const bool at_limit = luma > CODE_LIMIT || is_cut_in_part(reading) ||
                          (reading->clips_white && whole->level > 1 - NEAR_LIMIT) ||
                          (reading->clips_black && whole->level < NEAR_LIMIT);
    return (struct candidate){.step = reading->slate.value,
                              .clipped = reading->clips_white,
                              .codes = span * contrast,
                              .spread = reading->detail->whole_spread,
                              .shade = {.fields = 1,
                                        .at_limit = at_limit,
                                        .level = (whole->level - (shown ? blank->level : 0)) / span,
                                        .cb = whole->cb - (shown ? blank->cb : 0),
                                        .cr = whole->cr - (shown ? blank->cr : 0)}};
}

static void mix(struct shade *into, const struct shade *field) {
    const double share = 1.0 / ++into->fields, rest = 1 - share;
    const double level = field->level - into->level, cb = field->cb - into->cb, cr = field->cr - into->cr;
    into->at_limit += field->at_limit;
    into->level += level * share;
    into->cb += cb * share;
    into->cr += cr * share;
    into->level2 += level * level * rest;
    into->cb2 += cb * cb * rest;
    into->cr2 += cr * cr * rest;
    into->cross2 += cb * cr * rest;
}

static void commit(struct palette_state *state, const struct candidate *seen) {
    const bool before = has_enough(state, seen->step);
    mix(shade_of(state, seen->step, seen->clipped), &seen->shade);
    state->owed -= !before && has_enough(state, seen->step);
    state->fields++;
    state->codes += (seen->codes - state->codes) / (double)state->fields;
    state->spread += (seen->spread - state->spread) / (double)state->fields;
}

/* Where the frame's two fields share their colour, the last of a step may have the next step's in it. */
static bool take(struct palette_state *state, const struct reading *reading) {
    const struct candidate seen = measure(reading);
    if (!reading->detail->shares_chroma) {
        commit(state, &seen);
        return true;
    }
    const bool again = state->waiting.step == seen.step;
    if (again) {
        commit(state, &state->waiting);
    }
    state->waiting = seen;
    return again;
}

/* On the middle line, where the cells' level is clearly told: dark ones of COLUBK's dark codes, lit ones of
 * COLUPF's bright ones. */
static void add_strays(struct palette_state *state, const struct reading *reading) {
    const int level = colour_step_code(reading->slate.value) >> 1 & 7, line = reading->lines / 2;
    const bool lit = register_of(reading->slate.value) == PALETTE_COLUPF;
    const uint64_t wrong =
        (lit ? ~reading->lit[line] & CELLS_ALL : reading->lit[line]) & ~reading->unclear[line];
    struct strays *strays = lit ? &state->lit : &state->dark;
    if (lit ? level < PLAN_LIT_LEAST : level > PLAN_DARK_MOST) {
        return;
    }
    strays->fields++;
    for (int cell = 0; cell < CELLS; cell++) {
        strays->cell[cell] += wrong >> cell & 1;
    }
}

static bool is_usable(const struct palette_state *state, const struct reading *reading) {
    const bool blank = reading->beside_picture.count > 0;
    return reading->detail != NULL && reading->detail->whole.count > 0 && !reading->unsettled &&
           reading->detail->whole_spread <= SPREAD_MOST && (state->fields == 0 || blank == state->blank) &&
           (!blank || reading->band_white - reading->beside_band > SPAN_LEAST);
}

/* A grabber may hold on to the field before, so that the first of a step is not used. Of a source that mixes
 * fields those are good that say of themselves that they are two of one step (slate_decode_mixed()), and no
 * others. */
static bool is_settled(const struct palette_state *state, const struct reading *reading, bool first) {
    return state->mixing > 0 ? reading->blended : !first;
}

/* What was asked for well before it and has not come is not under way any more. */
static void note_arrival(struct palette_state *state, uint32_t step) {
    const uint32_t turn = state->asked[step];
    for (uint32_t other = 0; other < COLOUR_STEPS && turn > 0; other++) {
        if (state->asked[other] > 0 && state->asked[other] <= turn) {
            state->asked[other] = 0;
        }
    }
}

static enum judged read_field(void *opaque, const struct reading *reading) {
    struct palette_state *state = opaque;
    const uint32_t step = reading->slate.value;
    const bool first = state->last != step;
    state->last = step;
    state->mixing = reading->blended ? MIXED_FIELDS : state->mixing - (state->mixing > 0);
    note_arrival(state, step);
    if (first) {
        state->waiting.step = COLOUR_STEPS;
    }
    if (!is_usable(state, reading) || !is_settled(state, reading, first)) {
        return JUDGED_NOT;
    }
    state->blank = reading->beside_picture.count > 0;
    if (!take(state, reading)) {
        return JUDGED_NOT;
    }
    state->chroma += reading->has_chroma;
    add_strays(state, reading);
    return JUDGED_PASS;
}

static size_t owed(const void *state) {
    return ((const struct palette_state *)state)->owed;
}

static size_t ask(void *opaque, uint32_t *values, size_t most) {
    struct palette_state *state = opaque;
    size_t count = 0;
    for (uint32_t step = 0; step < COLOUR_STEPS && count < most; step++) {
        if (state->asked[step] == 0 && !has_enough(state, step)) {
            state->asked[step] = ++state->turn;
            values[count++] = step;
        }
    }
    return count;
}

static void conclude(void *state, struct judge *judge, struct result *result) {
    palette_conclude(state, judge, result);
}

bool palette_judge(const struct plan *plan, struct counted *counted) {
    struct palette_state *state = calloc(1, sizeof *state);
    if (state != NULL) {
        state->plan = plan;
        state->owed = COLOUR_STEPS;
        state->last = COLOUR_STEPS;
        state->waiting.step = COLOUR_STEPS;
        *counted = (struct counted){
            .state = state, .free = free, .read = read_field, .owed = owed, .ask = ask, .result = conclude};
    }
    return state != NULL;
}
