/* What the capture chain does to the picture, all from the slate: noise, lines mixed, codes cut off. */
#include "picture/parts.h"

#include <math.h>

enum {
    FLAT_MAX = 512, /* samples of a line that are looked at */
    CHUNK = 32,     /* samples over which flat is flat: slower changes are no noise */
    CODE_MOST = 255,
    BAND_FROM_CLOCK = 14, /* an echo of the band's left edge is over after 4 us */
    BAND_TO_CLOCK = 157,
    ECHO_BEFORE = 7, /* of the band's left edge: behind its overshoot, and before the echo of it that a cell
                        in the midst of its like does not hold */
    ECHO_CLOCKS = 3,
    ECHO_AFTER = 80, /* 22 us */
    MIX_SAMPLES = 5  /* every so many samples tell a line's level */
};

struct flat {
    int count;
    uint8_t code[FLAT_MAX];
};

static void add_samples(const struct field *field, const struct raster *raster, int line, double from,
                        double to, struct flat *flat) {
    double left = raster_left(raster, line);
    int first = (int)ceil(left + from * raster->clock_width), end = (int)(left + to * raster->clock_width);
    first = first < 0 ? 0 : first;
    end = end > field->width ? field->width : end;
    int count = end - first < FLAT_MAX - flat->count ? end - first : FLAT_MAX - flat->count;
    if (count <= 0) {
        return;
    }
    const uint8_t *luma = field_line(field, line) + (ptrdiff_t)first * field->step;
    uint8_t *out = flat->code + flat->count;
    flat->count += count;
    if (field->step == 2) {
        for (int i = 0; i < count; i++) {
            out[i] = luma[2 * (ptrdiff_t)i];
        }
    } else {
        for (int i = 0; i < count; i++) {
            out[i] = luma[(ptrdiff_t)i * field->step];
        }
    }
}

static int count_at_least(const struct flat *flat, int code) {
    int count = 0;
    for (int i = 0; i < flat->count; i++) {
        count += flat->code[i] >= code;
    }
    return count;
}

static double mean_of(const struct flat *flat) {
    int sum = 0;
    for (int i = 0; i < flat->count; i++) {
        sum += flat->code[i];
    }
    return flat->count > 0 ? (double)sum / flat->count : 0;
}

static double rms_by_chunks(const struct flat *flat) {
    double squares = 0;
    int chunks = flat->count / CHUNK;
    for (int c = 0; c < chunks; c++) {
        const uint8_t *code = flat->code + (ptrdiff_t)c * CHUNK;
        int sum = 0, square = 0;
        for (int i = 0; i < CHUNK; i++) {
            sum += code[i];
            square += code[i] * code[i];
        }
        squares += square - (double)sum * sum / CHUNK;
    }
    return chunks > 0 ? sqrt(squares / (chunks * (CHUNK - 1))) : 0;
}

/* Code below which half of the samples lie, in fractions: each code stands for half a code to either side. */
static double median_of(const struct flat *flat) {
    int low = 0, high = CODE_MOST;
    while (low < high) {
        int middle = (low + high + 1) / 2;
        if (2 * count_at_least(flat, middle) > flat->count) {
            low = middle;
        } else {
            high = middle - 1;
        }
    }
    int above = count_at_least(flat, low + 1), here = count_at_least(flat, low) - above;
    return low + 0.5 - (flat->count / 2.0 - above) / here;
}

/* Where the samples on the far side are cut off, those on this side tell. */
static double rms_of_one_side(const struct flat *flat, bool below) {
    double median = median_of(flat), squares = 0;
    int count = 0;
    for (int i = 0; i < flat->count; i++) {
        double away = below ? median - flat->code[i] : flat->code[i] - median;
        if (away > 0) {
            squares += away * away;
            count++;
        }
    }
    return count > 0 ? sqrt(squares / count) : 0;
}

static double rms_of(const struct flat *flat) {
    double mean = mean_of(flat), rms = rms_by_chunks(flat);
    if (mean + 2 * rms > CODE_MOST) {
        return rms_of_one_side(flat, true);
    }
    return mean - 2 * rms < 0 ? rms_of_one_side(flat, false) : rms;
}

static void measure_band(const struct field *field, struct reading *out) {
    struct flat flat = {.count = 0};
    int top = (int)out->raster.top;
    add_samples(field, &out->raster, top + 1, BAND_FROM_CLOCK, BAND_TO_CLOCK, &flat);
    out->clips_white = 2 * count_at_least(&flat, CODE_MOST - 1) > flat.count;
    if (out->clips_white && top > 1) { /* what is cut off has no noise: the blank above has */
        flat.count = 0;
        add_samples(field, &out->raster, top - 2, BAND_FROM_CLOCK, BAND_TO_CLOCK, &flat);
    }
    out->noise = rms_of(&flat);
}

static void measure_echo(const struct field *field, struct reading *out) {
    struct flat before = {.count = 0}, after = {.count = 0};
    int line = (int)out->raster.top + 1;
    double distance = out->raster.white - out->raster.black;
    add_samples(field, &out->raster, line, ECHO_BEFORE, ECHO_BEFORE + ECHO_CLOCKS, &before);
    add_samples(field, &out->raster, line, ECHO_AFTER, BAND_TO_CLOCK, &after);
    if (before.count > 0 && after.count > 0) {
        out->echo = (mean_of(&after) - mean_of(&before)) / distance;
    }
}

/* The rows' black margins, where two stuck bits light half at most. */
static void measure_black(const struct field *field, struct reading *out) {
    struct flat flat = {.count = 0};
    for (int row = 0; row < SLATE_ROWS; row += 2) {
        int line = (int)out->raster.top + SLATE_BAND_LINES + row * SLATE_ROW_LINES + SLATE_ROW_LINES / 2;
        add_samples(field, &out->raster, line, 1, 6, &flat);
        add_samples(field, &out->raster, line, 153, 159, &flat);
    }
    out->clips_black = 2 * (flat.count - count_at_least(&flat, 2)) > flat.count;
}

static double line_level(const struct field *field, const struct raster *raster, int line) {
    const uint8_t *luma = field_line(field, line);
    int first = (int)(raster->left + BAND_FROM_CLOCK * raster->clock_width);
    int end = (int)(raster->left + BAND_TO_CLOCK * raster->clock_width), sum = 0, count = 0;
    for (int x = first; x < end; x += MIX_SAMPLES) {
        sum += luma[(ptrdiff_t)x * field->step];
        count++;
    }
    return count > 0 ? (double)sum / count : 0;
}

/* The band begins at once: what the blank above holds of it, and it of the blank, is mixed in. */
static void measure_mixing(const struct field *field, struct reading *out) {
    int top = (int)out->raster.top;
    if (top < 2) {
        return;
    }
    double dark = line_level(field, &out->raster, top - 2), distance = out->raster.white - dark, sum = 0;
    for (int line = top - 1; line <= top; line++) {
        double share = (line_level(field, &out->raster, line) - dark) / distance;
        sum += share < 0.5 ? share : 1 - share;
    }
    out->mixing = sum < 0 ? 0 : sum > 1 ? 1 : sum;
}

void chain_measure(const struct field *field, struct reading *out) {
    measure_band(field, out);
    measure_echo(field, out);
    measure_black(field, out);
    measure_mixing(field, out);
}
