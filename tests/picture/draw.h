/*
 * Fields for the tests of picture/, drawn from the slate's layout and the standards' figures alone: boxes of
 * colour clocks, a blur, noise from a seed. Shares no code with picture/ and none with virtual/.
 */
#ifndef SLOTJIG_TESTS_PICTURE_DRAW_H
#define SLOTJIG_TESTS_PICTURE_DRAW_H

#include "capture/video.h"
#include "slate/slate.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum blend { BLEND_NONE, BLEND_ABOVE, BLEND_BELOW, BLEND_BOTH, BLEND_COUNT };

struct scene {
    enum standard standard;
    int width, height, step;
    double left, clock_width; /* samples; sample 0's centre is 0.0 */
    int top;
    double black, white, noise_db; /* codes; noise_db 0: none */
    uint64_t seed;
    struct slate slate;
    uint8_t flipped[SLATE_ROWS]; /* bits of the slate drawn wrong */
    int slate_shift, late;       /* clocks by which COLUBK's and the playfield's edges come late */
    int slate_odd;               /* and those before the slate's bits 1, 3, 5 and 7 beyond that */
    uint32_t stuck;              /* bit n: position n of the serial output stuck high, copy mode */
    double background;           /* of COLUBK's black, 0..1 */
    uint64_t cells[PICTURE_LINES_MAX];
    enum blend blend;
    double mix;              /* of both neighbours together into each line, besides blend */
    double slant, jitter;    /* samples a line, from the band's middle line on; samples rms of each line */
    double bandwidth_mhz;    /* -3 dB of a Gaussian low-pass; 0: the raised cosine */
    double ghost, ghost_us;  /* an echo's share, and how late */
    double hum;              /* peak, of the black-to-white distance, one period a field */
    double lit_cb, lit_cr;   /* colour of lit cells, codes away from grey (draw_colour) */
    double grey_cb, grey_cr; /* what the chain adds to all of it */
    double colour_late;      /* luma samples by which colour comes late */
    double colour_mhz;       /* its bandwidth; 0: as luma */
};

static inline struct scene scene_usual(enum standard standard) {
    bool ntsc = standard == STANDARD_NTSC;
    struct scene scene = {
        .standard = standard,
        .width = 720,
        .height = ntsc ? 240 : 288,
        .step = 2,
        .left = 74.0,
        /* 13.5 MHz [S BT.601] over the colour clock [S SMPTE 170M; PAL M] */
        .clock_width = 13.5e6 / (ntsc ? 3579545.0 : 3546894.0),
        /* console picture starts at line 40 (48) of its frame, the grabber's at 21 (23) [A] */
        .top = ntsc ? 19 : 25,
        .black = 16,
        .white = 235,
        .seed = 1,
        .slate = {0xA5C3, 0x12345, 42}};
    return scene;
}

static inline uint64_t draw_random(uint64_t *state) { /* xorshift64* */
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    return *state * UINT64_C(2685821657736338717);
}

static inline double draw_uniform(uint64_t *state) {
    return (double)(draw_random(state) >> 11) / 9007199254740992.0;
}

/* Nearly normal, variance 1: four uniform numbers of variance 1/12 each. */
static inline double draw_normal(uint64_t *state) {
    uint64_t bits = draw_random(state);
    double sum = 0;
    for (int i = 0; i < 4; i++) {
        sum += (double)(bits >> (16 * i) & 0xFFFF) / 65536.0;
    }
    return (sum - 2.0) * sqrt(3.0);
}

static inline void draw_clocks(const struct scene *scene, int line, float clocks[PICTURE_CLOCKS]) {
    uint8_t rows[SLATE_ROWS];
    int picture = line - scene->top, lines = standard_table[scene->standard].picture_lines;
    memset(clocks, 0, PICTURE_CLOCKS * sizeof *clocks);
    if (picture < 0 || picture >= lines) {
        return;
    }
    slate_encode(&scene->slate, rows);
    for (int c = 0; c < PICTURE_CLOCKS; c++) {
        bool white = picture < SLATE_BAND_LINES;
        int cell = c >= scene->late ? (c - scene->late) / CELL_CLOCKS : -1;
        if (!white && picture < SLATE_LINES) {
            int row = (picture - SLATE_BAND_LINES) / SLATE_ROW_LINES;
            int from = c - SLATE_FIRST_CLOCK - scene->slate_shift;
            int bit = from / SLATE_BIT_CLOCKS;
            bit -= bit % 2 != 0 && from % SLATE_BIT_CLOCKS < scene->slate_odd;
            bit += bit % 2 == 0 && from % SLATE_BIT_CLOCKS >= SLATE_BIT_CLOCKS + scene->slate_odd;
            white = from >= 0 && bit < SLATE_ROW_BITS && ((rows[row] ^ scene->flipped[row]) >> (7 - bit) & 1);
        } else if (!white) {
            white = cell >= 0 && (scene->cells[picture - SLATE_LINES] >> cell & 1);
        }
        white = white || (cell >= 0 && (scene->stuck >> cell % (CELLS / 2) & 1));
        clocks[c] = white ? 1.0F : (float)scene->background;
    }
}

/* Samples of the scene a microsecond, by its colour clock. */
static inline double draw_rate(const struct scene *scene) {
    double clock = scene->standard == STANDARD_NTSC ? 3.579545 : 3.546894; /* MHz [S SMPTE 170M; PAL M] */
    return scene->clock_width * clock;
}

/* Each edge between two clocks, blurred by a raised cosine 4 samples wide: exact at any fraction of a sample.
 * Or by the step of a Gaussian low-pass, exp(-(ln 2 / 2)(f/b)^2) [A]. */
static inline void draw_edge(int width, double at, double rise, double sigma, float *samples) {
    double reach = sigma > 0 ? 5 * sigma : 2;
    for (int x = (int)ceil(at - reach) < 0 ? 0 : (int)ceil(at - reach); x < width; x++) {
        double away = x - at, share = 1;
        if (away < reach) {
            share = sigma > 0 ? erfc(-away / sigma / sqrt(2)) / 2
                              : (away + 2) / 4 + sin(M_PI * away / 2) / (2 * M_PI);
        }
        samples[x] += (float)(rise * share);
    }
}

static inline void draw_samples(const struct scene *scene, double left, double mhz,
                                const float clocks[PICTURE_CLOCKS], float *samples) {
    double sigma = mhz > 0 ? sqrt(log(2)) / (2 * M_PI * mhz) * draw_rate(scene) : 0;
    memset(samples, 0, (size_t)scene->width * sizeof *samples);
    for (int c = 0; c <= PICTURE_CLOCKS; c++) {
        double rise = (double)((c < PICTURE_CLOCKS ? clocks[c] : 0) - (c > 0 ? clocks[c - 1] : 0));
        if (fabs(rise) > 0) {
            draw_edge(scene->width, left + c * scene->clock_width, rise, sigma, samples);
        }
    }
    int delay = (int)lround(scene->ghost_us * draw_rate(scene));
    for (int x = scene->width - 1; x >= delay && fabs(scene->ghost) > 0; x--) {
        samples[x] += (float)scene->ghost * samples[x - delay];
    }
}

static inline void draw_blend(const struct scene *scene, const float *clean, float *out) {
    for (int y = 0; y < scene->height; y++) {
        int above = y > 0 ? y - 1 : 0, below = y < scene->height - 1 ? y + 1 : y;
        const float *rows[3] = {clean + above * scene->width, clean + y * scene->width,
                                clean + below * scene->width};
        static const float weights[BLEND_COUNT][3] = {
            {0, 1, 0}, {0.5F, 0.5F, 0}, {0, 0.5F, 0.5F}, {0.25F, 0.5F, 0.25F}};
        float w[3], mix = (float)scene->mix;
        for (int i = 0; i < 3; i++) {
            w[i] = weights[scene->blend][i] * (1 - mix) + (i == 1 ? 0 : mix / 2);
        }
        double hum = scene->hum * sin(2 * M_PI * y / scene->height);
        for (int x = 0; x < scene->width; x++) {
            out[y * scene->width + x] =
                (float)hum + w[0] * rows[0][x] + w[1] * rows[1][x] + w[2] * rows[2][x];
        }
    }
}

/* The buffer is exactly as long as the samples, so that a sanitizer sees every read past them; bytes between
 * samples are noise. Caller frees *memory. */
static inline struct field draw_field(const struct scene *scene, uint8_t **memory) {
    size_t count = (size_t)(scene->width * scene->height);
    float *clean = malloc(count * sizeof *clean), *blended = malloc(count * sizeof *blended);
    float clocks[PICTURE_CLOCKS], last[PICTURE_CLOCKS];
    uint64_t shaken = scene->seed * UINT64_C(0xD1342543DE82EF95) + 1;
    bool straight = fabs(scene->slant) + scene->jitter <= 0;
    for (int y = 0; y < scene->height; y++) {
        draw_clocks(scene, y, clocks);
        double left =
            scene->left + scene->slant * (y - scene->top - 1) + scene->jitter * draw_normal(&shaken);
        if (straight && y > 0 && memcmp(clocks, last, sizeof clocks) == 0) {
            memcpy(clean + y * scene->width, clean + (y - 1) * scene->width,
                   (size_t)scene->width * sizeof *clean);
        } else {
            draw_samples(scene, left, scene->bandwidth_mhz, clocks, clean + y * scene->width);
        }
        memcpy(last, clocks, sizeof last);
    }
    draw_blend(scene, clean, blended);
    size_t bytes = (count - 1) * (size_t)scene->step + 1;
    uint8_t *luma = malloc(bytes);
    uint64_t random = scene->seed * UINT64_C(0x9E3779B97F4A7C15) + 1;
    double contrast = scene->white - scene->black;
    double rms = scene->noise_db > 0 ? contrast * pow(10, -scene->noise_db / 20) : 0;
    memset(luma, 0x80, bytes);
    for (size_t i = 0; i < count; i++) {
        double code =
            scene->black + contrast * (double)blended[i] + (rms > 0 ? rms * draw_normal(&random) : 0);
        code = floor(code + 0.5);
        luma[i * (size_t)scene->step] = (uint8_t)(code < 0 ? 0 : code > 255 ? 255 : code);
    }
    free(clean);
    free(blended);
    *memory = luma;
    return (struct field){.luma = luma,
                          .stride = (ptrdiff_t)scene->width * scene->step,
                          .step = scene->step,
                          .width = scene->width,
                          .height = scene->height,
                          .frame_lines = 2};
}

/* 4:2:2 colour for the field, without noise. Caller frees *memory too. */
static inline void draw_colour(const struct scene *scene, struct field *field, uint8_t **memory) {
    int half = scene->width / 2;
    float clocks[PICTURE_CLOCKS], *line = malloc((size_t)scene->width * sizeof *line);
    uint8_t *bytes = malloc((size_t)(2 * half * scene->height));
    for (int y = 0; y < scene->height; y++) {
        draw_clocks(scene, y, clocks);
        if (y - scene->top < SLATE_LINES) {
            memset(clocks, 0, sizeof clocks);
        }
        draw_samples(scene, scene->left + scene->colour_late, scene->colour_mhz, clocks, line);
        for (int x = 0; x < half; x++) {
            double lit = (double)line[2 * x];
            bytes[(2 * y) * half + x] = (uint8_t)(128.5 + scene->grey_cb + lit * scene->lit_cb);
            bytes[(2 * y + 1) * half + x] = (uint8_t)(128.5 + scene->grey_cr + lit * scene->lit_cr);
        }
    }
    free(line);
    *memory = bytes;
    field->cb = (struct plane){bytes, 2 * half, 1};
    field->cr = (struct plane){bytes + half, 2 * half, 1};
    field->chroma_x = 1;
}

#endif
