#include "virtual/geometry.h"

#include "slotjig/slate.h"
#include "virtual/grabber.h"

#include <math.h>

#define SAMPLES_HZ 13.5e6 /* [S BT.601] */

enum {
    /* A line of 720 samples is longer than what is meant to be seen of it; 704 are taken from its middle
     * [S BT.601, digital active line against SMPTE 170M] */
    INNER_WIDTH = 704,
    SQUARE_WIDTH = 640, /* the same part in square pixels, 12 3/11 MHz */
    CROP_SAMPLES = 160,
    CROP_LINES = 100 /* a field of 240 alone is left with something */
};

void grabber_defaults(enum standard standard, struct grabber_options *options) {
    *options = (struct grabber_options){
        .set = "clean",
        .gain = 1,
        .offset = 0,
        .bandwidth_mhz = standard == STANDARD_NTSC ? 4.2 : 5.0,
        .chroma_mhz = 1.3, /* [P] */
        .left = 74.0,
        .scale = 1,
        .width = GRABBER_WIDTH,
        .noise_db = HUGE_VAL,
        .chroma_noise_db = HUGE_VAL,
        .clip_white = HUGE_VAL,
        .clip_black = -HUGE_VAL,
        .chroma = 422,
    };
}

/* ---- ranges ---- */

static bool in_range(const char *name, double value, double least, double most, struct problem *problem) {
    if (value >= least && value <= most) {
        return true;
    }
    return problem_set(problem, PROBLEM_INPUT, "virtual grabber: %s %g is out of range; give %g to %g", name,
                       value, least, most);
}

static bool decibels(const char *name, double value, struct problem *problem) {
    return (isinf(value) && value > 0) || in_range(name, value, 0, 200, problem);
}

static bool check_numbers(const struct grabber_options *options, struct problem *problem) {
    const struct {
        const char *name;
        double value, least, most;
    } ranges[] = {
        {"gain", options->gain, 0.01, 4},
        {"offset", options->offset, -1, 1},
        {"agc", options->agc, 0, 0.5},
        {"agc's period", options->agc > 0 ? options->agc_s : 1, 0.1, 1000},
        {"bandwidth", options->bandwidth_mhz, 0.5, 6.75},
        {"sharpen", options->sharpen, 0, 1},
        {"ghost", options->ghost, -0.5, 0.5},
        {"ghost's delay", options->ghost_us, 0, 20},
        {"hum", options->hum, 0, 0.5},
        {"hum's frequency", options->hum_hz, 0, 1000},
        {"cross", options->cross, 0, 0.9},
        {"chroma-bandwidth", options->chroma_mhz, 0.25, 3},
        {"chroma-delay", options->chroma_delay, -30, 30},
        {"left", options->left, -720, 720},
        {"jitter", options->jitter, 0, 5},
        {"slant", options->slant, -0.1, 0.1},
        {"scale", options->scale, 0.9, 1.1},
        {"shift", options->shift, -100, 100},
        {"shift's lines", options->shift_lines, -20, 20},
        {"clip's white", fmin(options->clip_white, 2), 0.1, 2},
        {"clip's black", fmax(options->clip_black, -1), -1, 0.9},
        {"comb", options->comb, 0, 0.5},
        {"drop", options->drop, 0, 0.5},
        {"double", options->twice, 0, 0.5},
        {"swap", options->swap, 0, 0.5},
        {"burst's first field", options->burst_at, 0, 10000000},
        {"burst's fields", options->burst_fields, 0, 100000},
        {"stale's fields", options->stale_fields, 0, 1000000},
        {"crop's left", options->crop[0], 0, CROP_SAMPLES},
        {"crop's right", options->crop[1], 0, CROP_SAMPLES},
        {"crop's top", options->crop[2], 0, CROP_LINES},
        {"crop's bottom", options->crop[3], 0, CROP_LINES},
        {"mjpeg", options->mjpeg == 0 ? 1 : options->mjpeg, 1, 100},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        if (!in_range(ranges[i].name, ranges[i].value, ranges[i].least, ranges[i].most, problem)) {
            return false;
        }
    }
    return true;
}

/* What a number's range does not say. */
static bool check_choices(const struct grabber_options *options, struct problem *problem) {
    if (options->width != GRABBER_WIDTH && options->width != INNER_WIDTH && options->width != SQUARE_WIDTH) {
        return problem_set(problem, PROBLEM_INPUT, "virtual grabber: width %d; give 640, 704 or 720",
                           options->width);
    }
    if (options->chroma != 422 && options->chroma != 420) {
        return problem_set(problem, PROBLEM_INPUT, "virtual grabber: chroma %d; give 422 or 420",
                           options->chroma);
    }
    for (int side = 0; side < 4; side++) {
        if (options->crop[side] % 2 != 0) {
            return problem_set(
                problem, PROBLEM_INPUT,
                "virtual grabber: crop %d is odd; colours stand at every second sample, so give even numbers",
                options->crop[side]);
        }
    }
    return options->clip_black < options->clip_white ||
           problem_set(problem, PROBLEM_INPUT, "virtual grabber: clip's black %g is not below its white %g",
                       options->clip_black, options->clip_white);
}

bool grabber_check(const struct grabber_options *options, struct problem *problem) {
    return decibels("noise", options->noise_db, problem) &&
           decibels("chroma-noise", options->chroma_noise_db, problem) && check_numbers(options, problem) &&
           check_choices(options, problem);
}

/* ---- places ---- */

/* Sample centres lie at whole numbers, so the line's own left end is at -0.5. */
static double to_width(const struct grabber_options *options, double at) {
    double middle = (GRABBER_WIDTH - 1) / 2.0;
    double cut = options->width == GRABBER_WIDTH ? 0 : (GRABBER_WIDTH - INNER_WIDTH) / 2.0;
    double factor = options->width == SQUARE_WIDTH ? (double)SQUARE_WIDTH / INNER_WIDTH : 1;
    double placed = middle + (at - middle) * options->scale + options->shift;
    return (placed - cut + 0.5) * factor - 0.5;
}

void geometry_of(enum standard standard, const struct grabber_options *options, struct geometry *geometry) {
    int first = standard == STANDARD_NTSC ? GRABBER_FIRST_NTSC : GRABBER_FIRST_PAL;
    double factor = to_width(options, 1) - to_width(options, 0);
    *geometry = (struct geometry){
        .width = options->width,
        .field_lines = standard_table[standard].frame_height / 2,
        .first = first - options->shift_lines,
        .samples_hz = SAMPLES_HZ * factor,
        .left = to_width(options, options->left),
        .pitch = standard_samples_per_clock(standard) * factor,
    };
}

double geometry_slanted(const struct geometry *geometry, const struct grabber_options *options, double line) {
    return options->slant * (line - (geometry->field_lines - 1) / 2.0);
}

struct grabber_truth grabber_truth(enum standard standard, const struct grabber_options *options) {
    const struct standard_facts *facts = &standard_table[standard];
    struct geometry geometry;
    geometry_of(standard, options, &geometry);
    double band = facts->sync_lines + facts->blank_lines + (SLATE_BAND_LINES - 1) / 2.0 - geometry.first;
    double left = geometry.left + geometry_slanted(&geometry, options, band) - options->crop[0];
    return (struct grabber_truth){
        .left = left, .right = left + PICTURE_CLOCKS * geometry.pitch, .slant = options->slant};
}
