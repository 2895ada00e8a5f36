/* Plan `colours` by the whole way, from image to verdict: good consoles on every kind of grabber, and every
 * stuck bit of a colour register and every stuck data line, named. The hues' places and their amount are the
 * virtual console's alone (24 degrees a hue from the burst's axis, 40 codes); that levels are sevenths is
 * arithmetic over the handbook's eight luminances [H 4.0 + A]. */
#include "commands/loop.h"
#include "verdict/palette.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Two and a half codes of 219: rounding, noise, an echo's rest. */
#define LEVEL_OFF 0.012
#define HUE_OFF 3.0 /* degrees */

static bool is_small(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL;
}

static void start(struct loop *loop, enum standard standard, const char *set, const char *fault,
                  uint64_t seed) {
    struct virtual_options options;
    struct problem problem;
    virtual_defaults(standard, &options);
    options.seed = seed;
    assert_true(virtual_use_set(&options, set, &problem));
    if (!loop_run(loop, "colours", &options, fault, NULL)) {
        fail_msg("%s, %s: %s", set, fault == NULL ? "no fault" : fault, loop->problem.text);
    }
}

/* ---- good consoles ---- */

/* Mean over a register's codes of one level, and the farthest mean of a hue from where it is drawn. */
static void check_measured(const struct palette *palette, const char *set, bool hues) {
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int level = 0; level < COLOUR_LEVELS; level++) {
            double sum = 0;
            for (int hue = 0; hue < COLOUR_HUES; hue++) {
                sum += palette->colour[reg][hue * COLOUR_LEVELS + level].level / COLOUR_HUES;
            }
            if (fabs(sum - level / 7.0) > LEVEL_OFF) {
                fail_msg("%s, register %d: level %d is %.4f, drawn %.4f", set, reg, level, sum, level / 7.0);
            }
        }
        for (int hue = 1; hue < COLOUR_HUES && hues; hue++) {
            const double off = remainder(palette->hue[reg][hue].hue - 24.0 * (hue - 1), 360);
            if (fabs(off) > HUE_OFF) {
                fail_msg("%s, register %d: hue %d is off by %.2f degrees", set, reg, hue, off);
            }
        }
    }
}

static void run_good(enum standard standard, const char *set, uint64_t seed) {
    struct loop loop;
    loop_hold = LOOP_HOLD;
    start(&loop, standard, set, NULL, seed);
    const struct result *result = loop.session.result;
    if (result->verdict != VERDICT_PASS || result->finding_count > 0) {
        fail_msg("%s, seed %llu: %s: %s", set, (unsigned long long)seed, verdict_name(result->verdict),
                 loop_findings(&loop));
    }
    assert_non_null(result->palette);
    const bool hot =
        strcmp(set, "hot") == 0; /* white is cut off at times, so that what is below seems lighter */
    if (!hot) {
        check_measured(result->palette, set, standard != STANDARD_SECAM);
    }
    loop_end(&loop);
}

static void test_good(void **state) {
    (void)state;
    int number = 0;
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++, number++) {
        if (!is_small() || number % 6 == 0) {
            run_good((enum standard)(number % 3), set->name, 40 + (uint64_t)number);
        }
    }
}

/* ---- faults ---- */

static bool says(const struct loop *loop, const char *word) {
    return loop->session.result->finding_count == 1 &&
           strstr(loop->session.result->findings[0].text, word) != NULL;
}

static void run_fault(const char *fault, const char *set, enum standard standard, enum finding_kind kind,
                      int reg, int bit, bool high) {
    struct loop loop;
    loop_hold = strcmp(set, "clean") == 0 ? JUDGE_GOOD_FIELDS + 1 : LOOP_HOLD; /* one to settle */
    start(&loop, standard, set, fault, 90 + (uint64_t)bit);
    if (loop.session.result->verdict != VERDICT_FAIL || !loop_found(&loop, kind, reg, bit) ||
        !says(&loop, high ? "stuck high" : "stuck low")) {
        fail_msg("%s on %s: %s: %s", fault, set, verdict_name(loop.session.result->verdict),
                 loop_findings(&loop));
    }
    loop_end(&loop);
}

/* One in seven is seen through a grabber that is not clean. */
static const char *set_of(int number) {
    static const char *const sets[] = {"tuner", "comb", "mjpeg", "time-base", "top-first", "blend"};
    return number % 7 == 0 ? sets[number / 7 % 6] : "clean";
}

static void test_colour_bits(void **state) {
    (void)state;
    int number = 0;
    for (int i = 0; i < 2 * 7; i++) {
        /* Each bit high in one register and low in the other. */
        const bool pf = i & 1, high = (i >> 1 & 1) != pf;
        const int bit = 1 + i / 2;
        char fault[32];
        if (is_small() && i % 9 != 0) {
            continue;
        }
        snprintf(fault, sizeof fault, "colour-%s=%s.%d", high ? "high" : "low", pf ? "COLUPF" : "COLUBK",
                 bit);
        run_fault(fault, set_of(number), number % 4 == 0 ? STANDARD_PAL : STANDARD_NTSC, FINDING_COLOUR_WRONG,
                  pf ? REG_COLUPF : REG_COLUBK, bit, high);
        number++;
    }
}

/* D1 is VSYNC's and VBLANK's bit: with it stuck no picture comes [H]. */
static void test_data_lines(void **state) {
    (void)state;
    for (int i = 0; i < 2 * 8; i++) {
        const bool high = i & 1;
        const int line = i / 2;
        char fault[32];
        if (line == 1 || (is_small() && i % 7 != 0)) {
            continue;
        }
        snprintf(fault, sizeof fault, "tia-data=%d:%s", line, high ? "high" : "low");
        run_fault(fault, set_of(i + 14), STANDARD_NTSC, FINDING_DATA_LINE_STUCK, REG_COUNT, line, high);
    }
}

/* ---- a grabber that says too little ---- */

static void run_impaired(const char *impairment, enum verdict verdict, enum finding_kind kind) {
    struct loop loop;
    struct virtual_options options;
    struct problem problem;
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(virtual_add_impairment(&options, impairment, &problem));
    assert_true(loop_run(&loop, "colours", &options, NULL, NULL));
    if (loop.session.result->verdict != verdict || !loop_found(&loop, kind, REG_COUNT, -1)) {
        fail_msg("%s: %s: %s", impairment, verdict_name(loop.session.result->verdict), loop_findings(&loop));
    }
    loop_end(&loop);
}

static void test_open(void **state) {
    (void)state;
    run_impaired("no-colour", VERDICT_INCONCLUSIVE, FINDING_NO_COLOUR);
    run_impaired("gain=1.4", VERDICT_INCONCLUSIVE, FINDING_CLIPPING);
}

/* What a chain does to levels is never the console's: hum where the blank beside the picture is cropped away,
 * hum that goes beyond the code range, gain that hunts, black and white cut off within the range, the lower
 * part of the picture black. */
static void test_chain(void **state) {
    (void)state;
    static const struct {
        enum standard standard;
        enum verdict verdict;
        const char *impairments[3];
    } cases[] = {
        {STANDARD_NTSC, VERDICT_PASS, {"hum=0.05"}},
        {STANDARD_NTSC, VERDICT_INCONCLUSIVE, {"hum=0.05", "crop=70:20:0:0"}},
        {STANDARD_PAL, VERDICT_INCONCLUSIVE, {"hum=0.212"}},
        {STANDARD_NTSC, VERDICT_INCONCLUSIVE, {"agc=0.5:10"}},
        {STANDARD_NTSC, VERDICT_INCONCLUSIVE, {"clip=0.747:0.079", "sharpen=0.5"}},
        {STANDARD_PAL, VERDICT_INCONCLUSIVE, {"layout=single", "half-black=lower", "shift=0:15"}},
    };
    loop_hold = LOOP_HOLD;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct loop loop;
        struct virtual_options options;
        struct problem problem;
        virtual_defaults(cases[i].standard, &options);
        for (int k = 0; k < 3 && cases[i].impairments[k] != NULL; k++) {
            assert_true(virtual_add_impairment(&options, cases[i].impairments[k], &problem));
        }
        assert_true(loop_run(&loop, "colours", &options, NULL, NULL));
        if (loop.session.result->verdict != cases[i].verdict) {
            fail_msg("%s: %s: %s", cases[i].impairments[0], verdict_name(loop.session.result->verdict),
                     loop_findings(&loop));
        }
        loop_end(&loop);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good), cmocka_unit_test(test_colour_bits), cmocka_unit_test(test_data_lines),
        cmocka_unit_test(test_open), cmocka_unit_test(test_chain),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
