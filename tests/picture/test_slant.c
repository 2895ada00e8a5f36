/* Lines that each lie a little to the right or left of the one above, and lines that jitter. */
#include "draw.h"
#include "picture/parts.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>

#include <cmocka.h>

static struct picture *new_picture(enum standard standard) {
    struct picture_options options = {standard, PICTURE_UNCLEAR};
    return picture_new(&options);
}

/* Another slate and other cells in every field. */
static struct reading read_turn(struct picture *picture, struct scene *scene, uint64_t seed) {
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
    picture_read(picture, &field, &reading);
    free(memory);
    return reading;
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
    enum { RUNS = 30, FIELDS = 20 };
    for (int run = 0; run < RUNS; run++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        scene.noise_db = 30;
        scene.slant = run % 2 ? 0.02 : 0;
        for (int i = 0; i < FIELDS; i++) {
            struct reading reading = read_turn(picture, &scene, (uint64_t)(run * FIELDS + i + 1));
            double away = reading.raster.slant - scene.slant;
            assert_int_equal(reading.state, FIELD_READ);
            first += i == 0 ? away * away / RUNS : 0;
            last += i == FIELDS - 1 ? away * away / RUNS : 0;
        }
        picture_free(picture);
    }
    print_message("slant at 30 dB, seeds 1..%d: rms error %.4f in the first field, %.4f in the %dth\n",
                  RUNS * FIELDS, sqrt(first), sqrt(last), FIELDS);
    assert_true(sqrt(first) < 0.006);
    assert_true(sqrt(last) < 0.001);
}

static void jitter_of_one_and_a_half_samples(void **state) {
    (void)state;
    for (int i = 0; i < 4; i++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct picture *picture = new_picture(scene.standard);
        double slant = 0;
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
            slant += f >= SETTLED ? reading.raster.slant / (FIELDS - SETTLED) : 0;
        }
        double share = (double)wrong / ((FIELDS - SETTLED) * 168 * 40);
        print_message("jitter 1.5, slant %.2f: found %.4f, %.6f of the cells wrong\n", scene.slant, slant,
                      share);
        assert_true(fabs(slant - scene.slant) < 0.02);
        assert_true(share < 0.002);
        picture_free(picture);
    }
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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_slant_reads_with_full_margin),
        cmocka_unit_test(noise_makes_no_slant),
        cmocka_unit_test(jitter_of_one_and_a_half_samples),
        cmocka_unit_test(stuck_bits_and_late_writes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
