/* From the fields' means to colours, hues and the units that differences are counted in. */
#include "verdict/palette_parts.h"

#include <math.h>
#include <stdlib.h>

#define DEGREES (180 / M_PI)
#define HUES_SPACED                                                                                          \
    (2 * sin(12 / DEGREES)) /* 15 hues in a circle: 24 degrees [H 4.0 + A]; of the saturation */
#define GREY 0.06           /* colour differences over the black-white distance: less is grey [P] */
/* A sine of period P on the lines: between slate and picture up to 1.4 of its height, so up to 2.8 between
 * two steps; its rms on the picture's lines is 0.46 to 0.77 of its height [A: 204 of 312 lines]. */
#define DOUBT 5
#define LEVEL_LEAST 0.1 /* steps that a level must rise to count as brighter [P] */

bool palette_is_measured(const struct palette_colour *colour) {
    return colour->fields >= JUDGE_GOOD_FIELDS;
}

double palette_level_apart(const struct palette_units *units, const struct palette_colour *a,
                           const struct palette_colour *b) {
    return fabs(a->level - b->level) / units->step;
}

double palette_hue_apart(const struct palette_units *units, const struct palette_colour *a,
                         const struct palette_colour *b) {
    return units->has_hue ? hypot(a->cb - b->cb, a->cr - b->cr) / units->hue_step : 0;
}

static double hue_of(double cb, double cr) {
    const struct cell_colour colour = {.cb = cb, .cr = cr};
    return colour_hue(&colour) + 0.0; /* no -0 */
}

/* ---- colours ---- */

/* The fields that did not cut white off are better, if there are enough. */
static const struct shade *best_of(const struct shade shades[2]) {
    return &shades[shades[0].fields < JUDGE_GOOD_FIELDS && shades[1].fields > 0];
}

/* Across the direction from grey to the colour. */
static double hue_spread(const struct shade *shade, double saturation) {
    const double c = shade->cb / saturation, s = shade->cr / saturation;
    const double across = s * s * shade->cb2 - 2 * s * c * shade->cross2 + c * c * shade->cr2;
    return atan(sqrt(fmax(0, across) / shade->fields) / saturation) * DEGREES;
}

static struct palette_colour colour_of(const struct shade *shade) {
    struct palette_colour colour = {.fields = shade->fields};
    if (shade->fields > 0) {
        colour.level = shade->level;
        colour.level_spread = sqrt(shade->level2 / shade->fields);
        colour.cb = shade->cb;
        colour.cr = shade->cr;
        colour.saturation = hypot(shade->cb, shade->cr);
        colour.hue = hue_of(shade->cb, shade->cr);
        colour.hue_spread = colour.saturation > 0 ? hue_spread(shade, colour.saturation) : 0;
        colour.clipped = 2 * shade->at_limit > shade->fields;
    }
    return colour;
}

/* ---- units ---- */

static int ascending(const void *a, const void *b) {
    const double left = *(const double *)a, right = *(const double *)b;
    return (left > right) - (left < right);
}

static double median_saturation(const struct palette *palette) {
    double values[PALETTE_REGISTERS * COLOUR_CODES];
    size_t count = 0;
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int code = COLOUR_LEVELS; code < COLOUR_CODES; code++) {
            if (palette_is_measured(&palette->colour[reg][code])) {
                values[count++] = palette->colour[reg][code].saturation;
            }
        }
    }
    qsort(values, count, sizeof values[0], ascending);
    return count > 0 ? values[count / 2] : 0;
}

static double range_of_levels(const struct palette *palette) {
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct palette_colour *colour = &palette->colour[i / COLOUR_CODES][i % COLOUR_CODES];
        if (palette_is_measured(colour)) {
            low = fmin(low, colour->level);
            high = fmax(high, colour->level);
        }
    }
    return high > low ? high - low : 1;
}

static void pool_spreads(const struct palette_state *state, struct palette_units *units) {
    double level = 0, chroma = 0, free = 0;
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct shade *shade = best_of(state->shades[i / COLOUR_CODES][i % COLOUR_CODES]);
        if (shade->fields >= JUDGE_GOOD_FIELDS) {
            level += shade->level2;
            chroma += (shade->cb2 + shade->cr2) / 2;
            free += shade->fields - 1;
        }
    }
    units->level_sigma = free > 0 ? sqrt(level / free) : 0;
    units->chroma_sigma = free > 0 ? sqrt(chroma / free) : 0;
}

struct palette_units palette_units_of(const struct palette_state *state) {
    const double range = range_of_levels(&state->palette);
    struct palette_units units = {.step = range / (COLOUR_LEVELS - 1),
                                  .saturation = median_saturation(&state->palette)};
    units.has_hue = 2 * state->chroma > state->fields && units.saturation > GREY * state->codes * range;
    units.hue_step = units.has_hue ? HUES_SPACED * units.saturation : 1;
    units.level_doubt = state->blank ? 0 : DOUBT * state->spread;
    pool_spreads(state, &units);
    return units;
}

/* ---- hues ---- */

/* Least squares, of the levels that are not cut off. */
static void fit_line(const struct palette_colour *levels, struct palette_hue *hue) {
    double n = 0, x = 0, y = 0, xx = 0, xy = 0, most = 0;
    for (int level = 0; level < COLOUR_LEVELS; level++) {
        if (!levels[level].clipped) {
            n++;
            x += level;
            y += levels[level].level;
            xx += level * level;
            xy += level * levels[level].level;
        }
    }
    if (n < 3) {
        return;
    }
    hue->slope = (n * xy - x * y) / (n * xx - x * x);
    hue->offset = (y - hue->slope * x) / n;
    for (int level = 0; level < COLOUR_LEVELS; level++) {
        const double off = levels[level].level - (hue->offset + hue->slope * level);
        most = levels[level].clipped ? most : fmax(most, fabs(off));
    }
    hue->nonlinearity = hue->slope > 0 ? most / (hue->slope * (COLOUR_LEVELS - 1)) : 0;
}

static bool rises(const struct palette_units *units, const struct palette_colour *low,
                  const struct palette_colour *high) {
    const double sigma = units->level_sigma * sqrt(1.0 / low->fields + 1.0 / high->fields);
    return high->level - low->level > fmax(3 * sigma, LEVEL_LEAST * units->step);
}

/* The mean of angles weighed by saturation is the angle of the sum. */
static void mean_hue(const struct palette_colour *levels, struct palette_hue *hue) {
    double cb = 0, cr = 0, saturation = 0, squares = 0;
    for (int level = 1; level < COLOUR_LEVELS; level++) {
        cb += levels[level].cb;
        cr += levels[level].cr;
        saturation += levels[level].saturation;
    }
    hue->hue = hue_of(cb, cr);
    hue->saturation = saturation / (COLOUR_LEVELS - 1);
    for (int level = 1; level < COLOUR_LEVELS && saturation > 0; level++) {
        const double off = remainder(levels[level].hue - hue->hue, 360);
        squares += off * off * levels[level].saturation / saturation;
    }
    hue->hue_spread = sqrt(squares);
}

static void work_out_hue(const struct palette_units *units, const struct palette_colour *levels, bool grey,
                         struct palette_hue *hue) {
    *hue = (struct palette_hue){.known = true, .ordered = true};
    for (int level = 0; level < COLOUR_LEVELS; level++) {
        hue->known = hue->known && palette_is_measured(&levels[level]);
    }
    if (!hue->known) {
        hue->ordered = false;
        return;
    }
    for (int level = 1; level < COLOUR_LEVELS; level++) {
        hue->ordered = hue->ordered && rises(units, &levels[level - 1], &levels[level]);
    }
    fit_line(levels, hue);
    mean_hue(levels, hue);
    if (grey || !units->has_hue) {
        hue->hue = hue->hue_spread = 0;
    }
}

static void work_out_spacing(struct palette_hue hues[COLOUR_HUES]) {
    for (int hue = 1; hue < COLOUR_HUES; hue++) {
        const struct palette_hue *next = &hues[hue < COLOUR_HUES - 1 ? hue + 1 : 1];
        hues[hue].to_next = hues[hue].known && next->known ? remainder(next->hue - hues[hue].hue, 360) : 0;
    }
}

void palette_work_out(struct palette_state *state) {
    struct palette *palette = &state->palette;
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int code = 0; code < COLOUR_CODES; code++) {
            const struct shade *best = best_of(state->shades[reg][code]);
            palette->colour[reg][code] = colour_of(best);
            palette->colour[reg][code].white_clipped = best == &state->shades[reg][code][1];
        }
    }
    const struct palette_units units = palette_units_of(state);
    palette->has_chroma = units.has_hue;
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int hue = 0; hue < COLOUR_HUES; hue++) {
            work_out_hue(&units, &palette->colour[reg][hue << HUE_SHIFT], hue == 0, &palette->hue[reg][hue]);
        }
        work_out_spacing(palette->hue[reg]);
    }
}
