/* What a round through MJPEG leaves of the picture, against the published quantisation table. */
#include "virtual/grabbing.h"

#include <stdio.h>

/* ITU-T T.81, table K.1, luminance. A quality above 50 takes 2 - quality / 50 of it: common practice since
 * the first free implementation, no standard. */
static const int table[64] = {16, 11, 10, 16, 24,  40,  51,  61,  12, 12, 14, 19, 26,  58,  60,  55,
                              14, 13, 16, 24, 40,  57,  69,  56,  14, 17, 22, 29, 51,  87,  80,  62,
                              18, 22, 37, 56, 68,  109, 103, 77,  24, 35, 55, 64, 81,  104, 113, 92,
                              49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99};

/* Noise that is wider than every step falls evenly into each, which leaves an error of step^2 / 12; whole
 * codes add 1/12. */
static double error_of(int quality) {
    double sum = 0;
    for (int i = 0; i < 64; i++) {
        double step = fmax(1, floor(table[i] * (200 - 2 * quality) / 100.0 + 0.5));
        sum += step * step / 12;
    }
    return sum / 64 + 1.0 / 12;
}

static double psnr(double error) {
    return 10 * log10(255 * 255 / error);
}

static double measured(const struct grabber_options *options, enum standard standard) {
    struct grabber_options plain = *options;
    plain.mjpeg = 0;
    blank_field(standard_lines(standard));
    colour_all(0x08);
    struct grabber *before = open_grabber(standard, &plain, 8), *after = open_grabber(standard, options, 8);
    struct frame a = take(before), b = take(after);
    double squares = 0;
    int count = 0;
    assert_true(a.width == b.width && a.height == b.height && b.y.step == 1);
    assert_true(b.chroma_x == 1 && b.chroma_y == (options->chroma == 420));
    for (int y = 0; y < a.height; y++) {
        for (int x = 112; x < 576; x++, count++) { /* whole blocks inside the picture */
            double away = sample(&a.y, x, y) - sample(&b.y, x, y);
            squares += away * away;
        }
    }
    grabber_free(before);
    grabber_free(after);
    return squares / count;
}

static void test_quality_is_that_of_the_table(void **state) {
    (void)state;
    static const int qualities[] = {75, 85, 90, 95};
    for (int i = 0; i < 8; i++) {
        struct grabber_options options = usual();
        options.mjpeg = qualities[i % 4];
        options.chroma = i < 4 ? 422 : 420;
        options.noise_db = 14; /* 44 codes rms */
        double wanted = psnr(error_of(options.mjpeg)), got = psnr(measured(&options, i % 2));
        if (fabs(got - wanted) > 0.3) {
            fail_msg("quality %d: %.2f dB, not %.2f", options.mjpeg, got, wanted);
        }
    }
}

/* Sizes that are no whole number of blocks; colours and levels of flat parts come through. */
static void test_levels_come_through(void **state) {
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct grabber_options options = usual();
        options.mjpeg = 80;
        options.width = i ? 640 : 720;
        options.chroma = i ? 420 : 422;
        options.crop[0] = options.crop[2] = 6;
        options.layout = i ? GRABBER_WOVEN : GRABBER_SINGLE;
        blank_field(262);
        colour_bar(0, 80, 0x3C);
        colour_bar(80, 160, 0xA4);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        assert_int_equal(frame.width, options.width - 6);
        assert_int_equal(frame.height, (i ? 480 : 240) - 6);
        for (int half = 0; half < 2; half++) {
            int x = half ? 480 : 200, y = 120, hue = half ? 10 : 3, step = half ? 2 : 6;
            double angle = (hue - 1) * 24 * M_PI / 180;
            assert_true(fabs(sample(&frame.y, x, y) - (16 + 219 * step / 7.0)) < 3);
            assert_true(fabs(chroma(&frame, &frame.cb, x, y) + 40 * cos(angle)) < 4);
            assert_true(fabs(chroma(&frame, &frame.cr, x, y) + 40 * sin(angle)) < 4);
        }
        grabber_free(grabber);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_quality_is_that_of_the_table),
        cmocka_unit_test(test_levels_come_through),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
