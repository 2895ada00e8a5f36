/* Impairments by their texts, and the named sets: what each sets, what is said of a wrong one, and that all
 * of them give video. */
#include "virtual/kernel.h"
#include "virtual/texts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static struct virtual_options with(enum standard standard, const char *text) {
    struct virtual_options options;
    struct problem problem;
    virtual_defaults(standard, &options);
    if (!virtual_add_impairment(&options, text, &problem)) {
        fail_msg("%s: %s", text, problem.text);
    }
    return options;
}

static bool is(double value, double wanted) {
    return fabs(value - wanted) < 1e-12;
}

static void test_each_sets_what_it_says(void **state) {
    (void)state;
#define SET(text) with(STANDARD_NTSC, text).grabber
    assert_int_equal(SET("layout=stacked").layout, GRABBER_STACKED);
    assert_int_equal(SET("layout=blended").layout, GRABBER_BLENDED);
    assert_int_equal(SET("older=bottom").older, GRABBER_BOTTOM);
    assert_int_equal(SET("stale=top").stale, GRABBER_TOP);
    assert_int_equal(SET("stale=top").stale_fields, 0);
    assert_int_equal(SET("stale=bottom:30").stale_fields, 30);
    assert_true(SET("pairs").pairs);
    assert_int_equal(SET("half-black=upper").half_black, GRABBER_UPPER);
    assert_memory_equal(SET("crop=2:4:6:8").crop, ((int[4]){2, 4, 6, 8}), sizeof(int[4]));
    assert_int_equal(SET("width=704").width, 704);
    assert_int_equal(SET("chroma=420").chroma, 420);
    assert_int_equal(SET("mjpeg=55").mjpeg, 55);
    assert_true(is(SET("noise=31.5").noise_db, 31.5));
    assert_true(is(SET("chroma-noise=20").chroma_noise_db, 20));
    assert_true(is(SET("gain=0.9").gain, 0.9));
    assert_true(is(SET("offset=-0.1").offset, -0.1));
    assert_true(is(SET("agc=0.05:4").agc, 0.05) && is(SET("agc=0.05:4").agc_s, 4));
    assert_true(is(SET("clip=0.9").clip_white, 0.9) && isinf(SET("clip=0.9").clip_black));
    assert_true(is(SET("clip=0.9:0.05").clip_black, 0.05));
    assert_true(is(SET("bandwidth=3").bandwidth_mhz, 3));
    assert_true(is(SET("sharpen=0.1").sharpen, 0.1));
    assert_true(is(SET("ghost=-0.1:1.5").ghost, -0.1) && is(SET("ghost=-0.1:1.5").ghost_us, 1.5));
    assert_true(is(SET("hum=0.05:100").hum, 0.05) && is(SET("hum=0.05:100").hum_hz, 100));
    assert_true(is(SET("hum=0.05").hum_hz, 60) && is(with(STANDARD_PAL, "hum=0.05").grabber.hum_hz, 50));
    assert_true(SET("no-colour").no_colour);
    assert_true(is(SET("cross=0.2").cross, 0.2));
    assert_true(is(SET("chroma-bandwidth=0.6").chroma_mhz, 0.6));
    assert_true(is(SET("chroma-delay=-3").chroma_delay, -3));
    assert_true(is(SET("left=60.5").left, 60.5));
    assert_true(is(SET("jitter=0.3").jitter, 0.3));
    assert_true(is(SET("slant=-0.02").slant, -0.02));
    assert_true(is(SET("scale=0.998").scale, 0.998));
    assert_true(is(SET("shift=5.5:-2").shift, 5.5) && SET("shift=5.5:-2").shift_lines == -2);
    assert_true(is(SET("comb=0.3").comb, 0.3) && !SET("comb=0.3").comb_adaptive);
    assert_true(SET("comb=0.3:adaptive").comb_adaptive);
    assert_true(is(SET("drop=0.01").drop, 0.01) && is(SET("double=0.02").twice, 0.02));
    assert_true(is(SET("swap=0.03").swap, 0.03) && SET("slip").slip);
    assert_int_equal(SET("burst=500:200").burst_at, 500);
    assert_int_equal(SET("burst=500:200").burst_fields, 200);
#undef SET
}

static void test_every_spelling_is_taken(void **state) {
    (void)state;
    struct virtual_options clean;
    virtual_defaults(STANDARD_NTSC, &clean);
    size_t count = 0;
    for (; virtual_impairment_spellings[count].spelling != NULL; count++) {
        const char *text = virtual_impairment_spellings[count].spelling;
        struct virtual_options options = with(STANDARD_NTSC, text);
        assert_true(strlen(virtual_impairment_spellings[count].about) > 10);
        /* these two say what is so anyway */
        if (strcmp(text, "layout=woven") != 0 && strcmp(text, "left=74") != 0 &&
            memcmp(&options.grabber, &clean.grabber, sizeof clean.grabber) == 0) {
            fail_msg("%s does nothing", text);
        }
    }
    assert_int_equal(count, 34);
}

static void test_wrong_texts(void **state) {
    (void)state;
    static const struct wrong_text cases[] = {
        {"", "no such impairment"},
        {"gost=0.1:1", "ghost=0.1:1.5"},
        {"noise", "value is missing"},
        {"noise=", "one number"},
        {"noise=-1", "0 to 200"},
        {"noise=nan", "one number"},
        {"noise=inf", "one number"},
        {"noise=1e400", "one number"},
        {"noise=0x10", "one number"},
        {"noise=30:2", "one number"},
        {"noise= 30", "one number"},
        {"ghost=0.1", "two numbers"},
        {"ghost=0.6:1", "-0.5 to 0.5"},
        {"ghost=0.1:21", "delay 21"},
        {"agc=0.1:0", "period 0"},
        {"agc=0.1:2:3", "two numbers"},
        {"layout=weave", "woven, stacked"},
        {"older=upper", "top or bottom"},
        {"older=", "top or bottom"},
        {"stale=bottom:0", "number of fields"},
        {"stale=lower", "top or bottom"},
        {"pairs=1", "no value"},
        {"slip=", "no value"},
        {"half-black=left", "upper or lower"},
        {"crop=1:0:0:0", "even"},
        {"crop=2:2:2", "four whole numbers"},
        {"crop=2:2:2:2:2", "four whole numbers"},
        {"crop=200:0:0:0", "0 to 160"},
        {"crop=0:0:102:0", "0 to 100"},
        {"width=768", "640, 704 or 720"},
        {"width=", "whole number"},
        {"chroma=444", "422 or 420"},
        {"mjpeg=0", "1 to 100"},
        {"mjpeg=101", "1 to 100"},
        {"clip=0.5:0.6", "not below"},
        {"comb=0.3:clever", "adaptive"},
        {"comb=0.6", "0 to 0.5"},
        {"shift=1:0.5", "whole lines"},
        {"shift=1:30", "-20 to 20"},
        {"hum=0.1:", "frequency"},
        {"jitter=6", "0 to 5"},
        {"slant=0.2", "-0.1 to 0.1"},
        {"scale=0", "0.9 to 1.1"},
        {"drop=1", "0 to 0.5"},
        {"burst=500", "how many"},
        {"burst=500:0", "1 to 100000"},
        {"burst=-1:5", "first field"},
        {"width=\n", "width=?"},
        {"noise=30                                                                              ", "..."},
    };
    check_wrong_texts(virtual_add_impairment, cases, sizeof cases / sizeof cases[0]);
}

static void test_later_ones_replace_earlier(void **state) {
    (void)state;
    struct virtual_options options = with(STANDARD_NTSC, "stale=bottom:30");
    assert_true(virtual_add_impairment(&options, "noise=20", NULL));
    assert_true(virtual_add_impairment(&options, "stale=top", NULL));
    assert_true(virtual_add_impairment(&options, "noise=40", NULL));
    assert_true(is(options.grabber.noise_db, 40));
    assert_int_equal(options.grabber.stale, GRABBER_TOP);
    assert_int_equal(options.grabber.stale_fields, 0);
}

/* ---- sets ---- */

static struct virtual_options in_set(enum standard standard, const char *name) {
    struct virtual_options options;
    struct problem problem;
    virtual_defaults(standard, &options);
    if (!virtual_use_set(&options, name, &problem)) {
        fail_msg("%s: %s", name, problem.text);
    }
    return options;
}

static void test_a_set_replaces_every_property(void **state) {
    (void)state;
    struct virtual_options options = in_set(STANDARD_PAL, "hot"), usual;
    virtual_defaults(STANDARD_PAL, &usual);
    options.seed = 44;
    assert_true(virtual_use_set(&options, "clean", NULL));
    assert_memory_equal(&options.grabber, &usual.grabber, sizeof usual.grabber);
    assert_int_equal(options.seed, 44);
    options = in_set(STANDARD_NTSC, "tuner");
    assert_string_equal(options.grabber.set, "tuner");
    struct virtual_options before = options;
    struct problem problem = {0};
    assert_false(virtual_use_set(&options, "tune", &problem));
    assert_memory_equal(&options, &before, sizeof options);
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        assert_non_null(strstr(problem.text, set->name));
    }
}

static uint32_t sum_of_plane(const struct plane *plane, int width, int height, uint32_t sum) {
    for (int y = 0; y < height; y++) {
        for (int x = 0; x < width; x++) {
            sum = sum * 16777619u + plane->data[y * plane->stride + x * plane->step];
        }
    }
    return sum;
}

/* Of some frames; each must be as the source tells. */
static uint32_t sum_of_video(const struct virtual_options *options) {
    static uint8_t image[KERNEL_SIZE];
    struct video_source source;
    struct video_about about;
    struct video_counts counts;
    struct problem problem;
    uint32_t sum = 1;
    kernel(image);
    assert_true(virtual_open(options, image, sizeof image, &source, &problem));
    for (uint64_t n = 0; n < 12; n++) {
        struct frame frame;
        assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
        video_tell(&source, &about, &counts);
        assert_true(frame.width == about.width && frame.height == about.height && frame.number == n);
        assert_true(counts.delivered == n + 1 && about.live && strcmp(about.kind, "virtual") == 0);
        assert_string_equal(about.name, options->grabber.set);
        assert_int_equal(strstr(about.format, "420") != NULL, frame.chroma_y == 1);
        sum = sum_of_plane(&frame.y, frame.width, frame.height, sum);
        sum = sum_of_plane(&frame.cb, frame.width / 2, frame.height >> frame.chroma_y, sum);
        sum = sum_of_plane(&frame.cr, frame.width / 2, frame.height >> frame.chroma_y, sum);
    }
    source.close(source.state);
    return sum;
}

/* The same again from the same seed, another from another; and no two sets are alike. */
static void test_every_set_is_a_video_of_its_own(void **state) {
    (void)state;
    uint32_t sums[40];
    size_t count = 0;
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++, count++) {
        struct virtual_options options = in_set(STANDARD_NTSC, set->name);
        assert_true(strlen(set->about) > 10);
        sums[count] = sum_of_video(&options);
        assert_int_equal(sums[count], sum_of_video(&options));
        options.seed = 2;
        if (count > 0) { /* nothing of the clean one is left to chance */
            assert_int_not_equal(sums[count], sum_of_video(&options));
        }
        for (size_t i = 0; i < count; i++) {
            assert_int_not_equal(sums[i], sums[count]);
        }
    }
    assert_true(count >= 12);
    assert_string_equal(virtual_sets[0].name, "clean");
}

/* ---- anything goes with anything ---- */

static uint32_t next_random(uint32_t *state) {
    return *state = *state * 1664525u + 1013904223u;
}

/* Every impairment at the ends of its range. */
static const char *const extremes[] = {"layout=woven",
                                       "layout=stacked",
                                       "layout=single",
                                       "layout=bobbed",
                                       "layout=blended",
                                       "older=top",
                                       "older=bottom",
                                       "stale=top",
                                       "stale=bottom:1",
                                       "pairs",
                                       "half-black=top",
                                       "half-black=bottom",
                                       "half-black=upper",
                                       "half-black=lower",
                                       "crop=160:160:100:100",
                                       "crop=2:0:2:0",
                                       "width=640",
                                       "width=704",
                                       "chroma=420",
                                       "mjpeg=1",
                                       "mjpeg=100",
                                       "noise=0",
                                       "noise=200",
                                       "chroma-noise=0",
                                       "gain=0.01",
                                       "gain=4",
                                       "offset=-1",
                                       "offset=1",
                                       "agc=0.5:0.1",
                                       "clip=0.1:-1",
                                       "clip=2:0.9",
                                       "bandwidth=0.5",
                                       "bandwidth=6.75",
                                       "sharpen=1",
                                       "ghost=0.5:20",
                                       "ghost=-0.5:0",
                                       "hum=0.5:1000",
                                       "no-colour",
                                       "chroma-bandwidth=0.25",
                                       "cross=0.9",
                                       "chroma-bandwidth=3",
                                       "chroma-delay=30",
                                       "chroma-delay=-30",
                                       "left=-720",
                                       "left=720",
                                       "jitter=5",
                                       "slant=0.1",
                                       "slant=-0.1",
                                       "scale=0.9",
                                       "scale=1.1",
                                       "shift=100:20",
                                       "shift=-100:-20",
                                       "comb=0.5",
                                       "comb=0.5:adaptive",
                                       "drop=0.5",
                                       "double=0.5",
                                       "swap=0.5",
                                       "slip"};

static void test_any_of_them_together(void **state) {
    (void)state;
    uint32_t random = 20;
    const int turns = getenv("SLOTJIG_TEST_SMALL") != NULL ? 12 : 60;
    for (int i = 0; i < turns; i++) {
        struct virtual_options options;
        virtual_defaults((enum standard)(i % STANDARD_COUNT), &options);
        options.seed = (uint64_t)i;
        for (int n = 0; n < 12; n++) {
            const char *text = extremes[(next_random(&random) >> 8) % (sizeof extremes / sizeof extremes[0])];
            assert_true(virtual_add_impairment(&options, text, NULL));
        }
        sum_of_video(&options);
    }
}

/* What fields a second they tell: the standard's, or half of it where two make a frame [S BT.601]. */
static void test_rates(void **state) {
    (void)state;
    static const struct {
        const char *set;
        bool often;
        int height;
        const char *format;
    } cases[] = {{"clean", false, 576, "rawvideo yuyv422"}, {"stale", true, 576, "rawvideo yuyv422"},
                 {"pairs", true, 576, "rawvideo yuyv422"},  {"single", true, 288, "rawvideo yuyv422"},
                 {"bob", true, 576, "rawvideo yuv420p"},    {"blend", false, 576, "rawvideo yuyv422"},
                 {"mjpeg", false, 576, "mjpeg yuvj420p"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        static uint8_t image[KERNEL_SIZE];
        struct virtual_options options = in_set(STANDARD_PAL, cases[i].set);
        struct video_source source;
        struct video_about about;
        kernel(image);
        assert_true(virtual_open(&options, image, sizeof image, &source, NULL));
        video_tell(&source, &about, NULL);
        assert_true(is(about.rate, cases[i].often ? 50 : 25));
        assert_int_equal(about.height, cases[i].height);
        assert_string_equal(about.format, cases[i].format);
        source.close(source.state);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_each_sets_what_it_says),
        cmocka_unit_test(test_every_spelling_is_taken),
        cmocka_unit_test(test_wrong_texts),
        cmocka_unit_test(test_later_ones_replace_earlier),
        cmocka_unit_test(test_a_set_replaces_every_property),
        cmocka_unit_test(test_every_set_is_a_video_of_its_own),
        cmocka_unit_test(test_any_of_them_together),
        cmocka_unit_test(test_rates),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
