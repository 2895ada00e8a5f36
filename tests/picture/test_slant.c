/* Lines that each lie a little to the right or left of the one above, and lines that jitter. */
#include "draw.h"
#include "picture/parts.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>

#include <cmocka.h>

static struct picture *new_picture(enum standard standard) {
    struct picture_options options = {.standard = standard, .unclear_below = PICTURE_UNCLEAR};
    return picture_new(&options);
}

/* Another slate and other cells in every field. */
static struct reading read_parity(struct picture *picture, struct scene *scene, uint64_t seed, int parity) {
    struct reading reading;
    uint8_t *memory;
    uint64_t random = seed * UINT64_C(0x9E3779B97F4A7C15) + 5;
    draw_random(&random);
    scene->seed = seed;
    scene->slate.counter = seed & 63;
    scene->slate.value = (uint32_t)(draw_random(&random) >> 44);
    for (int i = 0; i < PICTURE_LINES_MAX; i++) {
        scene->cells[i] = draw_random(&random) >> 24;
    }
    struct field field = draw_field(scene, &memory);
    field.parity = parity;
    picture_read(picture, &field, &reading);
    free(memory);
    return reading;
}

static struct reading read_turn(struct picture *picture, struct scene *scene, uint64_t seed) {
    return read_parity(picture, scene, seed, 0);
}

static long wrong_cells(const struct scene *scene, const struct reading *reading, bool unclear_too) {
    long wrong = 0;
    for (int line = 0; line < reading->lines; line++) {
        uint64_t bad = reading->lit[line] ^ scene->cells[line];
        wrong += __builtin_popcountll(unclear_too ? bad | reading->unclear[line] : bad);
    }
    return wrong;
}

static void every_slant_reads_with_full_margin(void **state) {
    (void)state;
    double worst = 1, error = 0;
    for (int i = -8; i <= 8; i++) {
        struct scene scene = scene_usual(i % 2 ? STANDARD_PAL : STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        scene.slant = 0.005 * i;
        scene.left += 0.13 * i;
        for (uint64_t seed = 1; seed <= 12; seed++) {
            struct reading reading = read_turn(picture, &scene, seed);
            assert_int_equal(reading.state, FIELD_READ);
            assert_int_equal(wrong_cells(&scene, &reading, true), 0);
            if (seed == 12) {
                worst = fmin(worst, reading.margin);
                error = fmax(error, fabs(reading.raster.slant - scene.slant));
            }
            if (!(reading.margin > 0.9) || !(fabs(reading.offset) < (seed > 3 ? 0.1 : 0.2))) {
                fail_msg("slant %.3f field %d: margin %.2f offset %.3f slant %.4f", scene.slant, (int)seed,
                         reading.margin, reading.offset, reading.raster.slant);
            }
        }
        picture_free(picture);
    }
    print_message("after 12 fields: least margin %.3f, worst error of the slant %.5f samples a line\n", worst,
                  error);
    assert_true(error < 0.0015);
}

static void noise_makes_no_slant(void **state) {
    (void)state;
    double first = 0, last = 0;
    enum { FIELDS = 20 };
    const int runs = getenv("SLOTJIG_TEST_SMALL") != NULL ? 6 : 30;
    for (int run = 0; run < runs; run++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        scene.noise_db = 30;
        scene.slant = run % 2 ? 0.02 : 0;
        for (int i = 0; i < FIELDS; i++) {
            struct reading reading = read_turn(picture, &scene, (uint64_t)(run * FIELDS + i + 1));
            double away = reading.raster.slant - scene.slant;
            assert_int_equal(reading.state, FIELD_READ);
            first += i == 0 ? away * away / runs : 0;
            last += i == FIELDS - 1 ? away * away / runs : 0;
        }
        picture_free(picture);
    }
    print_message("slant at 30 dB, seeds 1..%d: rms error %.4f in the first field, %.4f in the %dth\n",
                  runs * FIELDS, sqrt(first), sqrt(last), FIELDS);
    assert_true(sqrt(first) < 0.0013);
    assert_true(sqrt(last) < 0.001);
}

static void jitter_of_one_and_a_half_samples(void **state) {
    (void)state;
    const int turns = getenv("SLOTJIG_TEST_SMALL") != NULL ? 2 : 4;
    for (int i = 0; i < turns; i++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        double slant = 0, left = 0;
        scene.jitter = 1.5;
        scene.noise_db = 35;
        scene.slant = i % 2 ? 0.04 : 0;
        enum { FIELDS = 60, SETTLED = 20 };
        long wrong = 0;
        for (int f = 0; f < FIELDS; f++) {
            struct reading reading = read_turn(picture, &scene, (uint64_t)(i * FIELDS + f + 1));
            if (reading.state != FIELD_READ) {
                fail_msg("seed %d: state %d", i * FIELDS + f + 1, (int)reading.state);
            }
            wrong += f >= SETTLED ? wrong_cells(&scene, &reading, false) : 0;
            double away = reading.raster.left - scene.left;
            slant += f >= SETTLED ? reading.raster.slant / (FIELDS - SETTLED) : 0;
            left += f >= SETTLED ? away * away / (FIELDS - SETTLED) : 0;
        }
        double share = (double)wrong / ((FIELDS - SETTLED) * 168 * 40);
        print_message("jitter 1.5, slant %.2f: found %.4f, left edge %.2f rms, %.6f of the cells wrong\n",
                      scene.slant, slant, sqrt(left), share);
        /* 1.5 over the square root of the band's three lines is 0.87, of the slate's 24 lines 0.31 [A]. */
        assert_true(sqrt(left) < 0.6);
        assert_true(fabs(slant - scene.slant) < 0.02);
        assert_true(share < 0.002);
        picture_free(picture);
    }
}

/* Another grabber, or one that locked anew: what was known is given up after a few fields, not after one. */
static void a_slant_that_changes(void **state) {
    (void)state;
    struct scene scene = scene_usual(STANDARD_NTSC);
    struct picture *picture = new_picture(scene.standard);
    struct reading reading;
    uint64_t seed = 1;
    scene.noise_db = 34;
    scene.slant = 0.02;
    for (; seed <= 40; seed++) {
        reading = read_turn(picture, &scene, seed);
    }
    assert_true(fabs(reading.raster.slant - 0.02) < 0.001);
    scene.slant = -0.03;
    for (int i = 0; i < 16; i++) { /* it looks at one in eight */
        reading = read_turn(picture, &scene, seed++);
        if (fabs(reading.raster.slant + 0.03) < 0.003) {
            break;
        }
        assert_true(fabs(reading.raster.slant - 0.02) < 0.001);
    }
    assert_true(fabs(reading.raster.slant + 0.03) < 0.003);
    for (int i = 0; i < 90; i++) { /* one torn field in nine */
        scene.slant = i % 9 == 0 ? 0.05 : -0.03;
        reading = read_turn(picture, &scene, seed++);
        assert_true(fabs(reading.raster.slant + 0.03) < 0.003);
    }
    picture_free(picture);
}

/* The slant takes the last lines out of the field. */
static void lines_that_lean_out_of_the_field(void **state) {
    (void)state;
    struct scene scene = scene_usual(STANDARD_NTSC);
    struct picture *picture = new_picture(scene.standard);
    scene.left = 3;
    scene.slant = 0.03;
    assert_int_equal(read_turn(picture, &scene, 1).state, FIELD_READ);
    picture_free(picture);
    picture = new_picture(scene.standard);
    scene.slant = -0.03;
    for (uint64_t seed = 2; seed < 6; seed++) {
        assert_int_equal(read_turn(picture, &scene, seed).state, FIELD_NO_SLATE);
    }
    picture_free(picture);
}

/* Where lines jitter by more than the playfield's lateness could be told from, nothing is said of it; where
 * they do not, it is, also beside a slant. */
static void edges_in_doubt_are_not_measured(void **state) {
    (void)state;
    for (int shaky = 0; shaky < 2; shaky++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        scene.jitter = shaky ? 4 : 0.1;
        scene.slant = 0.02;
        scene.noise_db = 30;
        scene.late = 1;
        for (uint64_t seed = 1; seed <= 12; seed++) {
            struct reading reading = read_turn(picture, &scene, seed);
            assert_int_equal(reading.state, FIELD_READ);
            if (shaky ? reading.edges != 0
                      : seed > 3 && (reading.edges == 0 || !(fabs(reading.offset - 1) < 0.3))) {
                fail_msg("jitter %.1f field %d: %d edges, offset %.2f", scene.jitter, (int)seed,
                         reading.edges, reading.offset);
            }
        }
        picture_free(picture);
    }
}

/* A white that is cut off moves rising edges one way and falling ones the other. */
static void a_clipped_white_makes_no_slant(void **state) {
    (void)state;
    double squares = 0;
    enum { FIELDS = 40 };
    for (uint64_t seed = 1; seed <= FIELDS; seed++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        scene.slant = 0.02;
        scene.white = 420;
        scene.bandwidth_mhz = 2;
        scene.noise_db = 34;
        struct reading reading = read_turn(picture, &scene, seed);
        assert_int_equal(reading.state, FIELD_READ);
        squares += (reading.raster.slant - 0.02) * (reading.raster.slant - 0.02) / FIELDS;
        picture_free(picture);
    }
    print_message("slant beside a clipped white: rms error %.4f in the first field\n", sqrt(squares));
    assert_true(sqrt(squares) < 0.0025);
}

/* Two stuck bits move the edges beside them, the same way in every row; a chip whose writes come late moves
 * all of them. */
static void stuck_bits_and_late_writes(void **state) {
    (void)state;
    double worst = 0;
    for (int a = 0; a < CELLS / 2; a++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        scene.noise_db = 30;
        scene.stuck = 1U << a | 1U << (a * 7 + 3) % 20;
        scene.slate_shift = a % 5 - 1;
        scene.slant = a % 2 ? 0.03 : 0;
        scene.blend = (enum blend)(a % BLEND_COUNT);
        double slant = 0;
        for (int i = 0; i < 10; i++) {
            struct reading reading = read_turn(picture, &scene, (uint64_t)(a * 10 + i + 1));
            if (reading.state != FIELD_READ) {
                fail_msg("stuck %05x field %d: state %d", (unsigned)scene.stuck, i, (int)reading.state);
            }
            slant = reading.raster.slant;
        }
        worst = fmax(worst, fabs(slant - scene.slant));
        picture_free(picture);
    }
    print_message("two stuck bits, late writes, blends: worst error after 10 fields %.4f\n", worst);
    assert_true(worst < 0.006);
}

/* A stale field beside fresh ones has the same jitter every time: seen often, it makes no slant. */
static void a_stale_field_makes_no_slant(void **state) {
    (void)state;
    double worst = 0;
    for (uint64_t run = 1; run <= 12; run++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        scene.jitter = 0.8;
        for (uint64_t n = 0; n < 60; n++) {
            struct reading reading =
                read_parity(picture, &scene, n % 2 ? 1000 * run : 1000 * run + 1 + n, n % 2);
            assert_int_equal(reading.state, FIELD_READ);
            if (reading.edges > 0) {
                worst = fmax(worst, fabs(reading.raster.slant));
            }
        }
        picture_free(picture);
    }
    printf("worst slant that a stale field makes: %.4f samples a line\n", worst);
    assert_true(worst < 0.018);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_slant_reads_with_full_margin),
        cmocka_unit_test(noise_makes_no_slant),
        cmocka_unit_test(jitter_of_one_and_a_half_samples),
        cmocka_unit_test(a_slant_that_changes),
        cmocka_unit_test(a_stale_field_makes_no_slant),
        cmocka_unit_test(lines_that_lean_out_of_the_field),
        cmocka_unit_test(edges_in_doubt_are_not_measured),
        cmocka_unit_test(a_clipped_white_makes_no_slant),
        cmocka_unit_test(stuck_bits_and_late_writes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
