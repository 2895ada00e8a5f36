#include "virtual/grabber.h"

#include "virtual/noise.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    STRIDE = GRABBER_WIDTH * 2,
    STEPS = 64,     /* of a sample, in the step responses */
    REACH = 12,     /* samples before and after an edge in which it is felt */
    CHROMA_WIDTH = GRABBER_WIDTH / 2,
    LOCK_LINES = 20,
    FIRST_LINE_NTSC = 21, /* captured first, counted from the start of vertical sync [M] */
    FIRST_LINE_PAL = 23,  /* [M] */
    LUMA_BLACK = 16,
    LUMA_SPAN = 219,
    CHROMA_AMPLITUDE = 40 /* codes; the console's own is a property of its chip and not modelled */
};

static const double chroma_mhz = 0.6; /* -3 dB of a composite decoder's colour difference [P] */

struct grabber {
    enum standard standard;
    struct grabber_options options;
    int height, first_line;
    double edge[TIA_VISIBLE + 1]; /* sample at which a clock's left edge lies */
    float luma_step[2 * REACH * STEPS + 1], chroma_step[2 * REACH * STEPS + 1];
    float luma_of[128], cb_of[128], cr_of[128]; /* by colour code / 2 */
    float luma[GRABBER_WIDTH], cb[CHROMA_WIDTH], cr[CHROMA_WIDTH];
    int16_t clean[STRIDE]; /* the line in 1/16 codes, packed, before noise */
    bool noisy;
    struct noise noise;
    uint8_t *samples;
};

/* Response to a unit step at 0, of a Gaussian low-pass: exp(-f^2 ln2 / 2 f3^2) has the impulse response of a normal distribution with
 * sigma = sqrt(ln 2) / (2 pi f3), so its step response is the normal distribution's integral: no overshoot at all. */
static void make_step(float *table, double mhz, double sampling_mhz) {
    double sigma = sqrt(log(2)) / (2 * M_PI * mhz) * sampling_mhz;
    for (int i = 0; i <= 2 * REACH * STEPS; i++) {
        double x = (double)(i - REACH * STEPS) / STEPS;
        table[i] = (float)(0.5 * erfc(-x / (sigma * sqrt(2))));
    }
}

static void make_colours(struct grabber *g) {
    for (int code = 0; code < 128; code++) {
        int hue = code >> 3, level = code & 7;
        double angle = (hue - 1) * 24 * M_PI / 180;
        double amplitude = hue == 0 || g->standard == STANDARD_SECAM ? 0 : CHROMA_AMPLITUDE;
        g->luma_of[code] =
            (float)(LUMA_BLACK + LUMA_SPAN * (g->options.offset + g->options.gain * (double)level / 7));
        g->cb_of[code] = (float)(128 + amplitude * cos(angle));
        g->cr_of[code] = (float)(128 + amplitude * sin(angle));
    }
}

struct grabber *grabber_new(enum standard standard, const struct grabber_options *options, uint64_t seed) {
    struct grabber *g = calloc(1, sizeof *g);
    if (g == NULL) {
        return NULL;
    }
    g->standard = standard;
    g->options = *options;
    g->height = standard_table[standard].frame_height;
    g->first_line = standard == STANDARD_NTSC ? FIRST_LINE_NTSC : FIRST_LINE_PAL;
    g->samples = malloc((size_t)STRIDE * (size_t)g->height);
    g->noisy = isfinite(options->noise_db);
    for (int i = 0; i <= TIA_VISIBLE; i++) {
        g->edge[i] = options->left + i * standard_samples_per_clock(standard);
    }
    make_step(g->luma_step, options->bandwidth_mhz, 13.5);
    make_step(g->chroma_step, chroma_mhz, 6.75);
    make_colours(g);
    if (g->noisy) {
        noise_start(&g->noise, LUMA_SPAN * options->gain / pow(10, options->noise_db / 20), seed);
    }
    if (g->samples == NULL) {
        grabber_free(g);
        return NULL;
    }
    return g;
}

void grabber_free(struct grabber *g) {
    if (g != NULL) {
        free(g->samples);
        free(g);
    }
}

/* Adds an edge of `delta` at sample `at` to a line of `width` samples: a step response near it, a constant behind. */
static void add_edge(float *line, int width, double at, float delta, const float *step) {
    int from = (int)ceil(at) - REACH + 1, to = from + 2 * REACH - 1;
    int first = from < 0 ? 0 : from, end = to > width ? width : to;
    int index = (int)lround((first - at + REACH) * STEPS);
    for (int x = first; x < end; x++, index += STEPS) {
        line[x] += delta * step[index];
    }
    for (int x = end < 0 ? 0 : end; x < width; x++) {
        line[x] += delta;
    }
}

/* Blank is black without colour. */
static int code_of(uint8_t pixel) {
    return pixel == TIA_BLANKED ? 0 : pixel >> 1;
}

static void change_colour(struct grabber *g, double at, int from, int to) {
    float luma = g->luma_of[to] - g->luma_of[from];
    float cb = g->cb_of[to] - g->cb_of[from], cr = g->cr_of[to] - g->cr_of[from];
    if (luma != 0) {
        add_edge(g->luma, GRABBER_WIDTH, at, luma, g->luma_step);
    }
    if (cb != 0) { /* chroma sample i sits on luma sample 2 i [S BT.601] */
        add_edge(g->cb, CHROMA_WIDTH, at / 2, cb, g->chroma_step);
    }
    if (cr != 0) {
        add_edge(g->cr, CHROMA_WIDTH, at / 2, cr, g->chroma_step);
    }
}

static void flatten(float *line, int width, float value) {
    for (int i = 0; i < width; i++) {
        line[i] = value;
    }
}

/* pixels NULL: a black line. */
static void render(struct grabber *g, const uint8_t *pixels) {
    int now = 0;
    flatten(g->luma, GRABBER_WIDTH, g->luma_of[0]);
    flatten(g->cb, CHROMA_WIDTH, 128);
    flatten(g->cr, CHROMA_WIDTH, 128);
    for (int clock = 0; pixels != NULL && clock < TIA_VISIBLE; clock++) {
        int code = code_of(pixels[clock]);
        if (code != now) {
            change_colour(g, g->edge[clock], now, code);
            now = code;
        }
    }
    change_colour(g, g->edge[TIA_VISIBLE], now, 0);
    for (int i = 0; i < CHROMA_WIDTH; i++) {
        g->clean[4 * i] = (int16_t)lrintf(g->luma[2 * i] * 16);
        g->clean[4 * i + 1] = (int16_t)lrintf(g->cb[i] * 16);
        g->clean[4 * i + 2] = (int16_t)lrintf(g->luma[2 * i + 1] * 16);
        g->clean[4 * i + 3] = (int16_t)lrintf(g->cr[i] * 16);
    }
}

static void put_clean(const struct grabber *g, uint8_t *out) {
    for (int i = 0; i < STRIDE; i++) {
        int value = (g->clean[i] + 8) >> 4;
        out[i] = (uint8_t)(value < 0 ? 0 : value > 255 ? 255 : value);
    }
}

/* Noise of the luma and of both colour differences, each sample its own. */
static void put_noisy(struct grabber *g, uint8_t *out) {
    const int16_t *noise = noise_line(&g->noise);
    for (int i = 0; i < STRIDE; i++) {
        int value = (g->clean[i] + noise[i] + 8) >> 4;
        out[i] = (uint8_t)(value < 0 ? 0 : value > 255 ? 255 : value);
    }
}

static bool locks(const struct grabber *g, const struct tia_field *field) {
    return field != NULL && field->synced && abs(field->lines - standard_lines(g->standard)) <= LOCK_LINES;
}

/* A line that is the same as the one above in the field is drawn once. */
void grabber_field(struct grabber *g, const struct tia_field *field, bool newer) {
    bool locked = locks(g, field);
    bool top = standard_table[g->standard].top_first != newer;
    const uint8_t *above = NULL;
    for (int y = top ? 0 : 1; y < g->height; y += 2) {
        uint8_t *out = g->samples + (ptrdiff_t)y * STRIDE;
        int line = g->first_line + y / 2;
        bool drawn = locked && line < field->lines;
        bool same = above != NULL && (!locked || (drawn && field->same_as_above[line]));
        if (!same) {
            render(g, drawn ? field->pixel[line] : NULL);
        }
        if (g->noisy) {
            put_noisy(g, out);
        } else if (same) {
            memcpy(out, above, STRIDE);
        } else {
            put_clean(g, out);
        }
        above = out;
    }
}

struct frame grabber_frame(const struct grabber *g) {
    return (struct frame){.width = GRABBER_WIDTH,
                          .height = g->height,
                          .y = {g->samples, STRIDE, 2},
                          .cb = {g->samples + 1, STRIDE, 4},
                          .cr = {g->samples + 3, STRIDE, 4},
                          .chroma_x = 1};
}
