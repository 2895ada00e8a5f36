/* The slate read through stuck bits, blended lines and late writes; and never where there is none. */
#include "draw.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>

#include <cmocka.h>

static struct picture *new_picture(enum standard standard) {
    struct picture_options options = {.standard = standard, .unclear_below = PICTURE_UNCLEAR};
    return picture_new(&options);
}

/* Reads the scene's field twice: searched for, then from where it was found. */
static void expect_slate(struct picture *picture, const struct scene *scene) {
    uint8_t *memory;
    struct field field = draw_field(scene, &memory);
    for (int i = 0; i < 2; i++) {
        struct reading reading;
        picture_read(picture, &field, &reading);
        bool same = reading.slate.hash == scene->slate.hash && reading.slate.value == scene->slate.value &&
                    reading.slate.counter == scene->slate.counter;
        if (reading.state != FIELD_READ || !same || fabs(reading.raster.left - scene->left) > 0.4) {
            fail_msg("seed %llu stuck %05x blend %d slate late %d black %.2f, slate %04x %05x %d: state %d, "
                     "left %.2f",
                     (unsigned long long)scene->seed, (unsigned)scene->stuck, (int)scene->blend,
                     scene->slate_shift, scene->background, scene->slate.hash, (unsigned)scene->slate.value,
                     scene->slate.counter, (int)reading.state, reading.raster.left);
        }
    }
    free(memory);
}

static void random_slate(struct scene *scene, uint64_t seed) {
    uint64_t random = seed;
    draw_random(&random);
    scene->seed = seed;
    scene->slate.hash = (uint16_t)(draw_random(&random) >> 40);
    scene->slate.value = (uint32_t)(draw_random(&random) >> 44);
    scene->slate.counter = (uint8_t)(draw_random(&random) >> 58);
}

/* All 190 pairs of the 20 bits, each with every way of blending. 0xFF.. as a hash puts white next to the
 * band. */
static void any_two_stuck_bits(void **state) {
    (void)state;
    uint64_t seed = 0;
    for (int a = 0; a < CELLS / 2; a++) {
        for (int b = a + 1; b < CELLS / 2; b++) {
            for (int blend = 0; blend < BLEND_COUNT; blend++) {
                struct picture *picture = new_picture(STANDARD_NTSC);
                struct scene scene = scene_usual(STANDARD_NTSC);
                random_slate(&scene, ++seed);
                scene.slate.hash = seed % 3 == 0 ? (uint16_t)(scene.slate.hash | 0xFF00) : scene.slate.hash;
                scene.noise_db = 30;
                scene.stuck = 1U << a | 1U << b;
                scene.blend = (enum blend)blend;
                expect_slate(picture, &scene);
                picture_free(picture);
            }
        }
    }
}

/* Three cells may stand in one bit of the slate: 12 of its 18 clocks [A]. */
static void three_stuck_bits_in_one_of_the_slate(void **state) {
    (void)state;
    static const uint32_t stuck[] = {1U << 15 | 1U << 17 | 1U << 18, 1U << 15 | 1U << 16 | 1U << 17,
                                     1U << 2 | 1U << 3 | 1U << 4};
    for (size_t i = 0; i < 3 * 20; i++) {
        struct picture *picture = new_picture(STANDARD_NTSC);
        struct scene scene = scene_usual(STANDARD_NTSC);
        random_slate(&scene, i);
        scene.noise_db = 30;
        scene.stuck = stuck[i % 3];
        expect_slate(picture, &scene);
        picture_free(picture);
    }
}

static void late_and_early_writes(void **state) {
    (void)state;
    struct picture *picture = new_picture(STANDARD_PAL);
    for (uint64_t seed = 1; seed <= 200; seed++) {
        struct scene scene = scene_usual(STANDARD_PAL);
        random_slate(&scene, seed);
        scene.noise_db = 30;
        scene.stuck = 1U << (seed % 20) | 1U << (seed / 20 % 20);
        scene.slate_shift = (int)(seed % 5) - 1;
        scene.blend = (enum blend)(seed % BLEND_COUNT);
        expect_slate(picture, &scene);
    }
    picture_free(picture);
}

/* D3 of every colour stuck high: what should be black is level 4 of 7. */
static void a_black_that_is_grey(void **state) {
    (void)state;
    struct picture *picture = new_picture(STANDARD_NTSC);
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        random_slate(&scene, seed);
        scene.noise_db = 30;
        scene.background = 4.0 / 7.0;
        expect_slate(picture, &scene);
    }
    picture_free(picture);
}

static enum field_state state_of(struct picture *picture, const struct scene *scene) {
    struct reading reading;
    uint8_t *memory;
    struct field field = draw_field(scene, &memory);
    picture_read(picture, &field, &reading);
    free(memory);
    return reading.state;
}

static void one_to_five_wrong_bits_are_a_bad_slate(void **state) {
    (void)state;
    struct picture *picture = new_picture(STANDARD_NTSC);
    for (uint64_t seed = 1; seed <= 100; seed++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        uint64_t random = seed;
        random_slate(&scene, seed);
        scene.noise_db = 30;
        for (uint64_t i = 0; i <= seed % 5; i++) {
            int bit = (int)(draw_random(&random) >> 8) & 0x3F;
            bit = bit >= 56 ? (int)i : bit;
            scene.flipped[bit / 8] |= (uint8_t)(1U << bit % 8);
        }
        enum field_state found = state_of(picture, &scene);
        if (found != FIELD_BAD_SLATE) {
            fail_msg("seed %llu: state %d", (unsigned long long)seed, (int)found);
        }
    }
    picture_free(picture);
}

static void flat_fields_are_no_signal(void **state) {
    (void)state;
    struct picture *picture = new_picture(STANDARD_NTSC);
    static const int codes[] = {0, 16, 128, 235, 255};
    for (int i = 0; i < 10; i++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        scene.top = 10000;
        scene.seed = (uint64_t)i + 1;
        scene.black = codes[i / 2];
        scene.white = scene.black + 219;
        scene.noise_db = i % 2 ? 30 : 0;
        assert_int_equal(state_of(picture, &scene), FIELD_NO_SIGNAL);
    }
    picture_free(picture);
}

/* A picture without its slate: white lines, bars and cells of every kind, also where the last slate was seen.
 */
static void pictures_without_a_slate(void **state) {
    (void)state;
    struct picture *picture = new_picture(STANDARD_NTSC);
    struct scene good = scene_usual(STANDARD_NTSC);
    for (uint64_t seed = 1; seed <= 60; seed++) {
        uint8_t *memory;
        struct reading reading;
        uint64_t random = seed;
        assert_int_equal(state_of(picture, &good), FIELD_READ);
        struct scene scene = good;
        scene.seed = seed;
        scene.top = good.top - SLATE_LINES;
        scene.noise_db = 30;
        for (int i = 0; i < PICTURE_LINES_MAX; i++) {
            /* Every third line the same: the shape of rows, in the playfield. */
            scene.cells[i] = i % 3 ? scene.cells[i - i % 3] : draw_random(&random) >> 24;
            scene.cells[i] = i < 3 || seed % 4 == 0 ? UINT64_C(0xFFFFFFFFFF) : scene.cells[i];
        }
        struct field field = draw_field(&scene, &memory);
        for (int line = 0; line < good.top; line++) { /* the drawn slate itself goes */
            for (int x = 0; x < scene.width; x++) {
                memory[line * field.stride + x * field.step] = 16;
            }
        }
        picture_read(picture, &field, &reading);
        free(memory);
        if (reading.state != FIELD_NO_SLATE && reading.state != FIELD_BAD_SLATE) {
            fail_msg("seed %llu: state %d", (unsigned long long)seed, (int)reading.state);
        }
    }
    picture_free(picture);
}

/* Fields of noise, stripes and boxes, of any size down to nothing. */
static void garbage_is_never_read(void **state) {
    (void)state;
    struct picture *picture = new_picture(STANDARD_NTSC);
    for (uint64_t seed = 1; seed <= 300; seed++) {
        uint64_t random = seed;
        draw_random(&random);
        int width = (int)(draw_random(&random) >> 40) % 1000,
            height = (int)(draw_random(&random) >> 40) % 300;
        int step = 1 + (int)seed % 3, coarse = 1 + (int)(draw_random(&random) >> 40) % 60;
        int deep = 1 + (int)(draw_random(&random) >> 40) % 6;
        size_t count = (size_t)(width * height);
        uint8_t *luma = malloc(count * (size_t)step + 1);
        for (size_t i = 0; i < count; i++) {
            uint64_t place = (i / (size_t)width / (size_t)deep) * 4096 + i % (size_t)width / (size_t)coarse +
                             seed * 999983;
            uint64_t value = place * UINT64_C(0x9E3779B97F4A7C15);
            value = draw_random(&value);
            luma[i * (size_t)step] = seed % 2 ? (uint8_t)(value >> 56) : value >> 63 ? 235 : 16;
        }
        struct field field = {.luma = luma,
                              .stride = (ptrdiff_t)width * step,
                              .step = step,
                              .width = width,
                              .height = height,
                              .parity = (int)seed / 3 % 2,
                              .frame_lines = 1};
        struct reading reading;
        picture_read(picture, &field, &reading);
        free(luma);
        if (reading.state == FIELD_READ) {
            fail_msg("seed %llu (%dx%d) was read", (unsigned long long)seed, width, height);
        }
    }
    picture_free(picture);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_two_stuck_bits),
        cmocka_unit_test(three_stuck_bits_in_one_of_the_slate),
        cmocka_unit_test(late_and_early_writes),
        cmocka_unit_test(a_black_that_is_grey),
        cmocka_unit_test(one_to_five_wrong_bits_are_a_bad_slate),
        cmocka_unit_test(flat_fields_are_no_signal),
        cmocka_unit_test(pictures_without_a_slate),
        cmocka_unit_test(garbage_is_never_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
