/* What happens to the signal before it is sampled: echo, hum, gain, limits, sharpening, colour. */
#include "virtual/grabbing.h"

enum { MIDDLE = 100 }; /* a line of the frame like all others */

#define CLOCK_HZ 3579545.0 /* [S SMPTE 170M] */
#define PITCH (13.5e6 / CLOCK_HZ)

/* ---- ghost ---- */

/* A narrow bar and its echo stand apart, so that each can be weighed: the sum of codes above the blank is
 * height times width, and the first moment is the place. */
static double weigh(const struct frame *frame, int from, int to, double blank, double *place) {
    double sum = 0, moment = 0;
    for (int x = from; x < to; x++) {
        double above = sample(&frame->y, x, MIDDLE) - blank;
        sum += above;
        moment += x * above;
    }
    *place = moment / sum;
    return sum;
}

static void test_echo_is_as_high_and_as_late_as_asked(void **state) {
    (void)state;
    static const double shares[] = {0.2, 0.35, -0.15}, delays[] = {3, 5.37, 7.5};
    for (int i = 0; i < 9; i++) {
        struct grabber_options options = usual();
        double share = shares[i / 3], late = delays[i % 3] * 13.5, bar, echo;
        options.ghost = share;
        options.ghost_us = delays[i % 3];
        options.offset = 0.2; /* so that a negative echo shows */
        options.gain = 0.7;
        blank_field(262);
        colour_bar(20, 28, WHITE);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        double blank = sample(&frame.y, 700, MIDDLE), middle = 74 + 24 * PITCH;
        double all = weigh(&frame, (int)middle - 19, (int)middle + 20, blank, &bar);
        double part = weigh(&frame, (int)(middle + late) - 19, (int)(middle + late) + 20, blank, &echo);
        /* each sample is rounded: of 39, 6 codes at worst in theory, and 0.05 samples */
        if (fabs(part / all - share) > 0.01 || fabs(echo - bar - late) > 0.1 || fabs(bar - middle) > 0.1) {
            fail_msg("ghost %g:%g: %.4f of it, %.3f samples later", share, delays[i % 3], part / all,
                     echo - bar);
        }
        grabber_free(grabber);
    }
}

/* The echo's colour is turned by the subcarrier's cycles in the delay; PAL takes the mean of a turn to and
 * fro, which leaves the cosine. */
static void test_echo_turns_the_colour(void **state) {
    (void)state;
    static const double turns[] = {18.0, 18.25, 18.5, 18.125};
    for (int i = 0; i < 8; i++) {
        bool pal = i >= 4;
        struct grabber_options options = usual();
        double carrier = pal ? 4433618.75 : CLOCK_HZ; /* [S PAL; SMPTE 170M] */
        options.ghost = 0.4;
        options.ghost_us = turns[i % 4] / carrier * 1e6;
        blank_field(pal ? 312 : 262);
        colour_bar(20, 32, 0x18); /* hue 1: along -Cb */
        struct grabber *grabber = open_grabber(pal ? STANDARD_PAL : STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        int x = (int)(74 + 26 * (pal ? 13.5e6 / 3546894 : PITCH) + options.ghost_us * 13.5);
        double angle = 2 * M_PI * turns[i % 4];
        double cb = -16 * cos(angle), cr = pal ? 0 : -16 * sin(angle);
        int got_cb = chroma(&frame, &frame.cb, x, MIDDLE), got_cr = chroma(&frame, &frame.cr, x, MIDDLE);
        if (fabs(got_cb - cb) > 1 || fabs(got_cr - cr) > 1) {
            fail_msg("%s, %g cycles: %d %d, not %.1f %.1f", pal ? "pal" : "ntsc", turns[i % 4], got_cb,
                     got_cr, cb, cr);
        }
        grabber_free(grabber);
    }
}

/* ---- hum and gain: swings, measured by projection on a sine and a cosine ---- */

struct swing {
    double sines, cosines;
    int count;
};

static void add_swing(struct swing *swing, double value, double hertz, double seconds) {
    swing->sines += value * sin(2 * M_PI * hertz * seconds);
    swing->cosines += value * cos(2 * M_PI * hertz * seconds);
    swing->count++;
}

static double swing_height(const struct swing *swing) {
    return 2 * hypot(swing->sines, swing->cosines) / swing->count;
}

/* Over six seconds, a whole number of cycles of each frequency looked for. */
static void test_hum(void **state) {
    (void)state;
    static const double frequencies[] = {60, 50, 120};
    for (int i = 0; i < 3; i++) {
        struct grabber_options options = usual();
        struct swing at = {0}, beside = {0};
        options.layout = GRABBER_SINGLE;
        options.hum = 0.1;
        options.hum_hz = frequencies[i];
        blank_field(262);
        colour_all(0x08);
        mark_same_lines();
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        next_of(grabber, &field);
        for (int n = 1; n <= 360; n++) {
            struct frame frame = next_of(grabber, &field);
            for (int y = 0; y < frame.height; y += 8) {
                double seconds = (262.0 * n + 21 + y) * 228 / CLOCK_HZ;
                double value = sample(&frame.y, 360, y) - (16 + 219 * 4 / 7.0);
                add_swing(&at, value, frequencies[i], seconds);
                add_swing(&beside, value, frequencies[i] + 7, seconds);
            }
        }
        if (fabs(swing_height(&at) - 21.9) > 0.3 || swing_height(&beside) > 1) {
            fail_msg("%g Hz: %.2f codes, %.2f beside it", frequencies[i], swing_height(&at),
                     swing_height(&beside));
        }
        grabber_free(grabber);
    }
}

/* White swings by the share of itself, black does not. */
static void test_gain_hunts(void **state) {
    (void)state;
    struct grabber_options options = usual();
    struct swing white = {0}, slower = {0};
    options.layout = GRABBER_SINGLE;
    options.gain = 0.8;
    options.agc = 0.1;
    options.agc_s = 2;
    blank_field(262);
    colour_all(WHITE);
    mark_same_lines();
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
    next_of(grabber, &field);
    for (int n = 1; n <= 720; n++) { /* 12 seconds */
        struct frame frame = next_of(grabber, &field);
        double seconds = 262.0 * n * 228 / CLOCK_HZ, value = sample(&frame.y, 360, MIDDLE) - (16 + 219 * 0.8);
        assert_int_equal(sample(&frame.y, 20, MIDDLE), 16);
        add_swing(&white, value, 0.5, seconds);
        add_swing(&slower, value, 0.25, seconds);
    }
    if (fabs(swing_height(&white) - 21.9 * 0.8) > 0.3 || swing_height(&slower) > 1) {
        fail_msg("%.2f codes, %.2f at half the rate", swing_height(&white), swing_height(&slower));
    }
    grabber_free(grabber);
}

/* ---- limits ---- */

/* A level that stands at the limit: of its Gaussian noise one half is cut off. */
static void test_clipping(void **state) {
    (void)state;
    static const struct {
        uint8_t colour;
        double white, black;
        int limit;
    } cases[] = {{0x08, 4 / 7.0, -1, 141}, {0x08, 2, 4 / 7.0, 141}, {0x0C, 6 / 7.0, 0.1, 204}};
    for (int i = 0; i < 3; i++) {
        struct grabber_options options = usual();
        int cut = 0, beyond = 0, count = 0;
        options.clip_white = cases[i].white;
        options.clip_black = cases[i].black;
        options.noise_db = 30;
        blank_field(262);
        colour_all(cases[i].colour);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 4);
        struct frame frame = take(grabber);
        for (int y = 0; y < frame.height; y++) {
            for (int x = 100; x < 650; x++, count++) {
                int code = sample(&frame.y, x, y);
                bool outside = i == 1 ? code < cases[i].limit : code > cases[i].limit;
                beyond += outside;
                cut += code == cases[i].limit;
            }
        }
        /* the limit's own code holds what is rounded to it too: 0.4 codes at most, of 6.9 rms */
        if (beyond > 0 || fabs((double)cut / count - 0.53) > 0.03) {
            fail_msg("case %d: %d beyond, %.3f at the limit", i, beyond, (double)cut / count);
        }
        grabber_free(grabber);
    }
}

/* ---- edges ---- */

enum { PHASES = 16, REACH = 40 };

/* A plane's response to an edge, PHASES times finer than its samples: codes from -REACH to REACH round the
 * place `left`. coarse: luma samples a sample of the plane. */
static void measure_edge(const struct grabber_options *wanted, bool colour, double edge[2 * REACH * PHASES]) {
    const int coarse = colour ? 2 : 1;
    for (int phase = 0; phase < PHASES; phase++) {
        struct grabber_options options = *wanted;
        options.left = 200 + coarse * (double)phase / PHASES;
        blank_field(262);
        colour_all(colour ? 0x18 : WHITE);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        const struct plane *plane = colour ? &frame.cb : &frame.y;
        for (int x = 0; x < 2 * REACH; x++) {
            edge[x * PHASES + (PHASES - 1 - phase)] = sample(plane, 200 / coarse - REACH + 1 + x, MIDDLE);
        }
        grabber_free(grabber);
    }
}

static void test_sharpening_overshoots(void **state) {
    (void)state;
    static double edge[2 * REACH * PHASES];
    static const double shares[] = {0, 0.08, 0.2};
    for (int i = 0; i < 3; i++) {
        struct grabber_options options = usual();
        options.gain = 0.5;
        options.offset = 0.25;
        options.bandwidth_mhz = 3;
        options.sharpen = shares[i];
        double black = 16 + 219 * 0.25, white = 16 + 219 * 0.75, most = 0, least = 255;
        measure_edge(&options, false, edge);
        for (int n = 0; n < 2 * REACH * PHASES; n++) {
            most = fmax(most, edge[n]);
            least = fmin(least, edge[n]);
        }
        double over = (most - white) / (white - black), under = (black - least) / (white - black);
        if (fabs(over - shares[i]) > 0.01 || fabs(under - shares[i]) > 0.01) {
            fail_msg("%g: over %.3f, under %.3f", shares[i], over, under);
        }
    }
}

/* ---- colour ---- */

static void test_colour_bandwidth(void **state) {
    (void)state;
    static double edge[2 * REACH * PHASES];
    static const double bandwidths[] = {0.4, 0.6, 1.3};
    for (int i = 0; i < 3; i++) {
        struct grabber_options options = usual();
        options.chroma_mhz = bandwidths[i];
        measure_edge(&options, true, edge);
        /* 6.75 MHz: every second sample [S BT.601]; -3 dB is 1/sqrt(2) */
        double there = edge_magnitude(edge, 2 * REACH * PHASES, bandwidths[i] / 6.75 / PHASES),
               low = edge_magnitude(edge, 2 * REACH * PHASES, 0.02 / 6.75 / PHASES);
        if (fabs(there / low - sqrt(0.5)) > 0.02 || fabs(low - 40) > 1) {
            fail_msg("%g MHz: %.3f of %.2f", bandwidths[i], there / low, low);
        }
    }
}

/* The luma's noise and the colour's have nothing to do with each other. */
static void test_noises_are_apart(void **state) {
    (void)state;
    struct grabber_options options = usual();
    double both = 0, power = 0, powers = 0;
    options.noise_db = options.chroma_noise_db = 26;
    blank_field(262);
    colour_all(0x08);
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 11);
    struct frame frame = take(grabber);
    for (int y = 0; y < frame.height; y++) {
        for (int x = 100; x < 640; x++) {
            /* the bytes beside each other, as the noise is laid on them */
            double luma = sample(&frame.y, x, y) - (16 + 219 * 4 / 7.0);
            double colour = sample(x % 2 ? &frame.cr : &frame.cb, x / 2, y) - 128;
            both += luma * colour;
            power += luma * luma;
            powers += colour * colour;
        }
    }
    assert_true(fabs(both / sqrt(power * powers)) < 0.02); /* 260,000 of them: 0.002 is usual */
    grabber_free(grabber);
}

/* What is missing from the colour is in the luma, as a wave of the subcarrier's frequency: U and V of these
 * Cb and Cr [S BT.601, BT.470]; nothing where it is grey. */
static void test_colour_in_the_luma(void **state) {
    (void)state;
    for (int i = 0; i < 6; i++) {
        const bool pal = i >= 3;
        const int hue = 1 + 5 * (i % 3);
        struct grabber_options options = usual();
        double carrier = pal ? 4433618.75 : CLOCK_HZ, angle = (hue - 1) * 24 * M_PI / 180; /* [S PAL] */
        double u = 40 * cos(angle) * (219 * 0.493) / (224 * 0.564);
        double v = 40 * sin(angle) * (219 * 0.877) / (224 * 0.713);
        struct swing swing = {0};
        options.cross = 0.4;
        blank_field(pal ? 312 : 262);
        colour_bar(0, 80, (uint8_t)(hue << 4 | 8));
        colour_bar(80, 160, 0x08);
        struct grabber *grabber = open_grabber(pal ? STANDARD_PAL : STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        for (int x = 100; x < 360; x++) {
            add_swing(&swing, sample(&frame.y, x, MIDDLE) - (16 + 219 * 4 / 7.0), carrier, x / 13.5e6);
        }
        assert_true(fabs(swing_height(&swing) - 0.4 * hypot(u, v)) < 0.4);
        assert_true(fabs(chroma(&frame, &frame.cb, 200, MIDDLE) + 0.6 * 40 * cos(angle)) < 1);
        assert_true(fabs(chroma(&frame, &frame.cr, 200, MIDDLE) + 0.6 * 40 * sin(angle)) < 1);
        for (int x = 420; x < 640; x++) {
            assert_int_equal(sample(&frame.y, x, MIDDLE), 141);
        }
        grabber_free(grabber);
    }
}

/* The colour's edge lies where half its codes are gone. */
static void test_colour_comes_late(void **state) {
    (void)state;
    static const double delays[] = {0, 3, 7.5, -4};
    for (int i = 0; i < 4; i++) {
        struct grabber_options options = usual();
        double sum = 0;
        options.chroma_delay = delays[i];
        options.left = 200;
        blank_field(262);
        colour_all(0x1E);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        struct frame frame = take(grabber);
        for (int x = 60; x < 160; x++) {
            sum += (128 - sample(&frame.cb, x, MIDDLE)) / 40.0;
        }
        double at = 2 * (160 - (sum + 0.5));
        if (fabs(at - 200 - delays[i]) > 0.3) { /* 40 codes, rounded */
            fail_msg("colour %g late: at %.2f", delays[i], at);
        }
        assert_true(fabs(edge_instant(&frame, MIDDLE, 150, 300) - 200) < 0.02);
        grabber_free(grabber);
    }
}

static void test_colour_is_noisy(void **state) {
    (void)state;
    static const double decibels[] = {20, 26, 34};
    for (int i = 0; i < 3; i++) {
        struct grabber_options options = usual();
        double sum = 0, squares = 0, both = 0;
        int count = 0;
        options.chroma_noise_db = decibels[i];
        blank_field(262);
        colour_all(0x68);
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 11);
        struct frame frame = take(grabber);
        double mean_cb = -40 * cos(5 * 24 * M_PI / 180), mean_cr = -40 * sin(5 * 24 * M_PI / 180);
        for (int y = 0; y < frame.height; y++) {
            for (int x = 60; x < 320; x++, count++) {
                double cb = chroma(&frame, &frame.cb, 2 * x, y) - mean_cb;
                double cr = chroma(&frame, &frame.cr, 2 * x, y) - mean_cr;
                sum += cb;
                squares += cb * cb;
                both += cb * cr;
            }
        }
        double wanted = 219 / pow(10, decibels[i] / 20), got = sqrt(squares / count);
        if (fabs(got / wanted - 1) > 0.03 || fabs(sum / count) > 0.6 || fabs(both / squares) > 0.03) {
            fail_msg("%g dB: rms %.2f, not %.2f; mean %.2f, together %.3f", decibels[i], got, wanted,
                     sum / count, both / squares);
        }
        assert_int_equal(sample(&frame.y, 300, MIDDLE), 16 + 219 * 4 / 7);
        grabber_free(grabber);
    }
}

static void test_no_colour(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.no_colour = true;
    options.ghost = 0.3;
    options.ghost_us = 2;
    blank_field(262);
    colour_bar(0, 80, 0x38);
    colour_bar(80, 160, 0xB8);
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
    struct frame frame = take(grabber);
    for (int x = 0; x < 360; x++) {
        assert_int_equal(sample(&frame.cb, x, MIDDLE), 128);
        assert_int_equal(sample(&frame.cr, x, MIDDLE), 128);
    }
    grabber_free(grabber);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_echo_is_as_high_and_as_late_as_asked),
        cmocka_unit_test(test_echo_turns_the_colour),
        cmocka_unit_test(test_hum),
        cmocka_unit_test(test_gain_hunts),
        cmocka_unit_test(test_clipping),
        cmocka_unit_test(test_sharpening_overshoots),
        cmocka_unit_test(test_colour_bandwidth),
        cmocka_unit_test(test_noises_are_apart),
        cmocka_unit_test(test_colour_in_the_luma),
        cmocka_unit_test(test_colour_comes_late),
        cmocka_unit_test(test_colour_is_noisy),
        cmocka_unit_test(test_no_colour),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
