/* Plan `colours`: what is wrong, in words, and the verdict. */
#include "verdict/advice.h"
#include "verdict/findings.h"
#include "verdict/palette_parts.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

/* Least effects: what is called a difference, in steps of the code [P]. Good consoles on the virtual grabbers
 * stay below a fifth. */
#define LEVEL_DIFFERS 0.4
#define HUE_DIFFERS 0.5
#define CUT_OFF_MOST                                                                                         \
    0.3 /* of the level: more than that above white is not expected of a grabber's gain [P] */
#define SIGMAS 4
#define RISE_SIGMAS 3
#define NOT_RISING 0.1      /* steps of the code: what rises by less may be alike */
#define GREY_SATURATION 0.3 /* of the hues' */
#define END_LEVEL 0.05      /* from the slate's white, or from black: there a grabber may cut off [P] */
#define SPACING_LEAST 5.0   /* degrees between neighbouring hues: less is no order [P] */
enum {
    CODES_LEAST = 2, /* one code that is off may be the chain's */
    LEVEL_BITS = 0x0E,
    HUE_BITS = 0xF0
};

struct telling {
    const struct palette_state *state;
    const struct palette_units *units;
    struct judge *judge;
    struct result *result;
    const struct palette_stuck *stuck;
    bool open;    /* something could not be told */
    bool cut_off; /* because of a level that the grabber cuts off */
    bool wrong[PALETTE_REGISTERS][COLOUR_CODES];
};

static const enum reg regs[PALETTE_REGISTERS] = {
    [PALETTE_COLUBK] = REG_COLUBK, [PALETTE_COLUPF] = REG_COLUPF};

__attribute__((format(printf, 5, 6))) static void tell(struct telling *telling, enum finding_kind kind,
                                                       int reg, int bit, const char *format, ...) {
    const int explanation = (int)telling->result->finding_count;
    struct finding *finding = finding_add(telling->result, kind);
    if (finding != NULL) {
        finding->reg = reg;
        finding->bit = bit;
        finding->explanation = explanation;
        va_list arguments;
        va_start(arguments, format);
        vsnprintf(finding->text, sizeof finding->text, format, arguments);
        va_end(arguments);
    }
}

/* ---- cells that are not like the rest of a flat picture ---- */

static uint64_t stray_cells(const struct strays *strays) {
    uint64_t cells = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        cells |= strays->fields >= JUDGE_GOOD_FIELDS && 2 * strays->cell[cell] > strays->fields
                     ? UINT64_C(1) << cell
                     : 0;
    }
    return cells;
}

static bool draws(const struct cause *cause, uint64_t lit_strays, uint64_t dark_strays) {
    static const uint8_t lit[REG_COUNT] = {[REG_PF0] = 0xF0, [REG_PF1] = 0xFF, [REG_PF2] = 0xFF},
                         dark[REG_COUNT] = {0};
    uint64_t half;
    return (~cause_cells(cause, lit, &half) & CELLS_ALL) == lit_strays &&
           cause_cells(cause, dark, &half) == dark_strays;
}

/* The stuck playfield bit or data line that draws just these; NULL where there are none, or no such cause. */
static const struct cause *cause_of_strays(const struct telling *telling) {
    const uint64_t lit = stray_cells(&telling->state->lit), dark = stray_cells(&telling->state->dark);
    const struct judge *judge = telling->judge;
    for (size_t i = 0; i < judge->cause_count && (lit | dark) != 0; i++) {
        const struct cause *cause = &judge->causes[i];
        if ((cause->kind == FINDING_DATA_LINE_STUCK || cause->kind == FINDING_BIT_STUCK_LOW ||
             cause->kind == FINDING_BIT_STUCK_HIGH) &&
            draws(cause, lit, dark)) {
            return cause;
        }
    }
    return NULL;
}

/* ---- stuck bits ---- */

static void mark_bit(struct telling *telling, int reg, int bit) {
    for (int code = 0; code < COLOUR_CODES; code++) {
        const bool high = telling->stuck[reg].high >> bit & 1;
        telling->wrong[reg][code] |=
            (telling->stuck[reg].unknown >> bit & 1) || (code << 1 >> bit & 1) != high;
    }
}

static void tell_bit(struct telling *telling, int reg, int bit) {
    const struct palette_stuck *stuck = &telling->stuck[reg];
    const bool unknown = stuck->unknown >> bit & 1, high = stuck->high >> bit & 1;
    const int code = 0x4A & ~(1 << bit);
    tell(telling, FINDING_COLOUR_WRONG, (int)regs[reg], bit,
         "%s D%d stuck %s: codes that differ in D%d alone, such as $%02X and $%02X, look alike%s.",
         reg_name(regs[reg]), bit,
         unknown ? "low or high"
         : high  ? "high"
                 : "low",
         bit, (unsigned)code, (unsigned)(code | 1 << bit),
         unknown ? ", and nothing in the picture says which of the two" : "");
    mark_bit(telling, reg, bit);
}

/* Cells that differ from the rest, whatever the colours: a picture that is all of the other kind is not of
 * them. */
static void tell_strays(struct telling *telling) {
    const uint64_t lit = stray_cells(&telling->state->lit), dark = stray_cells(&telling->state->dark);
    const uint64_t cells = (lit == CELLS_ALL ? 0 : lit) | (dark == CELLS_ALL ? 0 : dark);
    if (cells != 0) {
        const int count = __builtin_popcountll(cells);
        tell(telling, FINDING_UNEXPLAINED, -1, -1,
             "%d cell%s unlike the rest of pictures that are all lit or all dark, first cell %d: plan bits "
             "names causes in the playfield.",
             count, count == 1 ? " is" : "s are", __builtin_ctzll(cells));
    }
}

/* Whether the colours would show a data line's bit. */
static bool is_bit_of_colours(const struct telling *telling, int bit) {
    return bit >= 4 ? telling->units->has_hue && telling->state->plan->standard != STANDARD_SECAM : bit > 0;
}

/* Returns the data lines' bits that are told, which colours need not tell again. */
static uint8_t tell_cells(struct telling *telling) {
    const struct cause *cause = cause_of_strays(telling);
    const uint8_t both = telling->stuck[PALETTE_COLUPF].dead & telling->stuck[PALETTE_COLUBK].dead;
    const bool line = cause != NULL && cause->kind == FINDING_DATA_LINE_STUCK;
    const bool in_colours = line && is_bit_of_colours(telling, cause->bit);
    char what[240];
    if (cause == NULL || (in_colours && (both >> cause->bit & 1) == 0)) {
        tell_strays(telling);
        return 0;
    }
    advice_describe(cause, what, sizeof what);
    tell(telling, cause->kind, cause->reg, cause->bit, "%s%s.", what,
         in_colours ? "; both colour registers show it too" : "");
    for (int reg = 0; reg < PALETTE_REGISTERS && in_colours; reg++) {
        mark_bit(telling, reg, cause->bit);
    }
    return line ? (uint8_t)(1u << cause->bit) : 0;
}

static void tell_stuck(struct telling *telling) {
    const uint8_t told = tell_cells(telling);
    for (int reg = PALETTE_REGISTERS - 1; reg >= 0; reg--) {
        for (int bit = 1; bit < 8; bit++) {
            if ((telling->stuck[reg].dead & ~told) >> bit & 1) {
                tell_bit(telling, reg, bit);
            }
        }
    }
}

/* ---- registers that disagree ---- */

static bool differ(const struct palette_units *units, const struct palette_colour *a,
                   const struct palette_colour *b) {
    const double share = sqrt(1.0 / a->fields + 1.0 / b->fields);
    const double level = fabs(a->level - b->level), chroma = hypot(a->cb - b->cb, a->cr - b->cr);
    const double loose = a->white_clipped || b->white_clipped ? CUT_OFF_MOST * fmax(a->level, b->level) : 0;
    const double least = fmax(units->level_doubt, LEVEL_DIFFERS * units->step);
    return level > fmax(SIGMAS * units->level_sigma * share, least) + loose ||
           (units->has_hue &&
            chroma > fmax(SIGMAS * units->chroma_sigma * share, HUE_DIFFERS * units->hue_step));
}

static void compare_registers(struct telling *telling) {
    const struct palette *palette = &telling->state->palette;
    int count = 0, first = -1;
    if ((telling->stuck[0].dead | telling->stuck[1].dead) != 0) {
        return; /* which explains it */
    }
    for (int code = 0; code < COLOUR_CODES; code++) {
        const struct palette_colour *pf = &palette->colour[PALETTE_COLUPF][code],
                                    *bk = &palette->colour[PALETTE_COLUBK][code];
        if (palette_is_measured(pf) && palette_is_measured(bk) && !pf->clipped && !bk->clipped &&
            differ(telling->units, pf, bk)) {
            telling->wrong[PALETTE_COLUPF][code] = telling->wrong[PALETTE_COLUBK][code] = true;
            first = count++ == 0 ? code : first;
        }
    }
    telling->open |= count > 0 && count < CODES_LEAST;
    if (count >= CODES_LEAST) {
        const struct palette_colour *pf = &palette->colour[PALETTE_COLUPF][first],
                                    *bk = &palette->colour[PALETTE_COLUBK][first];
        tell(telling, FINDING_COLOUR_WRONG, REG_COLUPF, -1,
             "COLUPF and COLUBK draw %d of the 128 codes differently; $%02X first: level %.2f against %.2f, "
             "hue %.0f against %.0f degrees.",
             count, (unsigned)first << 1, pf->level, bk->level, pf->hue, bk->hue);
    }
}

/* ---- levels ---- */

/* A rise that is not there, as far as noise and a grabber that cuts off let it be told. */
static bool falls(struct telling *telling, const struct palette_colour *low,
                  const struct palette_colour *high) {
    const struct palette_units *units = telling->units;
    const double sigma = RISE_SIGMAS * units->level_sigma * sqrt(1.0 / low->fields + 1.0 / high->fields);
    const double rise = high->level - low->level, least = NOT_RISING * units->step;
    const bool cut_off = low->clipped || high->clipped || low->white_clipped || high->white_clipped;
    const bool alike = rise <= fmax(fmax(sigma, least), units->level_doubt);
    const bool sure = rise + sigma / 2 + units->level_doubt < least && !cut_off;
    telling->open |= alike && !sure;
    telling->cut_off |= alike && cut_off;
    return alike && sure;
}

/* Eight colours need no order of brightness: they only have to differ. */
static bool is_other_colour(const struct telling *telling, const struct palette_colour *a,
                            const struct palette_colour *b) {
    return telling->state->plan->standard == STANDARD_SECAM && differ(telling->units, a, b);
}

/* Steps from one level to the next that do not rise. */
struct falls {
    int count, first;
    bool at[COLOUR_CODES]; /* the code above */
};

/* Both registers, and no farther than the slate's white or black: what lies beyond is cut off, and the slate
 * with it, so that the code range says nothing. */
static bool is_cut_at_an_end(struct telling *telling, int code) {
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < 2 * PALETTE_REGISTERS; i++) {
        const struct palette_colour *colour = &telling->state->palette.colour[i / 2][code + i % 2];
        low = palette_is_measured(colour) ? fmin(low, colour->level) : low;
        high = palette_is_measured(colour) ? fmax(high, colour->level) : high;
    }
    const bool cut = low > 1 - END_LEVEL || high < END_LEVEL;
    telling->open |= cut;
    telling->cut_off |= cut;
    return cut;
}

static void find_falls(struct telling *telling, int reg, struct falls *found) {
    *found = (struct falls){.count = 0};
    if ((telling->stuck[reg].dead & LEVEL_BITS) != 0) {
        return; /* which explains them */
    }
    for (int code = 0; code < COLOUR_CODES; code++) {
        const struct palette_colour *low = &telling->state->palette.colour[reg][code], *high = low + 1;
        if (code % COLOUR_LEVELS == COLOUR_LEVELS - 1 || !palette_is_measured(low) ||
            !palette_is_measured(high) || is_other_colour(telling, low, high)) {
            continue;
        }
        if (falls(telling, low, high) && !is_cut_at_an_end(telling, code)) {
            found->at[code + 1] = true;
            found->first = found->count++ == 0 ? code : found->first;
        }
    }
}

static void tell_falls(struct telling *telling, int reg, const struct falls *found) {
    tell(telling, FINDING_COLOUR_WRONG, (int)regs[reg], -1,
         "%s: %d of the 112 steps from a level to the next do not rise; first $%02X to $%02X.",
         reg_name(regs[reg]), found->count, (unsigned)found->first << 1, (unsigned)(found->first + 1) << 1);
    for (int code = 0; code < COLOUR_CODES; code++) {
        telling->wrong[reg][code] |= found->at[code];
    }
}

static void check_levels(struct telling *telling) {
    struct falls found[PALETTE_REGISTERS];
    int count = 0;
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        find_falls(telling, reg, &found[reg]);
        count += found[reg].count;
    }
    telling->open |= count > 0 && count < CODES_LEAST;
    for (int reg = PALETTE_REGISTERS - 1; reg >= 0; reg--) {
        if (count >= CODES_LEAST && found[reg].count > 0) {
            tell_falls(telling, reg, &found[reg]);
        }
    }
}

/* ---- hues ---- */

static void check_grey(struct telling *telling, int reg) {
    const struct palette_hue *grey = &telling->state->palette.hue[reg][0];
    const struct palette_units *units = telling->units;
    if (grey->known &&
        grey->saturation > fmax(GREY_SATURATION * units->saturation, SIGMAS * units->chroma_sigma)) {
        for (int level = 0; level < COLOUR_LEVELS; level++) {
            telling->wrong[reg][level] = true;
        }
        tell(telling, FINDING_COLOUR_WRONG, (int)regs[reg], -1,
             "%s: hue 0 is not grey: it has %.0f codes of colour, the hues %.0f.", reg_name(regs[reg]),
             grey->saturation, units->saturation);
    }
}

/* Round the circle one way; which, depends on what the grabber makes of the burst, and so does where it
 * begins. */
static void check_order(struct telling *telling, int reg) {
    const struct palette_hue *hues = telling->state->palette.hue[reg];
    int forward = 0, back = 0, none = 0, first = -1;
    for (int hue = 1; hue < COLOUR_HUES - 1; hue++) {
        if (!hues[hue].known || !hues[hue + 1].known) {
            telling->open = true;
            return;
        }
        forward += hues[hue].to_next > SPACING_LEAST;
        back += hues[hue].to_next < -SPACING_LEAST;
        none += fabs(hues[hue].to_next) <= SPACING_LEAST;
    }
    if (none == 0 && (forward == 0 || back == 0)) {
        return;
    }
    for (int hue = 1; hue < COLOUR_HUES - 1 && first < 0; hue++) {
        const double step = forward >= back ? hues[hue].to_next : -hues[hue].to_next;
        first = step <= SPACING_LEAST ? hue : first;
    }
    for (int level = 0; level < COLOUR_LEVELS; level++) {
        telling->wrong[reg][(first + 1) << HUE_SHIFT | level] = true;
    }
    tell(telling, FINDING_COLOUR_WRONG, (int)regs[reg], -1,
         "%s: the hues are not in order round the circle: hue %d lies at %.0f degrees, hue %d at %.0f.",
         reg_name(regs[reg]), first, hues[first].hue, first + 1, hues[first + 1].hue);
}

/* Without the blank beside the picture colours are away from the slate's white, which COLUBK draws. */
static bool hues_are_explained(const struct telling *telling, int reg) {
    return ((telling->stuck[reg].dead | (telling->state->blank ? 0 : telling->stuck[PALETTE_COLUBK].dead)) &
            HUE_BITS) != 0;
}

static void check_hues(struct telling *telling, int reg) {
    const enum standard standard = telling->state->plan->standard;
    if (hues_are_explained(telling, reg) || !telling->units->has_hue || standard == STANDARD_SECAM) {
        return;
    }
    check_grey(telling, reg);
    if (standard == STANDARD_NTSC) {
        check_order(telling, reg);
    }
}

/* ---- the result ---- */

static struct cell_colour cell_colour_of(const struct palette_colour *colour) {
    return (struct cell_colour){
        .count = colour->fields * CELLS, .level = colour->level, .cb = colour->cb, .cr = colour->cr};
}

static void fill_steps(const struct telling *telling) {
    for (uint32_t step = 0; step < telling->result->step_count; step++) {
        const int reg = colour_step_register(step) == REG_COLUPF ? PALETTE_COLUPF : PALETTE_COLUBK;
        const struct palette_colour *colour = &telling->state->palette.colour[reg][step % COLOUR_CODES];
        struct step_result *out = &telling->result->steps[step];
        const bool wrong = telling->wrong[reg][step % COLOUR_CODES];
        telling->judge->steps[step].result.fields = colour->fields;
        out->fields = colour->fields;
        out->failed = wrong ? colour->fields : 0;
        out->seen = out->expected;
        out->verdict = !palette_is_measured(colour) ? VERDICT_INCONCLUSIVE
                       : wrong                      ? VERDICT_FAIL
                                                    : VERDICT_PASS;
        out->margin = palette_is_measured(colour) && !wrong ? 1 : 0;
        *(reg == PALETTE_COLUPF ? &out->lit_colour : &out->dark_colour) = cell_colour_of(colour);
    }
}

/* How far the least difference that counts is from none: rises of level against a step. */
static double margin_of(const struct telling *telling) {
    double least = 1;
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct palette_colour *low =
            &telling->state->palette.colour[i / COLOUR_CODES][i % COLOUR_CODES];
        if (i % COLOUR_LEVELS == COLOUR_LEVELS - 1 || !palette_is_measured(low) ||
            !palette_is_measured(low + 1)) {
            continue;
        }
        least = fmin(least, (low[1].level - low->level) / telling->units->step);
    }
    return fmax(0, least);
}

/* Why there is no answer though all was seen. */
static void tell_open(struct telling *telling) {
    const bool hues_wanted = telling->state->plan->standard != STANDARD_SECAM;
    if (telling->state->owed > 0) {
        return; /* absence.c says so */
    }
    if (hues_wanted && !telling->units->has_hue) {
        tell(telling, FINDING_NO_COLOUR, -1, -1,
             "No code shows a hue: the levels are judged, the hues stay open.");
    } else if (telling->cut_off) {
        tell(telling, FINDING_CLIPPING, -1, -1,
             "The grabber cuts off levels at the end of its range: whether they rise cannot be told.");
    } else {
        tell(telling, FINDING_NOISY, -1, -1,
             "Some colours lie so near each other, or vary so much from field to field, that their order "
             "cannot be told.");
    }
}

void palette_conclude(struct palette_state *state, struct judge *judge, struct result *result) {
    struct palette_stuck stuck[PALETTE_REGISTERS];
    palette_work_out(state);
    const struct palette_units units = palette_units_of(state);
    struct telling telling = {
        .state = state, .units = &units, .judge = judge, .result = result, .stuck = stuck};
    palette_find_stuck(state, &units, stuck);
    tell_stuck(&telling);
    compare_registers(&telling);
    check_levels(&telling);
    for (int reg = PALETTE_REGISTERS - 1; reg >= 0; reg--) {
        check_hues(&telling, reg);
    }
    const bool no_hue = !units.has_hue && state->plan->standard != STANDARD_SECAM;
    if (result->finding_count > 0) {
        result->verdict = VERDICT_FAIL;
    } else if (state->owed > 0 || telling.open || no_hue) {
        result->verdict = VERDICT_INCONCLUSIVE;
        tell_open(&telling);
    } else {
        result->verdict = VERDICT_PASS;
    }
    fill_steps(&telling);
    judge->owed = state->owed;
    result->margin = state->fields > 0 ? margin_of(&telling) : 0;
    result->palette = state->fields > 0 ? &state->palette : NULL;
}
