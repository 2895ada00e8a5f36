/* Cells of the picture's lines: the mean of a few samples round each cell's middle, against the slate's
 * levels. */
#include "picture/parts.h"

#include <endian.h>
#include <math.h>
#include <string.h>

enum { FINE = 16 }; /* a level's unit is 1/FINE of a sum's, so that the threshold keeps its fraction */

struct cell_scale {
    int threshold, half, bound; /* levels: threshold, half the black-white distance, unclear below */
    int first[CELLS];           /* sample where each cell's mean begins */
};

static void scale_init(const struct field *field, const struct raster *raster, double unclear_below,
                       struct cell_scale *scale) {
    const double unit = CELL_SAMPLES * FINE;
    scale->threshold = (int)lround((raster->black + raster->white) / 2 * unit);
    scale->half = (int)lround((raster->white - raster->black) / 2 * unit);
    scale->bound = (int)lround(unclear_below * (raster->white - raster->black) / 2 * unit);
    for (int n = 0; n < CELLS; n++) {
        double centre = raster->left + raster->clock_width * (CELL_CLOCKS * n + CELL_CLOCKS / 2.0);
        int first = (int)lround(centre - (CELL_SAMPLES - 1) / 2.0);
        /* One sample short of the end: a load of whole words covers the byte after the last sample too. */
        int last = field->width - CELL_SAMPLES - 1;
        scale->first[n] = first > last ? last : first < 0 ? 0 : first;
    }
}

static inline uint64_t load_word(const uint8_t *bytes) {
    uint64_t word;
    memcpy(&word, bytes, sizeof word);
    return le64toh(word);
}

static const uint64_t even_bytes = UINT64_C(0x00FF00FF00FF00FF), sum_quarters = UINT64_C(0x0001000100010001);

static void sums_packed(const uint8_t *luma, const struct cell_scale *scale, int sums[CELLS]) {
    for (int n = 0; n < CELLS; n++) {
        uint64_t word = load_word(luma + scale->first[n]);
        uint64_t pairs = (word & even_bytes) + (word >> 8 & even_bytes);
        sums[n] = (int)(pairs * sum_quarters >> 48);
    }
}

static void sums_every_other(const uint8_t *luma, const struct cell_scale *scale, int sums[CELLS]) {
    for (int n = 0; n < CELLS; n++) {
        const uint8_t *bytes = luma + 2 * (ptrdiff_t)scale->first[n];
        uint64_t pairs = (load_word(bytes) & even_bytes) + (load_word(bytes + 8) & even_bytes);
        sums[n] = (int)(pairs * sum_quarters >> 48);
    }
}

static void sums_any(const uint8_t *luma, int step, const struct cell_scale *scale, int sums[CELLS]) {
    for (int n = 0; n < CELLS; n++) {
        const uint8_t *bytes = luma + (ptrdiff_t)scale->first[n] * step;
        sums[n] = 0;
        for (int i = 0; i < CELL_SAMPLES; i++) {
            sums[n] += bytes[(ptrdiff_t)i * step];
        }
    }
}

static void line_sums(const struct field *field, int line, const struct cell_scale *scale, int sums[CELLS]) {
    const uint8_t *luma = field_line(field, line);
    switch (field->step) {
    case 1:
        sums_packed(luma, scale, sums);
        break;
    case 2:
        sums_every_other(luma, scale, sums);
        break;
    default:
        sums_any(luma, field->step, scale, sums);
    }
}

/* Turns sums into distances from the threshold, in place, and returns the smallest. */
static int distances(int sums[CELLS], int threshold, uint64_t *lit) {
    uint64_t mask = 0;
    int smallest = INT32_MAX;
    for (int n = 0; n < CELLS; n++) {
        int distance = sums[n] * FINE - threshold;
        mask |= (uint64_t)(distance > 0) << n;
        sums[n] = distance < 0 ? -distance : distance;
        smallest = sums[n] < smallest ? sums[n] : smallest;
    }
    *lit = mask;
    return smallest;
}

static uint64_t below(const int distance[CELLS], int bound) {
    uint64_t mask = 0;
    for (int n = 0; n < CELLS; n++) {
        mask |= (uint64_t)(distance[n] < bound) << n;
    }
    return mask;
}

static int index_of(const int distance[CELLS], int wanted) {
    int n = 0;
    while (n < CELLS - 1 && distance[n] != wanted) {
        n++;
    }
    return n;
}

void cells_read(const struct field *field, const struct picture_options *options, struct reading *out) {
    struct cell_scale scale;
    int first = (int)out->raster.top + SLATE_LINES, lines = standard_plan_lines(options->standard);
    int worst = INT32_MAX, sums[CELLS];
    scale_init(field, &out->raster, options->unclear_below, &scale);
    out->lines = lines < field->height - first ? lines : field->height - first;
    for (int line = 0; line < out->lines; line++) {
        line_sums(field, first + line, &scale, sums);
        int smallest = distances(sums, scale.threshold, &out->lit[line]);
        out->unclear[line] = smallest < scale.bound ? below(sums, scale.bound) : 0;
        if (smallest < worst) {
            worst = smallest;
            out->margin_line = line;
            out->margin_cell = index_of(sums, smallest);
        }
    }
    double margin = out->lines > 0 ? (double)worst / scale.half : 0;
    out->margin = margin > 1 ? 1 : margin;
}
