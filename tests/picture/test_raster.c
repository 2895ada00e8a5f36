/* The raster, slate and cells of fields drawn with a known truth. */
#include "draw.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>

#include <cmocka.h>

static void read_scene(struct picture *picture, const struct scene *scene, struct reading *reading) {
    struct picture *one = picture;
    uint8_t *memory;
    struct field field = draw_field(scene, &memory);
    if (one == NULL) {
        struct picture_options options = {.standard = scene->standard, .unclear_below = PICTURE_UNCLEAR};
        one = picture_new(&options);
    }
    picture_read(one, &field, reading);
    if (picture == NULL) {
        picture_free(one);
    }
    free(memory);
}

static void fill_random(struct scene *scene, uint64_t seed) {
    uint64_t random = seed + 77;
    for (int i = 0; i < PICTURE_LINES_MAX; i++) {
        scene->cells[i] = draw_random(&random) >> 24;
    }
}

#define FAIL_WITH(scene, ...)                                                                                \
    do {                                                                                                     \
        print_message(                                                                                       \
            "seed %llu left %.3f top %d width %d step %d stuck %05x blend %d late %d noise %.0f dB: ",       \
            (unsigned long long)(scene)->seed, (scene)->left, (scene)->top, (scene)->width, (scene)->step,   \
            (unsigned)(scene)->stuck, (int)(scene)->blend, (scene)->late, (scene)->noise_db);                \
        fail_msg(__VA_ARGS__);                                                                               \
    } while (0)

static void expect_read(const struct scene *scene, const struct reading *reading) {
    if (reading->state != FIELD_READ) {
        FAIL_WITH(scene, "state %d", (int)reading->state);
    }
    if (reading->slate.hash != scene->slate.hash || reading->slate.value != scene->slate.value ||
        reading->slate.counter != scene->slate.counter) {
        FAIL_WITH(scene, "slate %04x %05x %d", reading->slate.hash, (unsigned)reading->slate.value,
                  reading->slate.counter);
    }
}

static void expect_cells(const struct scene *scene, const struct reading *reading, int lines) {
    if (reading->lines != lines) {
        FAIL_WITH(scene, "%d lines of %d", reading->lines, lines);
    }
    for (int i = 0; i < lines; i++) {
        if (reading->lit[i] != scene->cells[i] || reading->unclear[i] != 0) {
            FAIL_WITH(scene, "line %d: %010llx, unclear %010llx, expected %010llx", i,
                      (unsigned long long)reading->lit[i], (unsigned long long)reading->unclear[i],
                      (unsigned long long)scene->cells[i]);
        }
    }
}

/* 30 dB is the noise that the tool promises to read through; a tenth of a sample is 1/150 of a cell. */
static void edges_are_found_to_a_tenth_of_a_sample(void **state) {
    (void)state;
    double left = 0, right = 0, left_bias = 0, right_bias = 0;
    enum { SEEDS = 100 };
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct scene scene = scene_usual((enum standard)(seed % STANDARD_COUNT));
        struct reading reading;
        uint64_t random = seed;
        draw_random(&random);
        scene.seed = seed;
        scene.noise_db = 30;
        scene.left = 60 + 30 * draw_uniform(&random);
        fill_random(&scene, seed);
        read_scene(NULL, &scene, &reading);
        expect_read(&scene, &reading);
        assert_int_equal((int)reading.raster.top, scene.top);
        double at_left = reading.raster.left - scene.left;
        double at_right = at_left + PICTURE_CLOCKS * (reading.raster.clock_width - scene.clock_width);
        left += at_left * at_left / SEEDS;
        right += at_right * at_right / SEEDS;
        left_bias += at_left / SEEDS;
        right_bias += at_right / SEEDS;
    }
    print_message(
        "rms error of the left edge %.3f (bias %.3f), right %.3f (bias %.3f) samples, seeds 1..%d\n",
        sqrt(left), left_bias, sqrt(right), right_bias, SEEDS);
    assert_true(sqrt(left) < 0.1);
    assert_true(sqrt(right) < 0.1);
}

static void a_clean_field_is_exact(void **state) {
    (void)state;
    for (int i = 0; i < 20; i++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct reading reading;
        scene.left = 70 + i * 0.37;
        fill_random(&scene, (uint64_t)i);
        read_scene(NULL, &scene, &reading);
        expect_read(&scene, &reading);
        expect_cells(&scene, &reading, 168);
        assert_true(fabs(reading.raster.left - scene.left) < 0.03);
        assert_true(fabs(reading.raster.clock_width - scene.clock_width) < 0.0004);
        assert_true(fabs(reading.raster.black - 16) < 1.0);
        assert_true(fabs(reading.raster.white - 235) < 1.0);
        assert_true(reading.margin > 0.95);
        assert_true(fabs(reading.offset) < 0.05);
    }
}

static void it_is_found_wherever_it_lies(void **state) {
    (void)state;
    struct picture_options options = {.standard = STANDARD_NTSC, .unclear_below = PICTURE_UNCLEAR};
    struct picture *picture = picture_new(&options);
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct reading reading;
        uint64_t random = seed * 99;
        scene.seed = seed;
        scene.noise_db = 30;
        draw_random(&random);
        scene.left = draw_uniform(&random) * (scene.width - 1 - PICTURE_CLOCKS * scene.clock_width);
        scene.top = seed == 1 ? 0 : (int)(draw_uniform(&random) * scene.height / 2);
        fill_random(&scene, seed);
        /* One picture for all: a wrong first guess must not stand in the way. */
        read_scene(picture, &scene, &reading);
        expect_read(&scene, &reading);
        assert_int_equal((int)reading.raster.top, scene.top);
        int lines = scene.height - scene.top - SLATE_LINES;
        expect_cells(&scene, &reading, lines < 168 ? lines : 168);
    }
    picture_free(picture);
}

static void every_width_step_and_level(void **state) {
    (void)state;
    static const int widths[] = {720, 704, 640};
    static const double levels[][2] = {{16, 235}, {40, 150}, {0, 255}, {90, 130}};
    for (int i = 0; i < 3 * 4 * 4; i++) {
        struct scene scene = scene_usual(i % 2 ? STANDARD_PAL : STANDARD_NTSC);
        struct reading reading;
        scene.seed = (uint64_t)i + 1;
        scene.noise_db = 30;
        scene.width = widths[i % 3];
        scene.step = 1 + i / 3 % 4;
        scene.black = levels[i / 12][0];
        scene.white = levels[i / 12][1];
        /* 704 is a crop; 640 is sampled at square pixels, 12.2727 MHz for 60 Hz [S SMPTE 170M, 4:3 of 480
         * lines] */
        scene.clock_width *= scene.width == 640 ? 12.2727 / 13.5 : 1;
        scene.left = scene.width == 704 ? 66.2 : scene.width == 640 ? 45.3 : 74.6;
        fill_random(&scene, scene.seed);
        read_scene(NULL, &scene, &reading);
        expect_read(&scene, &reading);
        expect_cells(&scene, &reading, standard_plan_lines(scene.standard));
        if (fabs(reading.raster.left - scene.left) > 0.3) {
            FAIL_WITH(&scene, "left %.3f", reading.raster.left);
        }
    }
}

/* 24 dB: noise twice as strong as promised. */
static void strong_noise_still_reads(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        struct scene scene = scene_usual(seed % 2 ? STANDARD_NTSC : STANDARD_PAL);
        struct reading reading;
        scene.seed = seed;
        scene.noise_db = 24;
        fill_random(&scene, seed);
        read_scene(NULL, &scene, &reading);
        expect_read(&scene, &reading);
        expect_cells(&scene, &reading, standard_plan_lines(scene.standard));
    }
}

static void a_field_that_ends_early(void **state) {
    (void)state;
    struct picture_options options = {.standard = STANDARD_NTSC, .unclear_below = PICTURE_UNCLEAR};
    struct picture *picture = picture_new(&options);
    for (int height = 240; height > 0; height -= height > 60 ? 20 : 1) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct reading reading;
        scene.height = height;
        scene.top = 3;
        scene.step = 1 + height % 3;
        fill_random(&scene, 5);
        read_scene(picture, &scene, &reading);
        int lines = height - 3 - SLATE_LINES;
        if (height >= 40) {
            expect_read(&scene, &reading);
            expect_cells(&scene, &reading, lines < 168 ? lines : 168);
        } else if (lines < 0) {
            assert_int_not_equal(reading.state, FIELD_READ);
        }
    }
    picture_free(picture);
}

/* Fields of one grabber that come a line higher or lower than the one before: the same cells, read at the
 * band's own line each time. */
static void it_moves_from_field_to_field(void **state) {
    (void)state;
    static const int tops[] = {19, 18, 17, 18, 19, 21, 19, 22, 20, 20};
    struct scene scene = scene_usual(STANDARD_NTSC);
    const struct picture_options options = {.standard = scene.standard, .unclear_below = PICTURE_UNCLEAR};
    struct picture *picture = picture_new(&options);
    fill_random(&scene, 3);
    for (size_t i = 0; i < sizeof tops / sizeof tops[0]; i++) {
        struct reading reading;
        scene.top = tops[i];
        read_scene(picture, &scene, &reading);
        expect_read(&scene, &reading);
        assert_int_equal((int)reading.raster.top, tops[i]);
    }
    picture_free(picture);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(edges_are_found_to_a_tenth_of_a_sample),
        cmocka_unit_test(a_clean_field_is_exact),
        cmocka_unit_test(it_is_found_wherever_it_lies),
        cmocka_unit_test(it_moves_from_field_to_field),
        cmocka_unit_test(every_width_step_and_level),
        cmocka_unit_test(strong_noise_still_reads),
        cmocka_unit_test(a_field_that_ends_early),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
