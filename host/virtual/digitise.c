#include "virtual/digitise.h"

#include <math.h>
#include <string.h>

enum { COLOURS = 256 };

#define CHROMA_AMPLITUDE 40.0 /* codes */
#define CODE_LEAST (-256.0F)  /* of the analog line, so that noise can be added in 16 bits */
#define CODE_MOST 511.0F
#define SUBCARRIER_PAL 4433618.75 /* Hz [S PAL]; NTSC: the colour clock itself */

/* ---- preparing ---- */

static float clip(double code) {
    return (float)fmax(CODE_LEAST, fmin(CODE_MOST, code));
}

static double level_of(int colour) {
    return colour == TIA_BLANKED ? 0 : (colour >> 1 & 7) / 7.0;
}

static void fill_luma(struct digitiser *digitiser, double agc) {
    const struct grabber_options *options = &digitiser->options;
    for (int colour = 0; colour < COLOURS; colour++) {
        double level = agc * options->gain * level_of(colour);
        digitiser->direct.luma[colour] = clip(16 + 219 * (options->offset + level));
        digitiser->echo.luma[colour] = (float)(219 * options->ghost * level);
    }
}

static double subcarrier(enum standard standard) {
    return standard == STANDARD_NTSC ? standard_table[STANDARD_NTSC].clock_hz : SUBCARRIER_PAL;
}

/* The colour of an echo is turned by the cycles of subcarrier that it comes late. PAL turns it back on every
 * other line, and the receiver takes the mean. */
static void fill_chroma(struct digitiser *digitiser) {
    const struct grabber_options *options = &digitiser->options;
    const bool ntsc = digitiser->standard == STANDARD_NTSC;
    const double turn = 2 * M_PI * subcarrier(digitiser->standard) * options->ghost_us * 1e-6;
    const double along = options->ghost * cos(turn), across = ntsc ? options->ghost * sin(turn) : 0;
    for (int colour = 0; colour < COLOURS; colour++) {
        int hue = colour >> 4;
        bool grey =
            colour == TIA_BLANKED || hue == 0 || digitiser->standard == STANDARD_SECAM || options->no_colour;
        double amplitude = grey ? 0 : CHROMA_AMPLITUDE * (1 - options->cross);
        double angle = (hue - 1) * 24 * M_PI / 180;
        double cb = -amplitude * cos(angle), cr = -amplitude * sin(angle);
        digitiser->direct.cb[colour] = (float)(128 + cb);
        digitiser->direct.cr[colour] = (float)(128 + cr);
        digitiser->echo.cb[colour] = (float)(along * cb - across * cr);
        digitiser->echo.cr[colour] = (float)(along * cr + across * cb);
    }
}

/* A code of Cb or Cr on the subcarrier, in luma codes [S BT.601: Cb = 224 * 0.564 (B-Y), Cr = 224 * 0.713
 * (R-Y); BT.470: U = 0.493 (B-Y), V = 0.877 (R-Y)]. A line of the console is a whole number of cycles (228,
 * PAL 285) [A], so that the stripes stand one below the other; which is also why a comb filter cannot tell
 * colour from brightness here. PAL's switch from line to line is left out [M]. */
static void fill_carrier(struct digitiser *digitiser) {
    const struct geometry *place = &digitiser->geometry;
    const double cross = digitiser->options.cross,
                 rest = cross / (1 - cross); /* of what the colour still has */
    const double of_cb = 219 * 0.493 / (224 * 0.564), of_cr = 219 * 0.877 / (224 * 0.713);
    for (int x = 0; x < GRABBER_WIDTH; x++) {
        const double angle =
            2 * M_PI * subcarrier(digitiser->standard) * (x - place->left) / place->samples_hz;
        digitiser->carrier_cb[x] = (float)(rest * of_cb * sin(angle));
        digitiser->carrier_cr[x] = (float)(rest * of_cr * cos(angle));
    }
}

/* Rounding to whole codes is noise too, of 1/sqrt(12) rms: it counts as part of what was asked for. */
static bool prepare_noise(struct noise *noise, double white, double decibels, uint64_t seed) {
    double rms = white * pow(10, -decibels / 20);
    double power = rms * rms - 1.0 / 12;
    if (power > 0) {
        noise_init(noise, sqrt(power), seed);
    }
    return power > 0;
}

static void prepare_responses(struct digitiser *digitiser) {
    const struct grabber_options *options = &digitiser->options;
    const struct geometry *place = &digitiser->geometry;
    double luma = options->bandwidth_mhz * 1e6 / place->samples_hz;
    double chroma = fmin(options->chroma_mhz, options->bandwidth_mhz) * 1e6 / (place->samples_hz / 2);
    double echo = options->ghost_us * 1e-6 * place->samples_hz;
    double late = options->chroma_delay * place->samples_hz / 13.5e6;
    response_init(&digitiser->luma_response, luma, options->sharpen, place->left, place->pitch, place->width);
    response_init(&digitiser->luma_echo, luma, options->sharpen, place->left + echo, place->pitch,
                  place->width);
    response_init(&digitiser->chroma_response, chroma, 0, (place->left + late) / 2, place->pitch / 2,
                  place->width / 2);
    response_init(&digitiser->chroma_echo, chroma, 0, (place->left + late + echo) / 2, place->pitch / 2,
                  place->width / 2);
}

/* Only where the same pixels always make the same samples. */
static void prepare_blocks(struct digitiser *digitiser) {
    const struct grabber_options *options = &digitiser->options;
    const bool steady = !digitiser->noisy && !digitiser->chroma_noisy && !digitiser->moving &&
                        !(options->hum > 0) && !(options->agc > 0) && !(fabs(options->ghost) > 0);
    blocks_init(&digitiser->blocks, &digitiser->luma_response, &digitiser->chroma_response);
    digitiser->blocks.possible = digitiser->blocks.possible && steady;
}

static int limit(double level, int least, int most) {
    return (int)fmax(least, fmin(most, round(16 + 219 * level)));
}

void digitiser_init(struct digitiser *digitiser, enum standard standard,
                    const struct grabber_options *options, uint64_t seed) {
    static const uint64_t of_lines = UINT64_C(0x6C696E6573), of_chroma = UINT64_C(0x6368726F6D61);
    digitiser->standard = standard;
    digitiser->options = *options;
    digitiser->random = seed ^ of_lines;
    digitiser->moving = options->jitter > 0 || fabs(options->slant) > 0;
    digitiser->least = limit(options->clip_black, 0, 255);
    digitiser->most = limit(options->clip_white, 0, 255);
    geometry_of(standard, options, &digitiser->geometry);
    fill_luma(digitiser, 1);
    fill_chroma(digitiser);
    fill_carrier(digitiser);
    digitiser->noisy = prepare_noise(&digitiser->noise, 219 * options->gain, options->noise_db, seed);
    digitiser->chroma_noisy = prepare_noise(&digitiser->chroma_noise, 219 * options->gain,
                                            options->chroma_noise_db, seed ^ of_chroma);
    prepare_responses(digitiser);
    prepare_blocks(digitiser);
}

/* ---- one line ---- */

static void lookup(const float table[COLOURS], const uint8_t *pixels, float clocks[TIA_VISIBLE]) {
    for (int i = 0; i < TIA_VISIBLE; i++) {
        clocks[i] = table[pixels[i]];
    }
}

static float *samples_of(struct signal *signal) {
    return signal->samples + RESPONSE_MARGIN;
}

static void add_echo(struct digitiser *digitiser, const struct response *response, const float *table,
                     const uint8_t *pixels, int late) {
    float clocks[TIA_VISIBLE];
    float *restrict sum = samples_of(&digitiser->signal);
    const float *restrict echo = samples_of(&digitiser->second);
    lookup(table, pixels, clocks);
    response_draw(response, clocks, 0, late, samples_of(&digitiser->second));
    for (int x = 0; x < response->width; x++) {
        sum[x] += echo[x];
    }
}

/* Steps of 1/NOISE_UNIT; moved up to be positive, where cutting off is rounding. */
static int16_t to_steps(float code) {
    code = code < CODE_LEAST ? CODE_LEAST : code;
    code = code > CODE_MOST ? CODE_MOST : code;
    return (int16_t)((int)((code - CODE_LEAST) * NOISE_UNIT + 0.5F) + (int)CODE_LEAST * NOISE_UNIT);
}

static void draw_difference(struct digitiser *digitiser, const float *direct, const float *echo,
                            const uint8_t *pixels, int late, int first) {
    float clocks[TIA_VISIBLE];
    const float *samples = samples_of(&digitiser->signal);
    lookup(direct, pixels, clocks);
    response_draw(&digitiser->chroma_response, clocks, 128, late, samples_of(&digitiser->signal));
    if (fabs(digitiser->options.ghost) > 0) {
        add_echo(digitiser, &digitiser->chroma_echo, echo, pixels, late);
    }
    for (int x = 0; x < digitiser->geometry.width / 2; x++) {
        digitiser->chroma[2 * x + first] = to_steps(samples[x]);
    }
}

static bool is_grey(const uint8_t *pixels) {
    unsigned hues = 0;
    for (int i = 0; i < TIA_VISIBLE; i++) {
        hues |= pixels[i];
    }
    return hues < 16;
}

static void draw_grey(struct digitiser *digitiser) {
    if (digitiser->greyed) {
        return;
    }
    digitiser->greyed = true;
    for (int x = 0; x < GRABBER_WIDTH; x++) {
        digitiser->chroma[x] = 128 * NOISE_UNIT;
    }
    memset(digitiser->quiet_chroma, 128, GRABBER_WIDTH);
}

static void draw_chroma(struct digitiser *digitiser, const uint8_t *pixels, int late) {
    digitiser->coloured = digitiser->standard != STANDARD_SECAM && !is_grey(pixels);
    if (!digitiser->coloured) {
        draw_grey(digitiser);
        return;
    }
    digitiser->greyed = false;
    draw_difference(digitiser, digitiser->direct.cb, digitiser->echo.cb, pixels, late / 2, 0);
    draw_difference(digitiser, digitiser->direct.cr, digitiser->echo.cr, pixels, late / 2, 1);
    for (int x = 0; x < GRABBER_WIDTH; x++) {
        digitiser->quiet_chroma[x] = (uint8_t)((digitiser->chroma[x] + NOISE_UNIT / 2) >> NOISE_SHIFT);
    }
}

/* From the colour of the line at hand, which is drawn already. */
static void add_carrier(const struct digitiser *digitiser, float *samples) {
    const float unit = NOISE_UNIT;
    for (int x = 0; x < digitiser->geometry.width; x++) {
        const int16_t *colour = digitiser->chroma + (x & ~1);
        samples[x] += ((float)colour[0] / unit - 128) * digitiser->carrier_cb[x] +
                      ((float)colour[1] / unit - 128) * digitiser->carrier_cr[x];
    }
}

static void draw_luma(struct digitiser *digitiser, const uint8_t *pixels, int late) {
    float clocks[TIA_VISIBLE];
    float *samples = samples_of(&digitiser->signal);
    lookup(digitiser->direct.luma, pixels, clocks);
    response_draw(&digitiser->luma_response, clocks, digitiser->direct.luma[TIA_BLANKED], late,
                  samples_of(&digitiser->signal));
    if (fabs(digitiser->options.ghost) > 0) {
        add_echo(digitiser, &digitiser->luma_echo, digitiser->echo.luma, pixels, late);
    }
    if (digitiser->coloured && digitiser->options.cross > 0) {
        add_carrier(digitiser, samples);
    }
    for (int x = 0; x < digitiser->geometry.width; x++) {
        digitiser->luma[x] = to_steps(samples[x]);
    }
}

static void draw_line(struct digitiser *digitiser, const uint8_t *pixels, int late) {
    draw_chroma(digitiser, pixels, late);
    draw_luma(digitiser, pixels, late);
}

/* Noise, limits and whole codes. */
static void quantise(const int16_t *restrict steps, const int16_t *restrict noise, int lift, int16_t least,
                     int16_t most, uint8_t *restrict codes) {
    const int16_t half = (int16_t)(NOISE_UNIT / 2 + lift);
    for (int x = 0; x < GRABBER_WIDTH; x++) {
        int16_t code = (int16_t)((int16_t)(steps[x] + noise[x] + half) >> NOISE_SHIFT);
        code = code < least ? least : code;
        code = code > most ? most : code;
        codes[x] = (uint8_t)code;
    }
}

static void interleave(const uint8_t *restrict luma, const uint8_t *restrict chroma, uint8_t *restrict out) {
    for (int x = 0; x < GRABBER_WIDTH; x++) {
        out[2 * x] = luma[x];
        out[2 * x + 1] = chroma[x];
    }
}

/* ---- one field ---- */

static void put_line(struct digitiser *digitiser, uint8_t *out) {
    static const int16_t silence[NOISE_RUN];
    uint8_t luma[GRABBER_WIDTH], noisy_chroma[GRABBER_WIDTH];
    const uint8_t *chroma = digitiser->quiet_chroma;
    quantise(digitiser->luma, digitiser->noisy ? noise_run(&digitiser->noise) : silence, digitiser->lift,
             (int16_t)digitiser->least, (int16_t)digitiser->most, luma);
    if (digitiser->chroma_noisy) {
        quantise(digitiser->chroma, noise_run(&digitiser->chroma_noise), 0, 0, 255, noisy_chroma);
        chroma = noisy_chroma;
    }
    interleave(luma, chroma, out);
}

/* The gain swings as slowly as such controls do: it is the same for all lines of a field. */
static void set_gain(struct digitiser *digitiser) {
    const struct grabber_options *options = &digitiser->options;
    if (options->agc > 0) {
        fill_luma(digitiser, 1 + options->agc * sin(2 * M_PI * digitiser->seconds / options->agc_s));
    }
}

static double line_seconds(const struct digitiser *digitiser) {
    return LINE_CLOCKS / standard_table[digitiser->standard].clock_hz;
}

static void set_hum(struct digitiser *digitiser, int line) {
    const struct grabber_options *options = &digitiser->options;
    double seconds = digitiser->seconds + line * line_seconds(digitiser);
    double codes = 219 * options->hum * sin(2 * M_PI * options->hum_hz * seconds);
    digitiser->lift = (int)lround(codes * NOISE_UNIT);
}

/* Phases by which the line lies to the right of its place. */
static int displacement(struct digitiser *digitiser, int y) {
    const struct grabber_options *options = &digitiser->options;
    double samples = geometry_slanted(&digitiser->geometry, options, y);
    if (options->jitter > 0) {
        samples += options->jitter * noise_gaussian(&digitiser->random);
    }
    return (int)lround(samples * RESPONSE_PHASES);
}

static const uint8_t *pixels_of(const struct tia_field *field, int line) {
    static const uint8_t black[TIA_VISIBLE];
    return field != NULL && line >= 0 && line < field->lines ? field->pixel[line] : black;
}

/* Whether it differs from the line above. */
static bool is_fresh(const struct tia_field *field, int line, int y) {
    if (y == 0) {
        return true;
    }
    if (field == NULL || line > field->lines || line < 0) {
        return false;
    }
    return line == 0 || line == field->lines || !field->same_as_above[line];
}

static void draw_alone(void *user, const uint8_t *pixels, uint8_t *out) {
    draw_line(user, pixels, 0);
    put_line(user, out);
}

void digitise(struct digitiser *digitiser, const struct tia_field *field, struct lines out) {
    const bool humming = digitiser->options.hum > 0;
    const bool copied = !digitiser->noisy && !digitiser->chroma_noisy && !digitiser->moving && !humming;
    set_gain(digitiser);
    for (int y = 0; y < digitiser->geometry.field_lines; y++) {
        const int line = digitiser->geometry.first + y;
        const bool fresh = is_fresh(field, line, y);
        uint8_t *at = out.first + y * out.stride;
        if (fresh && blocks_line(&digitiser->blocks, pixels_of(field, line), draw_alone, digitiser, at)) {
            continue;
        }
        if (digitiser->moving) {
            draw_line(digitiser, pixels_of(field, line), displacement(digitiser, y));
        } else if (fresh) {
            draw_line(digitiser, pixels_of(field, line), 0);
        }
        if (humming) {
            set_hum(digitiser, line);
        }
        if (copied && !fresh) {
            memcpy(at, at - out.stride, LINE_BYTES);
        } else {
            put_line(digitiser, at);
        }
    }
}

void digitiser_advance(struct digitiser *digitiser, int lines) {
    digitiser->seconds += lines * line_seconds(digitiser);
}
