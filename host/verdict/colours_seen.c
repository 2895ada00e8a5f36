/* What the fields show of the colours, as means. */
#include "verdict/colours.h"
#include "verdict/colours_fit.h"

#define CODE_CEILING 252 /* codes: with noise, the mean of what is cut off at 254 or 255 */

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
    run->echo += (reading->echo - run->echo) / (double)run->fields;
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
