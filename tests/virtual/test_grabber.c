/* The grabber: where a captured line's samples lie, how high they are, how fast, how noisy, and when it
 * locks. */
#include "virtual/grabbing.h"

enum { WIDTH = 720 };

static void test_edges_lie_where_they_should(void **state) {
    (void)state;
    static const struct {
        enum standard standard;
        double left, clock_hz;
    } cases[] = {{STANDARD_NTSC, 74.0, 3579545},
                 {STANDARD_NTSC, 60.37, 3579545},
                 {STANDARD_NTSC, 88.51, 3579545},
                 {STANDARD_PAL, 74.25, 3546894},
                 {STANDARD_SECAM, 71.9, 3546894}}; /* [S SMPTE 170M; PAL M] */
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct grabber_options options = usual();
        options.left = cases[i].left;
        blank_field(standard_lines(cases[i].standard));
        colour_all(WHITE);
        struct grabber *grabber = open_grabber(cases[i].standard, &options, 1);
        struct frame frame = take(grabber);
        double right = cases[i].left + 160 * 13.5e6 / cases[i].clock_hz; /* [S BT.601] */
        /* 0.02: edges rounded to the steps of the 1/64 table, and the little that is above half the sampling
         * frequency */
        double error_left = edge_instant(&frame, 100, 40, 300) - cases[i].left;
        double error_right = edge_instant(&frame, 100, 719, 300) - right;
        if (fabs(error_left) > 0.02 || fabs(error_right) > 0.02) {
            fail_msg("case %zu: edges off by %.4f and %.4f samples", i, error_left, error_right);
        }
        grabber_free(grabber);
    }
}

static void test_levels(void **state) {
    (void)state;
    static const double gains[] = {1, 0.5, 1.2}, offsets[] = {0, 0.1, -0.15};
    for (int g = 0; g < 9; g++) {
        struct grabber_options options = usual();
        options.gain = gains[g / 3];
        options.offset = offsets[g % 3];
        blank_field(262);
        for (int step = 0; step < 8; step++) {
            colour_clocks(100, 20 * step, 20 * step + 20, (uint8_t)(0x30 | step << 1));
        }
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        for (int step = 0; step < 8; step++) {
            double code = 16 + 219 * (options.offset + options.gain * step / 7); /* 16 and 219: [S BT.601] */
            int wanted = (int)lround(fmax(0, fmin(255, code)));
            int got = sample(&frame.y, (int)(74 + (20 * step + 10) * 3.7714), 2 * (100 - 21) + 1);
            if (abs(got - wanted) > 0) {
                fail_msg("gain %g, offset %g, step %d: %d, not %d", options.gain, options.offset, step, got,
                         wanted);
            }
        }
        grabber_free(grabber);
    }
}

enum { PHASES = 16, REACH = 30 };

/* The response to an edge, PHASES times finer than the samples: from -REACH to REACH samples round it. */
static void measure_step(enum standard standard, double bandwidth, double step[2 * REACH * PHASES]) {
    for (int phase = 0; phase < PHASES; phase++) {
        struct grabber_options options = usual();
        options.bandwidth_mhz = bandwidth;
        options.left = 200 + (double)phase / PHASES;
        blank_field(standard_lines(standard));
        colour_all(WHITE);
        struct grabber *grabber = open_grabber(standard, &options, 1);
        struct frame frame = take(grabber);
        for (int x = 0; x < 2 * REACH; x++) {
            step[x * PHASES + (PHASES - 1 - phase)] =
                (sample(&frame.y, 200 - REACH + 1 + x, 100) - 16) / 219.0;
        }
        grabber_free(grabber);
    }
}

static void test_bandwidth(void **state) {
    (void)state;
    static const double bandwidths[] = {1.0, 2.5, 4.2, 5.0};
    for (size_t i = 0; i < 4; i++) {
        static double step[2 * REACH * PHASES];
        measure_step(STANDARD_NTSC, bandwidths[i], step);
        double at_bandwidth = edge_magnitude(step, 2 * REACH * PHASES, bandwidths[i] / 13.5 / PHASES),
               low = edge_magnitude(step, 2 * REACH * PHASES, 0.05 / 13.5 / PHASES);
        if (fabs(at_bandwidth - sqrt(0.5)) > 0.015 || fabs(low - 1) > 0.01) { /* -3 dB is 1/sqrt(2) */
            fail_msg("%g MHz: %.4f there, %.4f near 0", bandwidths[i], at_bandwidth, low);
        }
        for (int n = 0; n < 2 * REACH * PHASES; n++) {
            assert_true(step[n] < 1.02 && step[n] > -0.02);
            assert_true(n == 0 || step[n] >= step[n - 1] - 1e-9);
        }
    }
}

static double measure_rms(const struct frame *frame, double mean, double *bias) {
    double sum = 0, squares = 0;
    int count = 0;
    for (int y = 0; y < frame->height; y++) {
        for (int x = 100; x < 650; x++, count++) {
            double away = sample(&frame->y, x, y) - mean;
            sum += away;
            squares += away * away;
        }
    }
    *bias = sum / count;
    return sqrt(squares / count);
}

static void test_noise(void **state) {
    (void)state;
    static const double decibels[] = {26, 30, 40, 52};
    for (uint64_t i = 0; i < 4; i++) {
        struct grabber_options options = usual();
        options.noise_db = decibels[i];
        options.gain = 0.8;
        blank_field(262);
        colour_all(0x08); /* in the middle, where nothing is clipped */
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 77 + i);
        struct frame frame = take(grabber);
        double mean = 16 + 219 * 0.8 * 4 / 7, bias;
        double wanted = 219 * 0.8 / pow(10, decibels[i] / 20), got = measure_rms(&frame, mean, &bias);
        /* at 52 dB rounding is half of it, and not quite independent of the signal */
        double most = decibels[i] > 50 ? 0.15 : 0.03;
        if (fabs(got / wanted - 1) > most || fabs(bias) > 0.15) {
            fail_msg("%g dB, seed %d: rms %.3f, not %.3f; mean off by %.3f", decibels[i], (int)(77 + i), got,
                     wanted, bias);
        }
        grabber_free(grabber);
    }
}

/* Neighbouring samples, lines and fields of noise have nothing to do with each other. */
static void test_noise_is_white(void **state) {
    (void)state;
    static const struct { int x, y; } shifts[] = {{1, 0}, {2, 0}, {0, 1}, {0, 2}, {1, 1}};
    struct grabber_options options = usual();
    options.noise_db = 30;
    blank_field(262);
    colour_all(0x08);
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 5);
    struct frame frame = take(grabber);
    for (size_t i = 0; i < sizeof shifts / sizeof shifts[0]; i++) {
        double mean = 16 + 219 * 4.0 / 7, product = 0, power = 0;
        for (int y = 0; y < 476; y++) {
            for (int x = 100; x < 640; x++) {
                double here = sample(&frame.y, x, y) - mean;
                product += here * (sample(&frame.y, x + shifts[i].x, y + shifts[i].y) - mean);
                power += here * here;
            }
        }
        if (fabs(product / power) > 0.02) {
            fail_msg("shift %d, %d: correlation %.4f", shifts[i].x, shifts[i].y, product / power);
        }
    }
    grabber_free(grabber);
}

static uint32_t sum_of(const struct frame *frame) {
    uint32_t sum = 0;
    for (int y = 0; y < frame->height; y++) {
        for (int x = 0; x < 2 * WIDTH; x++) {
            sum = sum * 16777619u + frame->y.data[y * frame->y.stride + x];
        }
    }
    return sum;
}

static uint32_t sum_with_seed(uint64_t seed) {
    struct grabber_options options = usual();
    options.noise_db = 30;
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, seed);
    struct frame frame = take(grabber);
    uint32_t sum = sum_of(&frame);
    grabber_free(grabber);
    return sum;
}

static void test_seed_makes_the_noise(void **state) {
    (void)state;
    blank_field(262);
    assert_int_equal(sum_with_seed(9), sum_with_seed(9));
    assert_int_not_equal(sum_with_seed(9), sum_with_seed(10));
}

/* The console's line 100 must be the captured field's line 79 (NTSC) or 77 (PAL), and nothing else. */
static void test_lines_and_weave(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct grabber_options options = usual();
        bool ntsc = standard == STANDARD_NTSC;
        int line = ntsc ? 100 - 21 : 100 - 23,
            older = ntsc ? 1 : 0; /* [M]; NTSC: the lower lines come first */
        struct grabber *grabber = open_grabber((enum standard)standard, &options, 1);
        blank_field(ntsc ? 262 : 312);
        take(grabber);
        colour_clocks(100, 0, TIA_VISIBLE, WHITE);
        grabber_take(grabber, &field);
        colour_clocks(100, 0, TIA_VISIBLE, TIA_BLANKED);
        grabber_take(grabber, &field);
        struct frame frame = next_of(grabber, NULL);
        assert_int_equal(frame.width, 720);
        assert_int_equal(frame.height, ntsc ? 480 : 576);
        for (int y = 0; y < frame.height; y++) {
            int wanted = y == 2 * line + older ? 235 : 16;
            if (sample(&frame.y, 360, y) != wanted) {
                fail_msg("standard %d, line %d: %d", standard, y, sample(&frame.y, 360, y));
            }
        }
        grabber_free(grabber);
    }
}

static void test_marks_of_same_lines_change_nothing(void **state) {
    (void)state;
    for (int noisy = 0; noisy < 2; noisy++) {
        struct grabber_options options = usual();
        options.noise_db = noisy ? 30 : HUGE_VAL;
        uint32_t sums[2];
        for (int marked = 0; marked < 2; marked++) {
            blank_field(250);
            for (int line = 50; line < 240; line++) {
                colour_clocks(line, line / 7, 80 + line / 9, (uint8_t)(line / 5 * 14));
            }
            if (marked) {
                mark_same_lines();
            }
            struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 3);
            struct frame frame = take(grabber);
            sums[marked] = sum_of(&frame);
            grabber_free(grabber);
        }
        assert_int_equal(sums[0], sums[1]);
    }
}

static bool shows_white(struct grabber *grabber, const struct tia_field *shown) {
    struct frame frame = next_of(grabber, shown);
    int code = sample(&frame.y, 360, 101);
    assert_true(code == 235 || code == 16);
    return code == 235;
}

static void test_lock(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.layout = GRABBER_SINGLE; /* a frame for each field */
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
    blank_field(262);
    colour_all(WHITE);
    assert_false(shows_white(grabber, &field)); /* one good field is no lock yet */
    assert_true(shows_white(grabber, &field));
    assert_true(shows_white(grabber, &field));
    assert_false(shows_white(grabber, NULL));
    assert_false(shows_white(grabber, &field));
    assert_true(shows_white(grabber, &field));
    field.synced = false;
    assert_false(shows_white(grabber, &field));
    grabber_free(grabber);
    static const struct {
        int lines;
        bool locks;
    } cases[] = {{242, true}, {282, true}, {241, false}, {283, false}, {312, false}, {400, false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        grabber = open_grabber(STANDARD_NTSC, &options, 1);
        blank_field(cases[i].lines);
        colour_all(WHITE);
        shows_white(grabber, &field);
        if (shows_white(grabber, &field) != cases[i].locks) {
            fail_msg("%d lines", cases[i].lines);
        }
        grabber_free(grabber);
    }
}

/* Hue h is (h - 1) * 24 degrees from -Cb towards -Cr, hue 0 is grey. */
static void test_hues(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        for (int hue = 0; hue < 16; hue++) {
            struct grabber_options options = usual();
            blank_field(standard_lines((enum standard)standard));
            colour_all((uint8_t)(hue << 4 | 8));
            struct grabber *grabber = open_grabber((enum standard)standard, &options, 1);
            struct frame frame = take(grabber);
            assert_int_equal(sample(&frame.cb, 5, 100), 128); /* the blank before the picture */
            int cb = sample(&frame.cb, 180, 100) - 128, cr = sample(&frame.cr, 180, 100) - 128;
            double amplitude = hypot(cb, cr);
            if (hue == 0 || standard == STANDARD_SECAM) {
                assert_true(cb == 0 && cr == 0);
            } else {
                double angle = atan2(-cr, -cb) * 180 / M_PI, wanted = (hue - 1) * 24;
                double error = remainder(angle - wanted, 360);
                if (fabs(error) > 1.2 || fabs(amplitude - 40) > 1) {
                    fail_msg("hue %d: angle %.1f, not %.1f; amplitude %.1f", hue, angle, wanted, amplitude);
                }
            }
            grabber_free(grabber);
        }
    }
}

/* Colour goes slower than brightness: at an edge where the luma is done the colour is on its way. */
static void test_chroma_is_softer(void **state) {
    (void)state;
    struct grabber_options options = usual();
    blank_field(262);
    colour_all(0x1E);
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
    struct frame frame = take(grabber);
    assert_true(sample(&frame.y, 76, 100) >= 234);
    assert_in_range(sample(&frame.cb, 38, 100), 128 - 38, 128 - 22); /* sample 38 of Cb is sample 76 of Y */
    assert_int_equal(sample(&frame.cb, 60, 100), 88);
    grabber_free(grabber);
}

static void test_picture_may_lie_outside(void **state) {
    (void)state;
    static const double lefts[] = {-700, -300.5, 0, 500.25, 720};
    for (size_t i = 0; i < sizeof lefts / sizeof lefts[0]; i++) {
        struct grabber_options options = usual();
        options.left = lefts[i];
        options.bandwidth_mhz = 0.5;
        blank_field(262);
        colour_all(0x5E);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        for (int x = 0; x < WIDTH; x++) {
            double in = x - lefts[i], out = lefts[i] + 603.43 - x, depth = fmin(in, out);
            int code = sample(&frame.y, x, 100);
            if ((depth > 20 && code != 235) || (depth < -20 && code != 16)) {
                fail_msg("left %g, sample %d: %d", lefts[i], x, code);
            }
        }
        grabber_free(grabber);
    }
}

static void test_wrong_options_are_named(void **state) {
    (void)state;
    struct grabber_options wrong[5];
    static const char *const names[5] = {"noise", "gain", "offset", "bandwidth", "left"};
    for (int i = 0; i < 5; i++) {
        wrong[i] = usual();
    }
    wrong[0].noise_db = -1;
    wrong[1].gain = 0;
    wrong[2].offset = NAN;
    wrong[3].bandwidth_mhz = 7;
    wrong[4].left = HUGE_VAL;
    for (int i = 0; i < 5; i++) {
        struct problem problem = {0};
        assert_null(grabber_new(STANDARD_NTSC, &wrong[i], 1, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        assert_non_null(strstr(problem.text, names[i]));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_edges_lie_where_they_should),
        cmocka_unit_test(test_levels),
        cmocka_unit_test(test_bandwidth),
        cmocka_unit_test(test_noise),
        cmocka_unit_test(test_noise_is_white),
        cmocka_unit_test(test_seed_makes_the_noise),
        cmocka_unit_test(test_lines_and_weave),
        cmocka_unit_test(test_marks_of_same_lines_change_nothing),
        cmocka_unit_test(test_lock),
        cmocka_unit_test(test_hues),
        cmocka_unit_test(test_chroma_is_softer),
        cmocka_unit_test(test_picture_may_lie_outside),
        cmocka_unit_test(test_wrong_options_are_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
