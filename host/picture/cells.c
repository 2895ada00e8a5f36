/*
 * Cells of the picture's lines: the mean of the samples in each cell's two middle clocks, against the
 * slate's levels.
 *
 * What theory predicts for a single cell on a single line: n samples of weight 1/n each, n = cells_samples():
 * 8 at 13.5 MHz. With the signal's distance d from the threshold (half of black to white) and white noise of
 * s rms, the mean's noise is s/sqrt(n) and the cell is misread with probability Q(sqrt(n) d/s), Q being the
 * tail of the normal distribution; at a black-to-white over rms of R dB, d/s = 10^(R/20)/2. With n = 8: 0.079
 * at 0 dB, 2.3e-3 at 6 dB, 3.9e-6 at 10 dB, 1e-12 at 14 dB. What bandwidth takes away is the share of an edge
 * that reaches into the window: an edge of a Gaussian low-pass (-3 dB at b) has s_t = sqrt(ln 2)/(2 pi b),
 * the window's ends are one clock (3.77 samples, 279 ns) from the cell's edges less half a sample's rounding,
 * and s_t is 66 ns at 2 MHz: more than 3 s_t, so less than 0.01 dB is lost above 2 MHz, 0.1 dB at 1 MHz
 * (both neighbours unlike). Noise that is not white counts as fewer samples, and where the codes end at 0 and
 * 255 the samples are limited: with black at 16 and white at 235 that begins to show below 20 dB.
 */
#include "picture/parts.h"

#include <endian.h>
#include <math.h>
#include <string.h>

enum { WORD = 8, SUM_MOST = INT16_MAX };

struct cell_scale {
    int samples; /* in a cell's mean */
    int fine;    /* a level's unit is 1/fine of a sum's, so that the threshold keeps its fraction */
    int threshold, half, bound; /* levels: threshold, half the black-white distance, unclear below */
    uint64_t even, odd;         /* bytes of a word that count */
    uint64_t even_far;          /* and of the word after it, when every other byte is a sample */
    float last;                 /* sample at which a mean may begin at most */
    float centre[CELLS];        /* of each cell's first sample, on the line of the raster's left */
    int first[CELLS];           /* sample where each cell's mean begins, on the line at hand */
};

int cells_samples(const struct raster *raster) {
    int samples = (int)lround(2 * raster->clock_width);
    return samples < 1 ? 1 : samples > CELL_SAMPLES_MAX ? CELL_SAMPLES_MAX : samples;
}

static uint64_t first_bytes(int count) {
    return count <= 0 ? 0 : count >= WORD ? UINT64_MAX : (UINT64_C(1) << 8 * count) - 1;
}

/* shift: samples by which the line at hand lies to the right. */
static void place_cells(struct cell_scale *scale, float shift) {
    for (int n = 0; n < CELLS; n++) {
        float first = scale->centre[n] + shift;
        first = first > scale->last ? scale->last : first;
        first = first < 0 ? 0 : first;
        scale->first[n] = (int)first;
    }
}

static void scale_init(const struct field *field, const struct raster *raster, double unclear_below,
                       struct cell_scale *scale) {
    const uint64_t even_bytes = UINT64_C(0x00FF00FF00FF00FF);
    *scale = (struct cell_scale){.samples = cells_samples(raster)};
    scale->fine = SUM_MOST / (255 * scale->samples);
    const double unit = scale->samples * scale->fine;
    scale->threshold = (int)lround((raster->black + raster->white) / 2 * unit);
    scale->half = (int)lround((raster->white - raster->black) / 2 * unit);
    scale->bound = (int)lround(unclear_below * (raster->white - raster->black) / 2 * unit);
    uint64_t packed = first_bytes(scale->samples);
    scale->even = packed & even_bytes;
    scale->odd = packed >> 8 & even_bytes;
    if (field->step == 2) {
        scale->even = first_bytes(2 * scale->samples) & even_bytes;
        scale->even_far = first_bytes(2 * scale->samples - WORD) & even_bytes;
    }
    /* One sample short of the end: a load of whole words covers the byte after the last sample too. */
    int covered = scale->samples < WORD && field->step <= 2 ? WORD : scale->samples;
    scale->last = (float)(field->width - covered - 1);
    for (int n = 0; n < CELLS; n++) {
        double centre = raster->left + raster->clock_width * (CELL_CLOCKS * n + CELL_CLOCKS / 2.0);
        scale->centre[n] = (float)(centre - (scale->samples - 1) / 2.0 + 0.5);
    }
    place_cells(scale, 0);
}

static inline uint64_t load_word(const uint8_t *bytes) {
    uint64_t word;
    memcpy(&word, bytes, sizeof word);
    return le64toh(word);
}

static const uint64_t sum_quarters = UINT64_C(0x0001000100010001);

static void sums_packed(const uint8_t *luma, const struct cell_scale *scale, int16_t sums[CELLS]) {
    const uint64_t even = scale->even, odd = scale->odd;
    for (int n = 0; n < CELLS; n++) {
        uint64_t word = load_word(luma + scale->first[n]);
        uint64_t pairs = (word & even) + (word >> 8 & odd);
        sums[n] = (int16_t)(pairs * sum_quarters >> 48);
    }
}

static void sums_every_other(const uint8_t *luma, const struct cell_scale *scale, int16_t sums[CELLS]) {
    const uint64_t near = scale->even, far = scale->even_far;
    for (int n = 0; n < CELLS; n++) {
        const uint8_t *bytes = luma + 2 * (ptrdiff_t)scale->first[n];
        uint64_t pairs = (load_word(bytes) & near) + (load_word(bytes + WORD) & far);
        sums[n] = (int16_t)(pairs * sum_quarters >> 48);
    }
}

static void sums_any(const uint8_t *luma, int step, const struct cell_scale *scale, int16_t sums[CELLS]) {
    for (int n = 0; n < CELLS; n++) {
        const uint8_t *bytes = luma + (ptrdiff_t)scale->first[n] * step;
        int sum = 0;
        for (int i = 0; i < scale->samples; i++) {
            sum += bytes[(ptrdiff_t)i * step];
        }
        sums[n] = (int16_t)sum;
    }
}

static void line_sums(const struct field *field, int line, const struct cell_scale *scale,
                      int16_t sums[CELLS]) {
    const uint8_t *luma = field_line(field, line);
    if (scale->samples <= WORD && field->step == 1) {
        sums_packed(luma, scale, sums);
    } else if (scale->samples <= WORD && field->step == 2) {
        sums_every_other(luma, scale, sums);
    } else {
        sums_any(luma, field->step, scale, sums);
    }
}

/* Bit n: flags[n] is 1 (and not 0). */
static uint64_t mask_of(const uint8_t flags[CELLS]) {
    const uint64_t gather = UINT64_C(0x0102040810204080);
    uint64_t mask = 0;
    for (int i = 0; i < CELLS / WORD; i++) {
        mask |= (load_word(flags + i * WORD) * gather >> 56) << (i * WORD);
    }
    return mask;
}

/* Turns sums into distances from the threshold, in place, and returns the smallest. */
static int distances(int16_t sums[CELLS], const struct cell_scale *scale, uint64_t *lit) {
    const int16_t fine = (int16_t)scale->fine, threshold = (int16_t)scale->threshold;
    int16_t smallest = INT16_MAX;
    uint8_t flags[CELLS];
    for (int n = 0; n < CELLS; n++) {
        int16_t distance = (int16_t)(sums[n] * fine - threshold);
        int16_t other = (int16_t)-distance;
        flags[n] = distance > 0;
        sums[n] = distance > other ? distance : other;
    }
    for (int n = 0; n < CELLS; n++) {
        smallest = sums[n] < smallest ? sums[n] : smallest;
    }
    *lit = mask_of(flags);
    return smallest;
}

static uint64_t below(const int16_t distance[CELLS], int bound) {
    uint8_t flags[CELLS];
    for (int n = 0; n < CELLS; n++) {
        flags[n] = distance[n] < bound;
    }
    return mask_of(flags);
}

static int index_of(const int16_t distance[CELLS], int wanted) {
    int n = 0;
    while (n < CELLS - 1 && distance[n] != wanted) {
        n++;
    }
    return n;
}

/* Lines that may share their cells' places: none is more than an eighth of a sample off. */
static int lines_alike(const struct raster *raster, int lines) {
    double alike = raster->slant == 0 ? lines : 0.25 / fabs(raster->slant);
    return alike < 1 ? 1 : alike > lines ? lines : (int)alike;
}

void cells_read(const struct field *field, const struct picture_options *options, struct reading *out) {
    struct cell_scale scale;
    int16_t sums[CELLS];
    int first = (int)out->raster.top + SLATE_LINES, lines = standard_plan_lines(options->standard);
    int worst = INT32_MAX;
    scale_init(field, &out->raster, options->unclear_below, &scale);
    out->lines = lines < field->height - first ? lines : field->height - first;
    int alike = lines_alike(&out->raster, out->lines > 0 ? out->lines : 1);
    for (int line = 0; line < out->lines; line++) {
        if (out->raster.slant != 0 && line % alike == 0) {
            double shift = raster_left(&out->raster, first + line + (alike - 1) / 2) - out->raster.left;
            place_cells(&scale, (float)shift);
        }
        line_sums(field, first + line, &scale, sums);
        int smallest = distances(sums, &scale, &out->lit[line]);
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
