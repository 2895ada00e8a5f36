/* Plan `colours` judged from drawn readings: a palette of its own here, apart from the virtual console's.
 * Figures: levels of sevenths, and hues 24 degrees apart, are arithmetic over the handbook's eight luminances
 * and fifteen hues round the circle [H 4.0 + A]; that hue 0 is grey [H 4.0]; what the readings lack and the
 * spreads are this file's own. */
#include "verdict/palette.h"
#include "verdict/verdict.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { HASH = 0x1234, LINES = 168, HOLD = 4 };
#define CONTRAST 219.0

/* What the chip, and the chain behind it, do. */
struct chip {
    enum standard standard;
    uint8_t low[PALETTE_REGISTERS], high[PALETTE_REGISTERS]; /* stuck bits */
    uint8_t cells_low;                                       /* bit of PF0 to PF2 that draws nothing */
    uint8_t data_low, data_high;                             /* of all registers */
    double apart, first;                                     /* degrees; 0: 24, from 0 on */
    double saturation;                                       /* codes; 0: 40 */
    double bend;                                             /* level = x + bend * x * (1 - x) */
    bool grey, no_chroma, zigzag;
    double noise;       /* of the level, a field's mean */
    double other_white; /* share by which COLUPF's levels seem higher, white being cut off */
    int swapped;        /* hue that changes places with the next; 0: none */
    int flat;           /* hue of which levels 3 and 4 are the same; -1, 0: none */
    int odd_codes;      /* of COLUPF, that are one step too bright */
    bool tinted_grey, cropped, late, mixing, cut_off, shares;
    double eight[COLOUR_LEVELS]; /* SECAM: levels of the eight colours; all 0: sevenths */
};

static uint64_t random_state;

static double gaussian(void) {
    double sum = 0;
    for (int i = 0; i < 12; i++) {
        random_state = random_state * UINT64_C(6364136223846793005) + 1442695040888963407;
        sum += (double)(random_state >> 11) / 9007199254740992.0;
    }
    return sum - 6;
}

struct shade {
    double level, cb, cr;
};

static uint8_t held(const struct chip *chip, int reg, uint8_t value) {
    value = (uint8_t)((value & ~chip->data_low) | chip->data_high);
    return (uint8_t)((value & ~chip->low[reg]) | chip->high[reg]) & 0xFE;
}

static double level_of(const struct chip *chip, uint8_t value) {
    const int level = value >> 1 & 7;
    const double x = chip->eight[7] > 0                                         ? chip->eight[level]
                     : chip->flat > 0 && value >> 4 == chip->flat && level == 4 ? 3 / 7.0
                                                                                : level / 7.0;
    return x + chip->bend * x * (1 - x);
}

static struct shade shade_of(const struct chip *chip, uint8_t value) {
    int hue = value >> 4;
    hue += hue > 0 && hue == chip->swapped                            ? 1
           : hue > 1 && hue == chip->swapped + 1 && chip->swapped > 0 ? -1
                                                                      : 0;
    const double apart = chip->apart != 0 ? chip->apart : 24,
                 amount = chip->saturation > 0 ? chip->saturation : 40;
    double angle = (chip->first + (hue - 1) * apart) * M_PI / 180;
    bool grey = chip->grey || (hue == 0 && !chip->tinted_grey);
    if (chip->zigzag) {
        grey =
            hue < 2 || hue > 13; /* [P] of the other standard's consoles: both sides of the circle by turns */
        angle = (hue % 2 == 0 ? hue * 12 : -hue * 12) * M_PI / 180;
    }
    return (struct shade){.level = level_of(chip, value),
                          .cb = grey ? 0 : -amount * cos(angle),
                          .cr = grey ? 0 : -amount * sin(angle)};
}

static uint64_t cells_of(const struct chip *chip, bool lit) {
    static const int first[3] = {4, 0, 0}; /* serial output: PF0 4..7, PF1 7..0, PF2 0..7 [H TIA 1A] */
    uint64_t cells = 0;
    int position = 0;
    for (int reg = 0; reg < 3; reg++) {
        for (int i = first[reg]; i < 8; i++, position++) {
            const int bit = reg == 1 ? 7 - i : i;
            const uint8_t value =
                (uint8_t)(((lit ? 0xFF : 0) & ~chip->data_low & ~chip->cells_low) | chip->data_high);
            const bool mirror = chip->data_high & 1; /* CTRLPF D0 [H TIA 1A] */
            cells |= (uint64_t)(value >> bit & 1) << position;
            cells |= (uint64_t)(value >> bit & 1) << (mirror ? 39 - position : position + 20);
        }
    }
    return cells;
}

/* Codes: black beside the picture 16, white what COLUBK makes of $0E. */
static void draw(const struct chip *chip, uint32_t step, uint32_t shown, unsigned counter,
                 struct detail *detail, struct reading *reading) {
    const int reg = colour_step_register(shown) == REG_COLUPF ? PALETTE_COLUPF : PALETTE_COLUBK;
    const uint8_t code = colour_step_code(shown);
    const struct shade white = shade_of(chip, held(chip, PALETTE_COLUBK, 0x0E)),
                       black = shade_of(chip, held(chip, PALETTE_COLUBK, 0x00));
    struct shade seen = shade_of(chip, held(chip, reg, code));
    double span = white.level - black.level;
    const bool odd = reg == PALETTE_COLUPF && code >= 0x42 && code < 0x42 + 2 * chip->odd_codes;
    seen.level += odd ? 1 / 7.0 : 0;
    seen.level *= reg == PALETTE_COLUPF ? 1 + chip->other_white : 1;
    seen.level += chip->noise * gaussian();
    if (chip->cut_off) { /* at three quarters of white */
        seen.level = fmin(seen.level, 0.75);
        span = 0.75 - black.level;
    }
    memset(reading, 0, sizeof *reading);
    memset(detail, 0, sizeof *detail);
    reading->state = FIELD_READ;
    reading->slate = (struct slate){HASH, step, counter & 63};
    reading->raster =
        (struct raster){60, 20, 3.7714, 16 + CONTRAST * black.level, 16 + CONTRAST * (black.level + span), 0};
    reading->lines = standard_plan_lines(chip->standard);
    reading->margin = 0.9;
    reading->has_chroma = !chip->no_chroma;
    reading->blended = chip->mixing;
    reading->clips_white = chip->cut_off || chip->other_white > 0;
    reading->detail = detail;
    detail->whole = (struct cell_colour){.count = 70,
                                         .level = (seen.level - black.level) / span,
                                         .cb = seen.cb - white.cb,
                                         .cr = seen.cr - white.cr};
    if (!chip->cropped) {
        reading->beside_picture =
            (struct cell_colour){.count = 12, .level = -black.level / span, .cb = -white.cb, .cr = -white.cr};
        reading->beside_band = -black.level / span;
        reading->band_white = 1;
    }
    const uint64_t cells = cells_of(chip, reg == PALETTE_COLUPF);
    const bool bright = detail->whole.level > 0.5, as_told = (reg == PALETTE_COLUPF) == bright;
    for (int line = 0; line < reading->lines; line++) {
        reading->lit[line] = as_told ? cells : bright ? (UINT64_C(1) << 40) - 1 : 0;
    }
}

struct judged_chip {
    struct plan *plan;
    struct judge *judge;
    const struct result *result;
};

static void share_chroma(const struct chip *chip, uint32_t next, struct detail *detail) {
    struct detail other;
    struct reading reading;
    draw(chip, next % COLOUR_STEPS, next % COLOUR_STEPS, 0, &other, &reading);
    detail->whole.cb = (detail->whole.cb + other.whole.cb) / 2;
    detail->whole.cr = (detail->whole.cr + other.whole.cr) / 2;
}

static void show(const struct chip *chip, struct judge *judge, uint32_t from, uint32_t end) {
    unsigned counter = 0;
    for (uint32_t step = from; step < end; step++) {
        for (int i = 0; i < HOLD; i++) {
            struct detail detail;
            struct reading reading;
            const uint32_t shown = chip->late && i == 0 && step > 0 ? step - 1 : step;
            draw(chip, step, shown, counter++, &detail, &reading);
            if (chip->shares && i == HOLD - 1) {
                share_chroma(chip, step + 1, &detail);
            }
            detail.shares_chroma = chip->shares;
            judge_reading(judge, &reading, 2);
        }
    }
}

static struct judged_chip start(enum standard standard) {
    struct judged_chip judged = {.result = NULL};
    struct problem problem;
    assert_true(colours_plan(standard, &judged.plan, &problem));
    judged.judge = judge_new(judged.plan, HASH);
    assert_non_null(judged.judge);
    return judged;
}

static struct judged_chip judge_chip(const struct chip *chip) {
    struct judged_chip judged = start(chip->standard);
    for (int round = 0; round < 3 && !judge_complete(judged.judge); round++) {
        show(chip, judged.judge, 0, COLOUR_STEPS);
    }
    judged.result = judge_result(judged.judge);
    return judged;
}

static void end(struct judged_chip *judged) {
    judge_free(judged->judge);
    plan_free(judged->plan);
}

static void wants_verdict(const struct result *result, enum verdict verdict, const char *what) {
    if (result->verdict != verdict) {
        fail_msg("%s: %s, not %s; first finding: %s", what, verdict_name(result->verdict),
                 verdict_name(verdict), result->finding_count > 0 ? result->findings[0].text : "none");
    }
}

/* Just these findings, in any order. */
static void wants(const struct chip *chip, enum verdict verdict, enum finding_kind kind, int reg, int bit,
                  size_t count, const char *word, const char *what) {
    struct judged_chip judged = judge_chip(chip);
    const struct result *result = judged.result;
    bool found = false;
    wants_verdict(result, verdict, what);
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        found = found || (finding->kind == kind && finding->reg == reg && finding->bit == bit &&
                          strstr(finding->text, word) != NULL);
    }
    if (!found || result->finding_count != count) {
        fail_msg("%s: %zu findings, wanted %zu with %s of %d D%d, \"%s\"; first: %s", what,
                 result->finding_count, count, finding_name(kind), reg, bit, word,
                 result->finding_count > 0 ? result->findings[0].text : "none");
    }
    end(&judged);
}

static void wants_pass(const struct chip *chip, const char *what) {
    struct judged_chip judged = judge_chip(chip);
    wants_verdict(judged.result, VERDICT_PASS, what);
    assert_int_equal(judged.result->finding_count, 0);
    end(&judged);
}

/* ---- measuring ---- */

static void test_good(void **state) {
    (void)state;
    const struct chip chip = {.standard = STANDARD_NTSC, .late = true};
    struct judged_chip judged = judge_chip(&chip);
    const struct palette *palette = judged.result->palette;
    wants_verdict(judged.result, VERDICT_PASS, "good");
    assert_non_null(palette);
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct palette_colour *colour = &palette->colour[i / COLOUR_CODES][i % COLOUR_CODES];
        const int hue = i % COLOUR_CODES / COLOUR_LEVELS;
        assert_int_equal(colour->fields, HOLD - 1); /* the first one is the step before [here: `late`] */
        assert_float_equal((float)colour->level, (float)(i % COLOUR_LEVELS) / 7, 1e-6F);
        if (hue > 0) {
            assert_float_equal((float)remainder(colour->hue - (hue - 1) * 24.0, 360), 0, 1e-3F);
            assert_float_equal((float)colour->saturation, 40, 1e-3F);
        }
    }
    for (int hue = 1; hue < COLOUR_HUES; hue++) {
        const struct palette_hue *one = &palette->hue[PALETTE_COLUPF][hue];
        assert_true(one->known && one->ordered);
        assert_float_equal((float)one->to_next, 24, 1e-3F); /* 15 * 24 = 360: the last one's too [A] */
        assert_float_equal((float)one->slope, 1 / 7.0F, 1e-6F);
        assert_float_equal((float)one->nonlinearity, 0, 1e-6F);
    }
    end(&judged);
}

/* A parabola over 0..7, bent by b: least squares leave the line x + b/8 + ... [A: of b x (1 - x) at sevenths
 * the mean is b/7 and it has no slope; most off it is at the ends, b/7]. */
static void test_line(void **state) {
    (void)state;
    const struct chip chip = {.standard = STANDARD_NTSC, .bend = 0.28};
    struct judged_chip judged = judge_chip(&chip);
    const struct palette_hue *hue = &judged.result->palette->hue[PALETTE_COLUBK][3];
    wants_verdict(judged.result, VERDICT_PASS, "bent");
    assert_float_equal((float)hue->slope, 1 / 7.0F, 1e-6F);
    assert_float_equal((float)hue->offset, 0.04F, 1e-6F);
    assert_float_equal((float)hue->nonlinearity, 0.04F, 1e-6F);
    end(&judged);
}

/* The mean of n Gaussian readings, and their rms. */
static void test_spread(void **state) {
    (void)state;
    const struct chip chip = {.standard = STANDARD_NTSC, .noise = 0.01};
    double squares = 0;
    random_state = 7;
    struct judged_chip judged = judge_chip(&chip);
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        const struct palette_colour *colour =
            &judged.result->palette->colour[i / COLOUR_CODES][i % COLOUR_CODES];
        squares += colour->level_spread * colour->level_spread / (PALETTE_REGISTERS * COLOUR_CODES);
    }
    /* rms round the mean of 3: sigma * sqrt(2/3); 256 of them are within 6 % [A, 3 sigma] */
    assert_float_equal((float)sqrt(squares), 0.01F * sqrtf(2 / 3.0F), 0.01F * 0.06F);
    end(&judged);
}

/* ---- consoles that are well ---- */

static void test_well(void **state) {
    (void)state;
    const struct chip back = {.standard = STANDARD_NTSC, .apart = -26, .first = 5},
                      narrow = {.standard = STANDARD_NTSC, .apart = 21, .saturation = 18},
                      cropped = {.standard = STANDARD_NTSC, .cropped = true},
                      mixing = {.standard = STANDARD_NTSC, .mixing = true},
                      pal = {.standard = STANDARD_PAL, .zigzag = true},
                      secam = {.standard = STANDARD_SECAM, .grey = true},
                      eight = {.standard = STANDARD_SECAM,
                               .grey = true, /* order of brightness is not asked */
                               .eight = {0, 0.2, 0.1, 0.5, 0.4, 0.7, 0.9, 1}};
    wants_pass(&back, "the other way round");
    wants_pass(&narrow, "a narrow circle of little colour");
    wants_pass(&cropped, "no blank beside the picture");
    wants_pass(&mixing, "fields mixed");
    wants_pass(&pal, "hues to both sides by turns");
    wants_pass(&secam, "eight greys");
    wants_pass(&eight, "eight colours in no order");
}

/* Noise never makes a fault: pass, or inconclusive where it hides the order. */
static void test_noise(void **state) {
    (void)state;
    const int runs = getenv("SLOTJIG_TEST_SMALL") != NULL ? 3 : 20;
    for (int run = 0; run < runs; run++) {
        const struct chip chip = {.standard = STANDARD_NTSC, .noise = 0.004 * run};
        random_state = 100 + (uint64_t)run;
        struct judged_chip judged = judge_chip(&chip);
        if (judged.result->verdict == VERDICT_FAIL) {
            fail_msg("noise %.3f, seed %d: %s", chip.noise, 100 + run, judged.result->findings[0].text);
        }
        if (run == 1) {
            wants_verdict(judged.result, VERDICT_PASS, "a little noise");
        }
        end(&judged);
    }
}

/* ---- stuck bits ---- */

static const enum reg regs[PALETTE_REGISTERS] = {
    [PALETTE_COLUBK] = REG_COLUBK, [PALETTE_COLUPF] = REG_COLUPF};

static void stick(struct chip *chip, int reg, int bit, bool high) {
    *(high ? &chip->high[reg] : &chip->low[reg]) |= (uint8_t)(1u << bit);
}

static void test_stuck(void **state) {
    (void)state;
    for (int i = 0; i < 2 * 2 * 7 * 2; i++) {
        const int reg = i & 1, bit = 1 + i / 8;
        const bool high = i >> 1 & 1;
        struct chip chip = {.standard = STANDARD_NTSC, .cropped = i >> 2 & 1};
        char what[64];
        snprintf(what, sizeof what, "%s D%d %s%s", reg_name(regs[reg]), bit, high ? "high" : "low",
                 chip.cropped ? ", cropped" : "");
        stick(&chip, reg, bit, high);
        wants(&chip, VERDICT_FAIL, FINDING_COLOUR_WRONG, regs[reg], bit, 1, high ? "stuck high" : "stuck low",
              what);
    }
}

static void test_two_stuck(void **state) {
    (void)state;
    struct chip one = {.standard = STANDARD_NTSC}, both = one, each = one;
    stick(&one, PALETTE_COLUPF, 2, true);
    stick(&one, PALETTE_COLUPF, 6, false);
    wants(&one, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, 2, 2, "stuck high", "two bits");
    wants(&one, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, 6, 2, "stuck low", "two bits");
    stick(&each, PALETTE_COLUPF, 4, true);
    stick(&each, PALETTE_COLUBK, 1, false);
    wants(&each, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, 4, 2, "stuck high", "a bit each");
    wants(&each, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUBK, 1, 2, "stuck low", "a bit each");
    for (int bit = 1; bit < 8; bit++) {
        for (int high = 0; high < 2; high++) {
            struct chip same = both;
            stick(&same, PALETTE_COLUPF, bit, high);
            stick(&same, PALETTE_COLUBK, bit, high);
            wants(&same, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, bit, 2,
                  high ? "stuck high" : "stuck low", "the same bit of both");
        }
    }
}

/* Where no blank is shown a level bit of both may be either, and that is said. */
static void test_either(void **state) {
    (void)state;
    struct chip chip = {.standard = STANDARD_NTSC, .cropped = true};
    stick(&chip, PALETTE_COLUPF, 1, true);
    stick(&chip, PALETTE_COLUBK, 1, true);
    wants(&chip, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, 1, 2, "stuck low or high", "either");
}

static void test_data_lines(void **state) {
    (void)state;
    for (int bit = 0; bit < 8; bit++) {
        for (int high = 0; high < 2; high++) {
            struct chip chip = {.standard = STANDARD_NTSC};
            *(high ? &chip.data_high : &chip.data_low) = (uint8_t)(1u << bit);
            if (bit == 1) {
                continue; /* VSYNC's and VBLANK's bit: no picture comes [H] */
            }
            char what[32];
            snprintf(what, sizeof what, "data line %d %s", bit, high ? "high" : "low");
            wants(&chip, VERDICT_FAIL, FINDING_DATA_LINE_STUCK, -1, bit, 1, high ? "stuck high" : "stuck low",
                  what);
        }
    }
}

/* Cells as a stuck data line would draw them, and colours that say that it is none; and a single bit's. */
static void test_cells(void **state) {
    (void)state;
    struct chip chip = {.standard = STANDARD_NTSC, .cells_low = 0x08};
    wants(&chip, VERDICT_FAIL, FINDING_UNEXPLAINED, -1, -1, 1, "first cell 8:", "two bits of the playfield");
    chip.no_chroma = chip.grey = true;
    chip.cells_low = 0x20; /* no hue that could say so */
    wants(&chip, VERDICT_FAIL, FINDING_DATA_LINE_STUCK, -1, 5, 1, "D5", "a data line, by its cells alone");
}

/* ---- other faults ---- */

static void test_wrong(void **state) {
    (void)state;
    const struct chip swapped = {.standard = STANDARD_NTSC, .swapped = 5},
                      flat = {.standard = STANDARD_NTSC, .flat = 6},
                      tinted = {.standard = STANDARD_NTSC, .tinted_grey = true},
                      odd = {.standard = STANDARD_NTSC, .odd_codes = 2},
                      alike = {.standard = STANDARD_SECAM,
                               .grey = true,
                               .eight = {0, 0.2, 0.1, 0.5, 0.5, 0.7, 0.9, 1}};
    wants(&swapped, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, -1, 2, "not in order", "hues swapped");
    wants(&flat, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUBK, -1, 2, "$66 to $68", "a level too low");
    wants(&tinted, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUBK, -1, 2, "not grey", "hue 0 coloured");
    wants(&odd, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, -1, 1, "2 of the 128",
          "two codes too bright");
    wants(&alike, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUBK, -1, 2, "do not rise", "two of eight alike");
}

/* One code alone may be the chain's: too bright by a step, it differs from the other register's, and the next
 * does not rise. */
static void test_one_code(void **state) {
    (void)state;
    const struct chip chip = {.standard = STANDARD_NTSC, .odd_codes = 1};
    wants(&chip, VERDICT_INCONCLUSIVE, FINDING_NOISY, -1, -1, 1, "order", "one code");
}

/* Where white is cut off by turns of a hum, COLUPF's pictures may be measured by another white than
 * COLUBK's. */
static void test_other_white(void **state) {
    (void)state;
    struct chip chip = {.standard = STANDARD_NTSC, .other_white = 0.1};
    wants_pass(&chip, "white cut off");
    chip.other_white = 0.9; /* more than a gain does */
    wants(&chip, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, -1, 1, "differently", "another white");
}

/* The last field of a step has half the colour of the next in it, where the frame's fields share it. */
static void test_shared_chroma(void **state) {
    (void)state;
    const struct chip chip = {.standard = STANDARD_NTSC, .late = true, .shares = true};
    struct judged_chip judged = judge_chip(&chip);
    wants_verdict(judged.result, VERDICT_PASS, "shared chroma");
    for (int hue = 1; hue < COLOUR_HUES; hue++) {
        const struct palette_colour *colour = &judged.result->palette->colour[0][8 * hue + 7];
        assert_int_equal(colour->fields, HOLD - 2);
        assert_float_equal((float)remainder(colour->hue - (hue - 1) * 24.0, 360), 0, 1e-3F);
    }
    end(&judged);
}

static void test_open(void **state) {
    (void)state;
    const struct chip grey = {.standard = STANDARD_NTSC, .grey = true},
                      blind = {.standard = STANDARD_NTSC, .no_chroma = true, .grey = true},
                      cut_off = {.standard = STANDARD_NTSC, .cut_off = true};
    struct chip stuck = blind;
    stick(&stuck, PALETTE_COLUPF, 2, false);
    wants(&grey, VERDICT_INCONCLUSIVE, FINDING_NO_COLOUR, -1, -1, 1, "hue", "no colour");
    wants(&blind, VERDICT_INCONCLUSIVE, FINDING_NO_COLOUR, -1, -1, 1, "hue", "no chroma");
    wants(&cut_off, VERDICT_INCONCLUSIVE, FINDING_CLIPPING, -1, -1, 1, "cuts off", "levels cut off");
    wants(&stuck, VERDICT_FAIL, FINDING_COLOUR_WRONG, REG_COLUPF, 2, 1, "stuck low",
          "levels judged all the same");
}

static void test_not_all_seen(void **state) {
    (void)state;
    const struct chip chip = {.standard = STANDARD_NTSC};
    struct judged_chip judged = start(STANDARD_NTSC);
    uint32_t values[300];
    assert_int_equal(judge_ask(judged.judge, values, 100), 100);
    assert_int_equal(values[0], 0);
    assert_int_equal(values[99], 99);
    assert_int_equal(judge_ask(judged.judge, values, 300), 156); /* the rest */
    assert_int_equal(values[0], 100);
    assert_int_equal(judge_ask(judged.judge, values, 300), 0); /* all under way */
    show(&chip, judged.judge, 3, 200);
    assert_int_equal(judge_owed(judged.judge), COLOUR_STEPS - 197);
    assert_int_equal(judge_ask(judged.judge, values, 300),
                     3); /* those passed by; the rest is still to come */
    assert_int_equal(values[2], 2);
    wants_verdict(judge_result(judged.judge), VERDICT_INCONCLUSIVE, "not all seen");
    show(&chip, judged.judge, 0, 3);
    show(&chip, judged.judge, 200, COLOUR_STEPS);
    assert_true(judge_complete(judged.judge));
    wants_verdict(judge_result(judged.judge), VERDICT_PASS, "all seen");
    end(&judged);
}

/* One field of a step says nothing: it is the first. */
static void test_nothing(void **state) {
    (void)state;
    struct judged_chip judged = start(STANDARD_PAL);
    const struct result *result = judge_result(judged.judge);
    wants_verdict(result, VERDICT_INCONCLUSIVE, "nothing seen");
    assert_null(result->palette);
    end(&judged);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good),          cmocka_unit_test(test_line),
        cmocka_unit_test(test_spread),        cmocka_unit_test(test_well),
        cmocka_unit_test(test_noise),         cmocka_unit_test(test_stuck),
        cmocka_unit_test(test_two_stuck),     cmocka_unit_test(test_either),
        cmocka_unit_test(test_data_lines),    cmocka_unit_test(test_wrong),
        cmocka_unit_test(test_open),          cmocka_unit_test(test_not_all_seen),
        cmocka_unit_test(test_nothing),       cmocka_unit_test(test_one_code),
        cmocka_unit_test(test_cells),         cmocka_unit_test(test_other_white),
        cmocka_unit_test(test_shared_chroma),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
