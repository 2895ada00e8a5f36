/* Where the grabber's lines lie: width, scale, crop, shift, slant, jitter; and what grabber_truth() says of
 * it. */
#include "virtual/grabbing.h"

enum { SLATE_NTSC = 3 + 37 + 1, SLATE_PAL = 3 + 45 + 1 }; /* the band's middle line [H 3.3] */

#define CLOCK_NTSC 3579545.0 /* [S SMPTE 170M] */
#define CLOCK_PAL 3546894.0  /* [M] */

/* Of the frame's line that shows the console's, by the lines alone: the field's line 0 is 21 or 23 [M]. */
static int frame_line(enum standard standard, const struct grabber_options *options, int console_line) {
    int first = standard == STANDARD_NTSC ? 21 : 23;
    return 2 * (console_line - first + options->shift_lines) - options->crop[2];
}

static struct grabber_options with(double left, double scale, double shift, int width) {
    struct grabber_options options = usual();
    options.left = left;
    options.scale = scale;
    options.shift = shift;
    options.width = width;
    return options;
}

static void check_edges(enum standard standard, const struct grabber_options *options, double left,
                        double right) {
    const struct grabber_truth truth = grabber_truth(standard, options);
    blank_field(standard_lines(standard));
    colour_all(WHITE);
    struct grabber *grabber = open_grabber(standard, options, 1);
    struct frame frame = take(grabber);
    int y = frame_line(standard, options, standard == STANDARD_NTSC ? SLATE_NTSC : SLATE_PAL);
    double seen_left = edge_instant(&frame, y, 0, frame.width / 2);
    double seen_right = edge_instant(&frame, y, frame.width - 1, frame.width / 2);
    /* 0.025: the steps of the table, and what is above half the sampling frequency; a little more where there
     * are fewer samples */
    double most = options->width == 640 ? 0.04 : 0.025;
    if (fabs(seen_left - left) > most || fabs(seen_right - right) > most || fabs(truth.left - left) > 1e-9 ||
        fabs(truth.right - right) > 1e-9) {
        fail_msg("width %d, scale %g, shift %g: seen %.3f %.3f, told %.3f %.3f, wanted %.3f %.3f",
                 options->width, options->scale, options->shift, seen_left, seen_right, truth.left,
                 truth.right, left, right);
    }
    grabber_free(grabber);
}

static void test_widths(void **state) {
    (void)state;
    const double ntsc = 160 * 13.5e6 / CLOCK_NTSC, pal = 160 * 13.5e6 / CLOCK_PAL; /* [S BT.601] */
    struct grabber_options options = with(74, 1, 0, 720);
    check_edges(STANDARD_NTSC, &options, 74, 74 + ntsc);
    options = with(71.3, 1, 0, 704); /* 8 of 720 are left away on each side */
    check_edges(STANDARD_NTSC, &options, 63.3, 63.3 + ntsc);
    check_edges(STANDARD_PAL, &options, 63.3, 63.3 + pal);
    /* 640 square ones in the place of 704: 12 3/11 MHz */
    options = with(74, 1, 0, 640);
    const double square = 160 * (135.0 / 11 * 1e6) / CLOCK_NTSC;
    check_edges(STANDARD_NTSC, &options, (74 - 8 + 0.5) * 640 / 704 - 0.5,
                (74 - 8 + 0.5) * 640 / 704 - 0.5 + square);
}

static void test_scale_shift_and_crop(void **state) {
    (void)state;
    const double wide = 160 * 13.5e6 / CLOCK_NTSC, middle = 719 / 2.0;
    struct grabber_options options = with(74, 0.98, 0, 720);
    double left = middle - (middle - 74) * 0.98;
    check_edges(STANDARD_NTSC, &options, left, left + wide * 0.98);
    options = with(60.25, 1.01, 7.5, 720);
    left = middle - (middle - 60.25) * 1.01 + 7.5;
    check_edges(STANDARD_NTSC, &options, left, left + wide * 1.01);
    options = with(74, 1, -5.5, 720);
    options.crop[0] = 10;
    options.crop[1] = 30;
    options.crop[2] = 6;
    options.crop[3] = 2;
    options.shift_lines = 2;
    check_edges(STANDARD_NTSC, &options, 74 - 5.5 - 10, 74 - 5.5 - 10 + wide);
}

/* The field's lines: 24 lines down of a shift by 3 and a crop, white on one line alone. */
static void test_lines_are_shifted(void **state) {
    (void)state;
    for (int shift = -20; shift <= 20; shift += 5) {
        struct grabber_options options = usual();
        options.shift_lines = shift;
        options.crop[2] = 4;
        blank_field(262);
        colour_clocks(100, 0, TIA_VISIBLE, WHITE);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        assert_int_equal(frame.height, 476);
        for (int y = 0; y < frame.height; y++) {
            bool white = (y + 4) / 2 == 100 - 21 + shift;
            if (sample(&frame.y, 360, y) != (white ? 235 : 16)) {
                fail_msg("shift %d: line %d is %d", shift, y, sample(&frame.y, 360, y));
            }
        }
        grabber_free(grabber);
    }
}

/* The edges of a field's lines lie on a straight line; the truth is that of the slate's band. */
static void test_slant(void **state) {
    (void)state;
    static const double slants[] = {0.02, -0.05, 0.1};
    for (int i = 0; i < 6; i++) {
        enum standard standard = i < 3 ? STANDARD_NTSC : STANDARD_PAL;
        struct grabber_options options = usual();
        options.slant = slants[i % 3];
        const struct grabber_truth truth = grabber_truth(standard, &options);
        assert_true(fabs(truth.slant - slants[i % 3]) < 1e-12);
        blank_field(standard_lines(standard));
        colour_all(WHITE);
        struct grabber *grabber = open_grabber(standard, &options, 1);
        struct frame frame = take(grabber);
        int slate = frame_line(standard, &options, standard == STANDARD_NTSC ? SLATE_NTSC : SLATE_PAL);
        double width = truth.right - truth.left;
        for (int y = 0; y < frame.height; y++) {
            double wanted = truth.left + slants[i % 3] * (y / 2 - slate / 2);
            double left = edge_instant(&frame, y, 0, 360), right = edge_instant(&frame, y, 719, 360);
            if (fabs(left - wanted) > 0.03 || fabs(right - wanted - width) > 0.03) {
                fail_msg("slant %g, line %d: %.3f and %.3f, not %.3f", slants[i % 3], y, left, right, wanted);
            }
        }
        /* nothing in the middle of the field */
        double middle = truth.left + slants[i % 3] * ((frame.height / 2 - 1) / 2.0 - slate / 2);
        assert_true(fabs(middle - 74) < 1e-9);
        grabber_free(grabber);
    }
}

/* The colour lies where the brightness does, on slanting lines too. */
static void test_colour_slants_along(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.slant = 0.1;
    blank_field(262);
    colour_all(0x1E);
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
    struct frame frame = take(grabber);
    for (int y = 1; y < frame.height; y += 50) {
        double sum = 0;
        for (int x = 0; x < 180; x++) {
            sum += (128 - sample(&frame.cb, x, y)) / 40.0;
        }
        double colour = 2 * (180 - (sum + 0.5)), luma = edge_instant(&frame, y, 0, 360);
        if (fabs(colour - luma) > 0.3) { /* 40 codes, rounded */
            fail_msg("line %d: luma from %.2f, colour from %.2f", y, luma, colour);
        }
    }
    grabber_free(grabber);
}

/* Lines as far from their place as asked, none of them with its neighbour. */
static void test_jitter(void **state) {
    (void)state;
    static const double sizes[] = {0.1, 0.3, 1.5};
    for (int i = 0; i < 3; i++) {
        struct grabber_options options = usual();
        double squares = 0, sum = 0, next_to = 0, before = 0;
        int count = 0;
        options.jitter = sizes[i];
        blank_field(262);
        colour_all(WHITE);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 21);
        for (int n = 0; n < 8; n++) {
            struct frame frame = take(grabber);
            for (int y = 0; y < frame.height; y += 2, count++) {
                double away = edge_instant(&frame, y, 20, 300) - 74;
                double other = edge_instant(&frame, y, 719, 300) - (74 + 160 * 13.5e6 / CLOCK_NTSC);
                assert_true(fabs(away - other) < 0.04); /* the whole line moves */
                sum += away;
                squares += away * away;
                next_to += away * before;
                before = away;
            }
        }
        /* 1920 lines: the rms is known to 1.6 %, so 3 of that; correlations to 2.3 % */
        double rms = sqrt(squares / count);
        if (fabs(rms / sizes[i] - 1) > 0.06 || fabs(next_to / squares) > 0.08 ||
            fabs(sum / count) > 4 * sizes[i] / sqrt(count)) {
            fail_msg("jitter %g: rms %.3f, mean %.3f, correlation %.3f", sizes[i], rms, sum / count,
                     next_to / squares);
        }
        grabber_free(grabber);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_widths),
        cmocka_unit_test(test_scale_shift_and_crop),
        cmocka_unit_test(test_lines_are_shifted),
        cmocka_unit_test(test_slant),
        cmocka_unit_test(test_colour_slants_along),
        cmocka_unit_test(test_jitter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
