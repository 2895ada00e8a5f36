/* What becomes of fields and frames: every field carries a number, which is read from the frames' lines. */
#include "virtual/grabbing.h"

enum {
    BITS = 16,
    CLOCKS = 10,     /* a bit's width */
    TEXT_LINE = 100, /* the number is on all of the console's lines; this is one that is in every field */
    NO_NUMBER = -1
};

#define CLOCK_NTSC 3579545.0 /* [S SMPTE 170M] */
#define CLOCK_PAL 3546894.0  /* [M] */

static void number_field(unsigned number) {
    for (int bit = 0; bit < BITS; bit++) {
        colour_clocks(0, bit * CLOCKS, (bit + 1) * CLOCKS, number >> bit & 1 ? WHITE : 0);
    }
    for (int line = 1; line < field.lines; line++) {
        memcpy(field.pixel[line], field.pixel[0], TIA_VISIBLE);
        field.same_as_above[line] = 1;
    }
}

/* Of a bit: 0 black, 1 white, or between. */
static double level_at(const struct frame *frame, int bit, int y) {
    int x = (int)(74 + (bit + 0.5) * CLOCKS * 13.5e6 / CLOCK_NTSC);
    return (sample(&frame->y, x, y) - 16) / 219.0;
}

/* NO_NUMBER: neither black nor white. */
static int number_at(const struct frame *frame, int y) {
    int number = 0;
    for (int bit = 0; bit < BITS; bit++) {
        double level = level_at(frame, bit, y);
        if (level > 0.25 && level < 0.75) {
            return NO_NUMBER;
        }
        number |= level > 0.5 ? 1 << bit : 0;
    }
    return number;
}

/* A grabber, and the numbers that go into it. */
static unsigned next_number;

static struct grabber *start(enum standard standard, const struct grabber_options *options, uint64_t seed) {
    struct grabber *grabber = open_grabber(standard, options, seed);
    blank_field(standard_lines(standard));
    next_number = 1;
    return grabber;
}

static struct frame next_numbered(struct grabber *grabber) {
    struct frame frame;
    struct problem problem;
    while (!grabber_ready(grabber)) {
        number_field(next_number++);
        grabber_take(grabber, &field);
    }
    if (!grabber_frame(grabber, &frame, &problem)) {
        fail_msg("%s", problem.text);
    }
    return frame;
}

/* ---- layouts ---- */

/* Every line of a frame shows the number of its field, and no field is left out. */
static void test_woven_and_stacked(void **state) {
    (void)state;
    for (int i = 0; i < 8; i++) {
        const bool stacked = i & 1, bottom_first = i & 2, pal = i & 4;
        struct grabber_options options = usual();
        options.layout = stacked ? GRABBER_STACKED : GRABBER_WOVEN;
        options.older = bottom_first ? GRABBER_BOTTOM : GRABBER_TOP;
        struct grabber *grabber = start(pal ? STANDARD_PAL : STANDARD_NTSC, &options, 1);
        next_numbered(grabber);
        for (int n = 3; n < 11; n += 2) {
            struct frame frame = next_numbered(grabber);
            assert_int_equal(frame.height, pal ? 576 : 480);
            for (int y = 0; y < frame.height; y++) {
                const bool bottom = stacked ? y >= frame.height / 2 : y % 2;
                if (number_at(&frame, y) != (bottom == bottom_first ? n : n + 1)) {
                    fail_msg("%d: frame of %d, line %d: %d", i, n, y, number_at(&frame, y));
                }
            }
        }
        grabber_free(grabber);
    }
}

static void test_single(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.layout = GRABBER_SINGLE;
    struct grabber *grabber = start(STANDARD_NTSC, &options, 1);
    next_numbered(grabber);
    for (int n = 2; n < 9; n++) {
        struct frame frame = next_numbered(grabber);
        assert_int_equal(frame.height, 240);
        for (int y = 0; y < frame.height; y++) {
            assert_int_equal(number_at(&frame, y), n);
        }
    }
    grabber_free(grabber);
}

/* The field's own lines are every other one, by turns the even and the odd ones; a line between a white and a
 * black one is grey. */
static void test_bobbed(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.layout = GRABBER_BOBBED;
    options.older = GRABBER_TOP;
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
    blank_field(262);
    for (int line = 0; line < 262; line += 2) {
        colour_clocks(line, 0, TIA_VISIBLE, WHITE);
    }
    next_of(grabber, &field);
    next_of(grabber, &field);
    for (int turn = 0; turn < 4; turn++) {
        struct frame frame = next_of(grabber, &field);
        assert_int_equal(frame.height, 480);
        for (int y = 1; y < frame.height - 1; y++) {
            int line = 21 + (y - turn % 2) / 2, own = line % 2 == 0 ? 235 : 16;
            int wanted = (y - turn % 2) % 2 == 0 ? own : 126;
            if (abs(sample(&frame.y, 360, y) - wanted) > 1) {
                fail_msg("turn %d, line %d: %d, not %d", turn, y, sample(&frame.y, 360, y), wanted);
            }
        }
    }
    grabber_free(grabber);
}

/* Weights 1, 2, 1 over woven lines: half of each field, wherever both are the same from line to line. */
static void test_blended(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.layout = GRABBER_BLENDED;
    struct grabber *grabber = start(STANDARD_NTSC, &options, 1);
    next_numbered(grabber);
    for (unsigned n = 3; n < 20; n += 2) {
        struct frame frame = next_numbered(grabber);
        assert_int_equal(frame.height, 480);
        for (int bit = 0; bit < BITS; bit++) {
            double wanted = ((n >> bit & 1) + ((n + 1) >> bit & 1)) / 2.0;
            for (int y = 1; y < 479; y++) {
                assert_true(fabs(level_at(&frame, bit, y) - wanted) < 0.01);
            }
        }
    }
    grabber_free(grabber);
}

/* One field is new in every frame, the other one is that of the lock, or a few fields old. */
static void test_stale(void **state) {
    (void)state;
    for (int i = 0; i < 8; i++) {
        const bool stacked = i & 1, bottom = i & 2;
        struct grabber_options options = usual();
        options.layout = stacked ? GRABBER_STACKED : GRABBER_WOVEN;
        options.stale = bottom ? GRABBER_BOTTOM : GRABBER_TOP;
        options.stale_fields = i & 4 ? 5 : 0;
        struct grabber *grabber = start(STANDARD_NTSC, &options, 1);
        next_numbered(grabber);
        for (int n = 2; n < 30; n++) {
            struct frame frame = next_numbered(grabber);
            const int kept = i & 4 ? n - (n - 2) % 5 : 2;
            for (int y = 0; y < frame.height; y++) {
                const bool lower = stacked ? y >= 240 : y % 2;
                if (number_at(&frame, y) != (lower == bottom ? kept : n)) {
                    fail_msg("%d: frame %d, line %d: %d", i, n, y, number_at(&frame, y));
                }
            }
        }
        grabber_free(grabber);
    }
}

/* Where the field of the lock is lost on the way, it is the first that is not. */
static void test_stale_though_the_first_is_lost(void **state) {
    (void)state;
    for (uint64_t seed = 0; seed < 8; seed++) {
        struct grabber_options options = usual();
        options.stale = GRABBER_BOTTOM;
        options.drop = 0.5;
        struct grabber *grabber = start(STANDARD_NTSC, &options, seed);
        struct frame frame = next_numbered(grabber);
        while (number_at(&frame, 100) == 0) { /* black until the lock */
            frame = next_numbered(grabber);
        }
        const int first = number_at(&frame, 100);
        for (int n = 0; n < 5; n++) {
            assert_int_equal(number_at(&frame, 101), first);
            frame = next_numbered(grabber);
        }
        grabber_free(grabber);
    }
}

/* A lock lost and found again takes it anew. */
static void test_stale_after_a_lost_lock(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.stale = GRABBER_BOTTOM;
    struct grabber *grabber = start(STANDARD_NTSC, &options, 1);
    for (int n = 0; n < 10; n++) {
        next_numbered(grabber);
    }
    next_of(grabber, NULL);
    next_numbered(grabber);
    struct frame frame = next_numbered(grabber);
    assert_int_equal(number_at(&frame, 101), 12);
    frame = next_numbered(grabber);
    assert_int_equal(number_at(&frame, 101), 12);
    assert_int_equal(number_at(&frame, 100), 13);
    grabber_free(grabber);
}

static void test_pairs(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.pairs = true;
    options.noise_db = 34; /* nothing but the same frame has the same noise */
    struct grabber *grabber = start(STANDARD_NTSC, &options, 1);
    static uint8_t kept[480][1440];
    for (int n = 0; n < 20; n++) {
        struct frame frame = next_numbered(grabber);
        bool same = true;
        for (int y = 0; y < 480; y++) {
            const uint8_t *line = frame.y.data + y * frame.y.stride;
            same = same && memcmp(kept[y], line, 1440) == 0;
            memcpy(kept[y], line, 1440);
        }
        assert_int_equal(same, n % 2);
        if (n >= 2) {
            assert_int_equal(number_at(&frame, 201), n / 2 * 2 + 1);
        }
    }
    grabber_free(grabber);
}

static void test_half_black(void **state) {
    (void)state;
    static const enum grabber_part parts[] = {GRABBER_TOP, GRABBER_BOTTOM, GRABBER_UPPER, GRABBER_LOWER};
    for (int i = 0; i < 8; i++) {
        const bool stacked = i >= 4;
        struct grabber_options options = usual();
        options.layout = stacked ? GRABBER_STACKED : GRABBER_WOVEN;
        options.half_black = parts[i % 4];
        struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
        blank_field(262);
        colour_all(0x1E);
        struct frame frame = take(grabber);
        for (int y = 0; y < 480; y++) {
            const bool second = i % 4 >= 2 || stacked ? y >= 240 : y % 2;
            const bool black = second == (i % 2 == 1);
            assert_int_equal(sample(&frame.y, 360, y), black ? 16 : 235);
            assert_int_equal(sample(&frame.cb, 180, y), black ? 128 : 88);
        }
        grabber_free(grabber);
    }
}

/* A colour on every other line: whole in 4:2:2, half in 4:2:0, where the lines of two fields are mixed. */
static void test_420(void **state) {
    (void)state;
    struct grabber_options options = usual();
    options.chroma = 420;
    options.crop[0] = 4;
    options.crop[2] = 2;
    struct grabber *grabber = open_grabber(STANDARD_NTSC, &options, 1);
    blank_field(262);
    colour_all(0x18);
    take(grabber);
    grabber_take(grabber, &field); /* the older: bottom */
    colour_all(0x98);
    grabber_take(grabber, &field);
    struct frame frame = next_of(grabber, NULL);
    assert_true(frame.width == 716 && frame.height == 478 && frame.chroma_x == 1 && frame.chroma_y == 1);
    /* hue 9 is 8 * 24 degrees further */
    double cb = (-40 - 40 * cos(192 * M_PI / 180)) / 2, cr = -40 * sin(192 * M_PI / 180) / 2;
    for (int y = 0; y < 478; y++) {
        assert_true(fabs(chroma(&frame, &frame.cb, 300, y) - cb) <= 1);
        assert_true(fabs(chroma(&frame, &frame.cr, 300, y) - cr) <= 1);
        assert_int_equal(sample(&frame.y, 300, y), 141);
    }
    grabber_free(grabber);
}

/* ---- comb filter ---- */

static int comb_seen(const struct grabber_options *options, int line) {
    struct grabber *grabber = open_grabber(STANDARD_NTSC, options, 1);
    struct frame frame = take(grabber);
    int code = sample(&frame.y, 360, 2 * (line - 21));
    grabber_free(grabber);
    return code;
}

/* One white line, and three of them: what the line and its neighbours are is told by the shares. An adaptive
 * one leaves edges alone and dims what is thinner than two lines. */
static void test_comb(void **state) {
    (void)state;
    static const double shares[] = {0.15, 0.3, 0.5};
    for (int i = 0; i < 3; i++) {
        const double share = shares[i];
        const struct {
            int white_lines, seen;
            double plain, adaptive;
        } cases[] = {{1, 100, 1 - share, 1 - share}, {1, 101, share / 2, 0},
                     {1, 99, share / 2, 0},          {1, 102, 0, 0},
                     {3, 100, 1 - share / 2, 1},     {3, 101, 1, 1},
                     {3, 103, share / 2, 0},         {3, 99, share / 2, 0}};
        for (size_t c = 0; c < 2 * sizeof cases / sizeof cases[0]; c++) {
            struct grabber_options options = usual();
            options.comb = share;
            options.comb_adaptive = c % 2;
            blank_field(262);
            for (int line = 100; line < 100 + cases[c / 2].white_lines; line++) {
                colour_clocks(line, 0, TIA_VISIBLE, WHITE);
            }
            double wanted = 16 + 219 * (c % 2 ? cases[c / 2].adaptive : cases[c / 2].plain);
            int code = comb_seen(&options, cases[c / 2].seen);
            if (fabs(code - wanted) > 1) {
                fail_msg("share %g, case %zu: %d, not %.1f", share, c, code, wanted);
            }
        }
    }
}

/* ---- fates ---- */

/* The numbers of the fields as they come out, one a frame. */
static void number_fields(const struct grabber_options *wanted, enum standard standard, int lines, int count,
                          int *numbers) {
    struct grabber_options options = *wanted;
    options.layout = GRABBER_SINGLE;
    struct grabber *grabber = start(standard, &options, 77);
    field.lines = lines;
    for (int i = 0; i < count; i++) {
        struct frame frame = next_numbered(grabber);
        numbers[i] = number_at(&frame, TEXT_LINE);
    }
    grabber_free(grabber);
}

enum { COUNT = 6000, FIRST = 10 /* by then it has locked */ };
static int numbers[COUNT];

static void count_steps(int *lost, int *again, int *back) {
    *lost = *again = *back = 0;
    for (int i = FIRST; i < COUNT; i++) {
        int step = numbers[i] - numbers[i - 1];
        *lost += step == 2;
        *again += step == 0;
        *back += step < 0;
    }
}

/* Three standard deviations of a binomial count. */
static void check_share(const char *name, int count, int of, double share) {
    double most = 3 * sqrt(of * share * (1 - share));
    if (fabs(count - of * share) > most) {
        fail_msg("%s: %d of %d, not %.0f within %.0f", name, count, of, of * share, most);
    }
}

static void test_lost_and_doubled(void **state) {
    (void)state;
    int lost, again, back;
    struct grabber_options options = usual();
    options.drop = 0.05;
    number_fields(&options, STANDARD_NTSC, 262, COUNT, numbers);
    count_steps(&lost, &again, &back);
    /* of the fields that were there, those before the last one seen */
    check_share("lost", numbers[COUNT - 1] - numbers[FIRST] - (COUNT - 1 - FIRST),
                numbers[COUNT - 1] - numbers[FIRST], 0.05);
    assert_true(again == 0 && back == 0 && lost > 0);
    options = usual();
    options.twice = 0.05;
    number_fields(&options, STANDARD_NTSC, 262, COUNT, numbers);
    count_steps(&lost, &again, &back);
    check_share("doubled", again, numbers[COUNT - 1] - numbers[FIRST], 0.05);
    assert_true(lost == 0 && back == 0);
}

/* The console's field 0 carries number 1. */
static void test_burst(void **state) {
    (void)state;
    enum { AT = 50, LOST = 200 };
    struct grabber_options options = usual();
    options.burst_at = AT;
    options.burst_fields = LOST;
    number_fields(&options, STANDARD_NTSC, 262, COUNT, numbers);
    for (int i = FIRST; i < COUNT; i++) {
        assert_int_equal(numbers[i], i + 1 + (i >= AT ? LOST : 0));
    }
}

/* A burst among fields lost at random takes none of the random numbers away. */
static void test_burst_among_losses(void **state) {
    (void)state;
    static int without[COUNT];
    struct grabber_options options = usual();
    options.drop = 0.05;
    number_fields(&options, STANDARD_NTSC, 262, COUNT, without);
    options.burst_at = 50;
    options.burst_fields = 20;
    number_fields(&options, STANDARD_NTSC, 262, COUNT, numbers);
    int at = FIRST;
    for (int i = FIRST; i < COUNT && at < COUNT; i++) {
        if (without[i] <= 50 || without[i] > 70) {
            assert_int_equal(numbers[at++], without[i]);
        }
    }
}

/* n + 1 before n, and nothing else. One that has changed places does not do so again, so of all fields
 * share / (1 + share) are put off. */
static void test_swapped(void **state) {
    (void)state;
    int swaps = 0;
    struct grabber_options options = usual();
    options.swap = 0.1;
    number_fields(&options, STANDARD_NTSC, 262, COUNT, numbers);
    for (int i = FIRST; i < COUNT - 1; i++) {
        if (numbers[i] == i + 1) {
            continue;
        }
        assert_int_equal(numbers[i], i + 2);
        assert_int_equal(numbers[i + 1], i + 1);
        swaps++;
        i++;
    }
    check_share("swapped", swaps, COUNT - FIRST, 0.1 / 1.1);
}

/* Fields that come again, or are left out, come so often as the clocks say [A]. */
static void check_slip(enum standard standard, int lines, double clock_hz, double rate) {
    struct grabber_options options = usual();
    options.slip = true;
    number_fields(&options, standard, lines, COUNT, numbers);
    const double console = clock_hz / (228.0 * lines), seconds = (COUNT - 1 - FIRST) / rate;
    const double wanted = seconds * (rate - console);
    int slips = 0;
    for (int i = FIRST; i < COUNT; i++) {
        int step = numbers[i] - numbers[i - 1];
        assert_in_range(step, 0, 2);
        slips += 1 - step;
    }
    if (fabs(slips - wanted) > 1) {
        fail_msg("%d lines: %d, not %.2f", lines, slips, wanted);
    }
}

static void test_slip(void **state) {
    (void)state;
    check_slip(STANDARD_NTSC, 262, CLOCK_NTSC, 60000 / 1001.0); /* one in 57.8 s */
    check_slip(STANDARD_PAL, 312, CLOCK_PAL, 50);               /* one in 7.2 s */
    check_slip(STANDARD_NTSC, 261, CLOCK_NTSC, 60000 / 1001.0); /* too many: some are lost */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_woven_and_stacked),
        cmocka_unit_test(test_single),
        cmocka_unit_test(test_bobbed),
        cmocka_unit_test(test_blended),
        cmocka_unit_test(test_stale),
        cmocka_unit_test(test_stale_though_the_first_is_lost),
        cmocka_unit_test(test_stale_after_a_lost_lock),
        cmocka_unit_test(test_pairs),
        cmocka_unit_test(test_half_black),
        cmocka_unit_test(test_420),
        cmocka_unit_test(test_comb),
        cmocka_unit_test(test_lost_and_doubled),
        cmocka_unit_test(test_swapped),
        cmocka_unit_test(test_slip),
        cmocka_unit_test(test_burst),
        cmocka_unit_test(test_burst_among_losses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
