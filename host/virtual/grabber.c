#include "virtual/grabber.h"

#include "virtual/noise.h"
#include "virtual/response.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    CHROMA_WIDTH = GRABBER_WIDTH / 2, /* 4:2:2: every second luma sample, the first included [S BT.601] */
    LINE_BYTES = 2 * GRABBER_WIDTH,
    FRAME_LINES_MAX = 2 * FIELD_LINES_MAX,
    COLOURS = 256
};

#define SAMPLES_HZ 13.5e6      /* [S BT.601] */
#define CHROMA_BANDWIDTH 1.3e6 /* [P] */
#define CHROMA_AMPLITUDE 40.0F /* codes */
#define CODE_LEAST (-256.0F)   /* of the analog line, so that noise can be added in 16 bits */
#define CODE_MOST 511.0F

/* A line of samples with what the response needs on both sides. */
struct line {
    float samples[RESPONSE_MARGIN + GRABBER_WIDTH + RESPONSE_MARGIN];
};

struct grabber {
    enum standard standard;
    bool noisy;
    int good_fields; /* running, that could be locked to */
    float black;     /* code of the blank */
    float luma_of[COLOURS], cb_of[COLOURS], cr_of[COLOURS];
    struct response luma_response, chroma_response;
    struct line line;
    int16_t luma[GRABBER_WIDTH];   /* of the line at hand, without noise, NOISE_UNIT steps a code */
    uint8_t chroma[GRABBER_WIDTH]; /* Cb and Cr by turns */
    struct noise noise;
    uint8_t bytes[FRAME_LINES_MAX][LINE_BYTES];
};

/* ---- preparing ---- */

static bool in_range(const char *name, double value, double least, double most, struct problem *problem) {
    if (value >= least && value <= most) {
        return true;
    }
    return problem_set(problem, PROBLEM_INPUT, "virtual grabber: %s %g is out of range; give %g to %g", name,
                       value, least, most);
}

static bool check_options(const struct grabber_options *options, struct problem *problem) {
    bool endless = isinf(options->noise_db) && options->noise_db > 0;
    return (endless || in_range("noise", options->noise_db, 0, 200, problem)) &&
           in_range("gain", options->gain, 0.01, 4, problem) &&
           in_range("offset", options->offset, -1, 1, problem) &&
           in_range("bandwidth", options->bandwidth_mhz, 0.5, 6.75, problem) &&
           in_range("left", options->left, -720, 720, problem);
}

static float clip(float code) {
    return code < CODE_LEAST ? CODE_LEAST : code > CODE_MOST ? CODE_MOST : code;
}

static float luma_code(const struct grabber_options *options, double level) {
    return clip((float)(16 + 219 * (options->offset + options->gain * level)));
}

static void fill_colours(struct grabber *grabber, const struct grabber_options *options) {
    for (int colour = 0; colour < COLOURS; colour++) {
        int hue = colour >> 4, step = colour >> 1 & 7;
        bool blank = colour == TIA_BLANKED;
        bool grey = blank || hue == 0 || grabber->standard == STANDARD_SECAM;
        float amplitude = grey ? 0 : CHROMA_AMPLITUDE;
        float angle = (float)(hue - 1) * 24 * (float)M_PI / 180;
        grabber->luma_of[colour] = luma_code(options, blank ? 0 : step / 7.0);
        grabber->cb_of[colour] = 128 - amplitude * cosf(angle);
        grabber->cr_of[colour] = 128 - amplitude * sinf(angle);
    }
    grabber->black = grabber->luma_of[TIA_BLANKED];
}

/* Rounding to whole codes is noise too, of 1/sqrt(12) rms: it counts as part of what was asked for. */
static void prepare_noise(struct grabber *grabber, const struct grabber_options *options, uint64_t seed) {
    double rms = 219 * options->gain * pow(10, -options->noise_db / 20);
    double power = rms * rms - 1.0 / 12;
    grabber->noisy = power > 0;
    if (grabber->noisy) {
        noise_init(&grabber->noise, sqrt(power), seed);
    }
}

static void prepare_responses(struct grabber *grabber, const struct grabber_options *options) {
    double pitch = standard_samples_per_clock(grabber->standard);
    double luma = options->bandwidth_mhz * 1e6 / SAMPLES_HZ;
    double chroma = fmin(CHROMA_BANDWIDTH, options->bandwidth_mhz * 1e6) / (SAMPLES_HZ / 2);
    response_init(&grabber->luma_response, luma, options->left, pitch, GRABBER_WIDTH);
    response_init(&grabber->chroma_response, chroma, options->left / 2, pitch / 2, CHROMA_WIDTH);
}

/* ---- one line ---- */

static void lookup(const float table[COLOURS], const uint8_t *pixels, float clocks[TIA_VISIBLE]) {
    for (int i = 0; i < TIA_VISIBLE; i++) {
        clocks[i] = table[pixels[i]];
    }
}

static void draw_luma(struct grabber *grabber, const uint8_t *pixels) {
    float clocks[TIA_VISIBLE];
    const float *samples = grabber->line.samples + RESPONSE_MARGIN;
    lookup(grabber->luma_of, pixels, clocks);
    response_draw(&grabber->luma_response, clocks, grabber->black, grabber->line.samples + RESPONSE_MARGIN);
    for (int x = 0; x < GRABBER_WIDTH; x++) {
        /* moved up to be positive, where cutting off is rounding */
        float steps = (samples[x] - CODE_LEAST) * NOISE_UNIT + 0.5F;
        grabber->luma[x] = (int16_t)((int)steps + (int)CODE_LEAST * NOISE_UNIT);
    }
}

static void draw_difference(struct grabber *grabber, const float table[COLOURS], const uint8_t *pixels,
                            int first) {
    float clocks[TIA_VISIBLE];
    const float *samples = grabber->line.samples + RESPONSE_MARGIN;
    lookup(table, pixels, clocks);
    response_draw(&grabber->chroma_response, clocks, 128, grabber->line.samples + RESPONSE_MARGIN);
    for (int x = 0; x < CHROMA_WIDTH; x++) {
        grabber->chroma[2 * x + first] = (uint8_t)(int)(samples[x] + 0.5F);
    }
}

static bool is_grey(const uint8_t *pixels) {
    unsigned hues = 0;
    for (int i = 0; i < TIA_VISIBLE; i++) {
        hues |= pixels[i];
    }
    return hues < 16;
}

static void draw_line(struct grabber *grabber, const uint8_t *pixels) {
    draw_luma(grabber, pixels);
    if (grabber->standard == STANDARD_SECAM || is_grey(pixels)) {
        memset(grabber->chroma, 128, sizeof grabber->chroma);
    } else {
        draw_difference(grabber, grabber->cb_of, pixels, 0);
        draw_difference(grabber, grabber->cr_of, pixels, 1);
    }
}

static void quantise(const int16_t *restrict luma, const int16_t *restrict noise,
                     const uint8_t *restrict chroma, uint8_t *restrict out) {
    for (int x = 0; x < GRABBER_WIDTH; x++) {
        int16_t code = (int16_t)((luma[x] + noise[x] + NOISE_UNIT / 2) >> NOISE_SHIFT);
        code = code < 0 ? 0 : code;
        code = code > 255 ? 255 : code;
        out[2 * x] = (uint8_t)code;
        out[2 * x + 1] = chroma[x];
    }
}

/* ---- one field ---- */

static int field_height(const struct grabber *grabber) {
    return standard_table[grabber->standard].frame_height / 2;
}

static uint8_t *field_line(struct grabber *grabber, int which, int y) {
    int older = standard_table[grabber->standard].top_first ? 0 : 1;
    return grabber->bytes[2 * y + (which == 0 ? older : 1 - older)];
}

/* fresh: the line was drawn just now, and is not the one above over again. */
static void deliver_line(struct grabber *grabber, int which, int y, bool fresh) {
    static const int16_t silence[NOISE_RUN];
    uint8_t *out = field_line(grabber, which, y);
    if (grabber->noisy) {
        quantise(grabber->luma, noise_run(&grabber->noise), grabber->chroma, out);
    } else if (fresh || y == 0) {
        quantise(grabber->luma, silence, grabber->chroma, out);
    } else {
        memcpy(out, field_line(grabber, which, y - 1), LINE_BYTES);
    }
}

static void draw_black(struct grabber *grabber) {
    static const uint8_t black[TIA_VISIBLE];
    draw_line(grabber, black);
}

static void deliver_flat(struct grabber *grabber, int which) {
    draw_black(grabber);
    for (int y = 0; y < field_height(grabber); y++) {
        deliver_line(grabber, which, y, y == 0);
    }
}

static int first_line(enum standard standard) {
    return standard == STANDARD_NTSC ? GRABBER_FIRST_NTSC : GRABBER_FIRST_PAL;
}

static void deliver_field(struct grabber *grabber, const struct tia_field *field, int which) {
    int first = first_line(grabber->standard);
    for (int y = 0; y < field_height(grabber); y++) {
        int line = first + y;
        bool fresh = y == 0 || line == field->lines || (line < field->lines && !field->same_as_above[line]);
        if (fresh && line < field->lines) {
            draw_line(grabber, field->pixel[line]);
        } else if (fresh) {
            draw_black(grabber);
        }
        deliver_line(grabber, which, y, fresh);
    }
}

static bool can_be_locked_to(const struct grabber *grabber, const struct tia_field *field) {
    return field != NULL && field->synced &&
           abs(field->lines - standard_lines(grabber->standard)) <= GRABBER_LOCK_LINES;
}

void grabber_take(struct grabber *grabber, const struct tia_field *field, int which) {
    enum { WANTED = 2 };
    int good = can_be_locked_to(grabber, field) ? grabber->good_fields + 1 : 0;
    grabber->good_fields = good < WANTED ? good : WANTED;
    if (good >= WANTED) {
        deliver_field(grabber, field, which);
    } else {
        deliver_flat(grabber, which);
    }
}

/* ---- the whole ---- */

struct grabber *grabber_new(enum standard standard, const struct grabber_options *options, uint64_t seed,
                            struct problem *problem) {
    if (!check_options(options, problem)) {
        return NULL;
    }
    struct grabber *grabber = calloc(1, sizeof *grabber);
    if (grabber == NULL) {
        problem_set(problem, PROBLEM_BENCH, "virtual grabber: out of memory; close other programs");
        return NULL;
    }
    grabber->standard = standard;
    fill_colours(grabber, options);
    prepare_noise(grabber, options, seed);
    prepare_responses(grabber, options);
    deliver_flat(grabber, 0);
    deliver_flat(grabber, 1);
    return grabber;
}

void grabber_free(struct grabber *grabber) {
    free(grabber);
}

static struct plane plane_at(const struct grabber *grabber, int first, int step) {
    return (struct plane){.data = grabber->bytes[0] + first, .stride = LINE_BYTES, .step = step};
}

void grabber_frame(const struct grabber *grabber, struct frame *frame) {
    *frame = (struct frame){
        .width = GRABBER_WIDTH,
        .height = standard_table[grabber->standard].frame_height,
        .y = plane_at(grabber, 0, 2),
        .cb = plane_at(grabber, 1, 4),
        .cr = plane_at(grabber, 3, 4),
        .chroma_x = 1,
        .chroma_y = 0,
    };
}
