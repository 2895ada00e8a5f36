#include "verdict/sightings.h"
#include "verdict/thin.h"
#include "verdict/torn.h"

#include <math.h>

enum {
    SCATTERED_COLUMNS = 6,
    SCATTERED_SHARE = 200 /* one cell in so many */
};
enum { COUNT_PLANES = 8 }; /* counts up to 255 lines; a picture has at most PICTURE_LINES_MAX */

/* With a stronger echo the slate's levels are not those of cells: white has all of it, and what is dark may
 * have it too. */
#define ECHO_MOST 0.2
#define ECHO_MOST_CLIPPED 0.05 /* of which white that is cut off shows a part only */

/* Rms over the black-white distance, 9 dB: more, and of lines that are all different nothing is called wrong.
 */
#define THIN_NOISE_MOST 0.355

/* Forty counters at once: bit n of plane p is bit p of cell n's count. */
struct tally {
    uint64_t plane[COUNT_PLANES];
};

static void tally_add(struct tally *tally, uint64_t ones) {
    for (int i = 0; i < COUNT_PLANES && ones != 0; i++) {
        uint64_t carry = tally->plane[i] & ones;
        tally->plane[i] ^= ones;
        ones = carry;
    }
}

/* Cells counted more than `bound` times. */
static uint64_t tally_above(const struct tally *tally, int bound) {
    uint64_t above = 0, equal = ~UINT64_C(0);
    for (int i = COUNT_PLANES - 1; i >= 0; i--) {
        if (bound >> i & 1) {
            equal &= tally->plane[i];
        } else {
            above |= equal & tally->plane[i];
            equal &= ~tally->plane[i];
        }
    }
    return above;
}

struct range {
    int first, end; /* lines */
};

/* Lines of the band that holds `line`, as far as the field shows them. */
static struct range band_around(const struct step *step, int line, int lines) {
    struct range range = {0, 0};
    for (size_t i = 0; i < step->band_count; i++) {
        range.first = range.end;
        range.end += step->bands[i].lines;
        if (line < range.end) {
            break;
        }
    }
    range.end = range.end < lines ? range.end : lines;
    return range;
}

static void majority(const struct reading *reading, struct range range, uint64_t *lit, uint64_t *unclear) {
    struct tally lit_tally = {{0}}, unclear_tally = {{0}};
    for (int line = range.first; line < range.end; line++) {
        tally_add(&lit_tally, reading->lit[line]);
        tally_add(&unclear_tally, reading->unclear[line]);
    }
    int half = (range.end - range.first) / 2;
    *unclear = tally_above(&unclear_tally, half) & CELLS_ALL;
    *lit = tally_above(&lit_tally, half) & CELLS_ALL & ~*unclear;
}

/* More than one line in ten shows something else than the majority. */
static bool lines_disagree(const struct reading *reading, struct range range, uint64_t lit, uint64_t unclear,
                           uint64_t sure) {
    int other = 0;
    for (int line = range.first; line < range.end; line++) {
        other += ((reading->lit[line] ^ lit) & ~reading->unclear[line] & ~unclear & sure) != 0;
    }
    return other * 10 > range.end - range.first;
}

static bool has_offset(const struct reading *reading) {
    return reading->edges >= OFFSET_EDGES_MIN && reading->offset_spread <= OFFSET_SPREAD_MAX;
}

/* Rows without an inner edge: what edges are measured there are noise's, or the picture's own left edge. */
static bool is_flat(const struct expectation *expect) {
    for (int line = 0; line < expect->lines; line++) {
        if (expect->lit[line] != 0 && expect->lit[line] != CELLS_ALL) {
            return false;
        }
    }
    return true;
}

static bool is_off_raster(const struct expectation *expect, const struct reading *reading) {
    return has_offset(reading) && fabs(offset_wrap(reading->offset)) > OFFSET_WRONG && !is_flat(expect);
}

/* Nearly every field ends here, so this is all that a good one costs. */
static bool all_as_expected(const struct expectation *expect, const struct reading *reading, int lines) {
    uint64_t differs = 0;
    for (int line = 0; line < lines; line++) {
        differs |= ((reading->lit[line] ^ expect->lit[line]) | reading->unclear[line]) & expect->sure[line];
    }
    return differs == 0;
}

/* Cells that are clearly wrong on more than a quarter of a band's lines. Noise and torn lines hit now one
 * cell, now another: 168 lines with one cell in ten misread at random stay below that by eight standard
 * deviations [A, binomial]. */
static uint64_t steadily_wrong(const struct expectation *expect, const struct reading *reading,
                               struct range range) {
    struct tally tally = {{0}};
    for (int line = range.first; line < range.end; line++) {
        uint64_t wrong = (reading->lit[line] ^ expect->lit[line]) & expect->sure[line];
        tally_add(&tally, wrong & ~reading->unclear[line]);
    }
    return tally_above(&tally, (range.end - range.first) / 4);
}

/* Cells are clearly wrong here and there, on single lines of many columns: so does a picture that is too
 * noisy or too torn to be read at all look, whatever is wrong besides. */
static bool is_scattered(const struct expectation *expect, const struct reading *reading, struct range range,
                         uint64_t steady) {
    uint64_t columns = 0;
    int count = 0, cells = (range.end - range.first) * CELLS;
    for (int line = range.first; line < range.end; line++) {
        uint64_t wrong =
            (reading->lit[line] ^ expect->lit[line]) & expect->sure[line] & ~reading->unclear[line] & ~steady;
        columns |= wrong;
        count += __builtin_popcountll(wrong);
    }
    return __builtin_popcountll(columns) >= SCATTERED_COLUMNS && count * SCATTERED_SHARE >= cells;
}

static int first_line_of(const struct expectation *expect, const struct reading *reading, struct range range,
                         uint64_t cells) {
    int line = range.first;
    while (line < range.end - 1 && ((reading->lit[line] ^ expect->lit[line]) & expect->sure[line] &
                                    ~reading->unclear[line] & cells) == 0) {
        line++;
    }
    return line;
}

/* First line with a cell that is wrong throughout its band, or -1: none, or it cannot be said, maybe since
 * the field is torn. */
static int first_wrong(const struct step *step, const struct expectation *expect,
                       const struct reading *reading, int lines, bool *torn) {
    for (int line = 0; line < lines;) {
        struct range range = band_around(step, line, lines);
        uint64_t cells = steadily_wrong(expect, reading, range);
        if (cells != 0) {
            *torn = torn_band(expect, reading, range.first, range.end, cells);
            bool told = !*torn && !is_scattered(expect, reading, range, cells);
            return told ? first_line_of(expect, reading, range, cells) : -1;
        }
        line = range.end;
    }
    return -1;
}

static int first_unclear(const struct expectation *expect, const struct reading *reading, int lines) {
    for (int line = 0; line < lines; line++) {
        if ((reading->unclear[line] & expect->sure[line]) != 0) {
            return line;
        }
    }
    return 0;
}

static bool same_sighting(const struct sighting *a, const struct sighting *b) {
    if (a->pass != b->pass || a->patchy != b->patchy || a->line != b->line ||
        a->has_offset != b->has_offset) {
        return false;
    }
    if (((a->lit ^ b->lit) & ~a->unclear & ~b->unclear) != 0) {
        return false;
    }
    return !a->has_offset || fabs(offset_wrap(a->offset - b->offset)) < OFFSET_SAME;
}

static void add_sighting(struct step_state *step, const struct sighting *seen) {
    for (int i = 0; i < step->sighting_count; i++) {
        struct sighting *known = &step->sightings[i];
        if (same_sighting(known, seen)) {
            known->count++;
            known->unclear |= seen->unclear;
            known->lit &= ~known->unclear;
            known->offset =
                offset_wrap(known->offset + offset_wrap(seen->offset - known->offset) / known->count);
            return;
        }
    }
    if (step->sighting_count < SIGHTINGS_MAX) {
        step->sightings[step->sighting_count++] = *seen;
    } else if (!seen->pass) {
        step->stray++;
    }
}

static struct sighting sighting_new(const struct expectation *expect, const struct reading *reading,
                                    bool late, bool pass) {
    /* Edges that agree on nothing have no offset worth holding against a cause, nor has a torn field. */
    bool measured = has_offset(reading) && !is_flat(expect) && (late || !is_off_raster(expect, reading));
    return (struct sighting){.pass = pass,
                             .has_offset = measured,
                             .offset = measured ? offset_wrap(reading->offset) : 0,
                             .count = 1};
}

static void add_good(struct step_state *step, const struct reading *reading, bool late) {
    struct sighting seen = sighting_new(&step->expect, reading, late, true);
    add_sighting(step, &seen);
    if (!step->seen_fails) {
        step->result.seen = reading->lit[0] & CELLS_ALL;
        step->result.unclear = reading->unclear[0] & CELLS_ALL;
    }
}

static void add_wrong(const struct step *plan_step, struct step_state *step, const struct reading *reading,
                      bool late, int lines, int line) {
    struct sighting seen = sighting_new(&step->expect, reading, late, false);
    struct range range = band_around(plan_step, line, lines);
    uint64_t sure = step->expect.sure[range.first];
    seen.line = range.first;
    majority(reading, range, &seen.lit, &seen.unclear);
    bool shows = (((seen.lit ^ step->expect.lit[range.first]) | seen.unclear) & sure) != 0;
    seen.patchy =
        (!shows && !seen.has_offset) || lines_disagree(reading, range, seen.lit, seen.unclear, sure);
    add_sighting(step, &seen);
    if (!step->seen_fails) {
        step->seen_fails = true;
        step->result.wrong_line = line;
        const int told = step->thin != NULL ? line : 0;
        majority(reading, band_around(plan_step, told, lines), &step->result.seen, &step->result.unclear);
        step->result.expected = step->expect.lit[told];
        step->result.sure = step->expect.sure[told];
        if (step->thin != NULL) {
            thin_keep(step->thin, reading, line);
        }
    }
}

bool sighting_has_offset(const struct step_state *step, const struct reading *reading) {
    return has_offset(reading) && !is_flat(&step->expect);
}

enum sight sighting_of(struct judge *judge, size_t index, const struct reading *reading, bool late) {
    const struct step *plan_step = &judge->plan->steps[index];
    struct step_state *step = &judge->steps[index];
    int lines = reading->lines < step->expect.lines ? reading->lines : step->expect.lines;
    bool off_raster = is_off_raster(&step->expect, reading);
    if (!off_raster && all_as_expected(&step->expect, reading, lines)) {
        add_good(step, reading, late);
        return SIGHT_GOOD;
    }
    bool torn = false;
    int line = step->thin != NULL ? thin_wrong(step->thin, &step->expect, reading, lines, &torn)
                                  : first_wrong(plan_step, &step->expect, reading, lines, &torn);
    if (line >= 0 && fabs(reading->echo) > (reading->clips_white ? ECHO_MOST_CLIPPED : ECHO_MOST)) {
        return SIGHT_UNCLEAR;
    }
    if (step->thin != NULL &&
        reading->noise > THIN_NOISE_MOST * (reading->raster.white - reading->raster.black)) {
        return SIGHT_UNCLEAR;
    }
    if (torn || (line >= 0 && torn_between_steps(judge, index, reading, lines))) {
        return SIGHT_TORN;
    }
    if (reading->unsettled || (line < 0 && !(off_raster && late))) {
        return SIGHT_UNCLEAR;
    }
    if (line < 0) {
        line = first_unclear(&step->expect, reading, lines);
    }
    add_wrong(plan_step, step, reading, late, lines, line);
    return SIGHT_WRONG;
}

static bool offset_matches(const struct sighting *sighting, int shift) {
    double bound = shift == 0 ? OFFSET_WRONG : OFFSET_SAME;
    return !sighting->has_offset || fabs(offset_wrap(sighting->offset - shift)) <= bound;
}

static bool wrong_matches(const struct sighting *sighting, const struct expectation *expect,
                          const struct prediction *prediction) {
    int line = sighting->line;
    uint64_t half = prediction->half[line];
    uint64_t sure = expect->sure[line] & prediction->shown.sure[line];
    uint64_t differs = (sighting->lit ^ prediction->shown.lit[line]) & ~sighting->unclear & ~half & sure;
    uint64_t surprising = sighting->unclear & ~prediction->soft[line] & sure;
    bool too_clear = half != 0 && (half & sighting->unclear) == 0;
    return (differs | surprising) == 0 && !too_clear;
}

static bool good_matches(const struct expectation *expect, const struct prediction *prediction) {
    uint64_t differs = 0;
    for (int line = 0; line < prediction->shown.lines; line++) {
        uint64_t wrong = (expect->lit[line] ^ prediction->shown.lit[line]) | prediction->half[line];
        differs |= wrong & expect->sure[line] & prediction->shown.sure[line];
    }
    return differs == 0;
}

bool sighting_matches(const struct sighting *sighting, const struct step_state *step,
                      const struct prediction *prediction, int shift) {
    if (sighting->patchy || !offset_matches(sighting, shift)) {
        return false;
    }
    if (sighting->pass) {
        return good_matches(&step->expect, prediction);
    }
    const bool kept = step->thin != NULL && step->thin->line == sighting->line;
    return wrong_matches(sighting, &step->expect, prediction) &&
           (!kept || thin_matches(step->thin, &step->expect, prediction));
}
