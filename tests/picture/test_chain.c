/* What the slate tells of the capture chain, and the colours of the cells, against what was drawn. */
#include "draw.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>

#include <cmocka.h>

static void fill_random(struct scene *scene, uint64_t seed) {
    uint64_t random = seed + 77;
    for (int i = 0; i < PICTURE_LINES_MAX; i++) {
        scene->cells[i] = draw_random(&random) >> 24;
    }
}

static struct reading read_scene(const struct scene *scene, bool colour) {
    struct picture_options options = {.standard = scene->standard, .unclear_below = PICTURE_UNCLEAR};
    struct picture *picture = picture_new(&options);
    struct reading reading;
    uint8_t *memory, *chroma = NULL;
    struct field field = draw_field(scene, &memory);
    if (colour) {
        draw_colour(scene, &field, &chroma);
    }
    picture_read(picture, &field, &reading);
    picture_free(picture);
    free(memory);
    free(chroma);
    return reading;
}

/* Rounding to whole codes adds 1/12 to the power [A]. */
static double drawn_noise(const struct scene *scene) {
    double rms = (scene->white - scene->black) * pow(10, -scene->noise_db / 20);
    return sqrt(rms * rms + 1.0 / 12);
}

/* A tenth on the mean of ten fields, a fifth on any one: a line's 500 samples give 3 %, half of them 5 % [A].
 */
static void noise_is_measured_to_a_tenth(void **state) {
    (void)state;
    static const double levels[][2] = {{16, 235}, {60, 150}, {10, 250}};
    for (int db = 14; db <= 40; db += 2) {
        for (int kind = 0; kind < 3; kind++) {
            double mean = 0;
            for (uint64_t seed = 1; seed <= 10; seed++) {
                struct scene scene = scene_usual(seed % 2 ? STANDARD_NTSC : STANDARD_PAL);
                scene.seed = seed;
                scene.noise_db = db;
                scene.black = levels[kind][0];
                scene.white = levels[kind][1];
                scene.step = 1 + (int)seed % 3;
                scene.hum = kind == 1 ? 0.1 : 0;
                scene.ghost = kind == 1 ? 0.2 : 0;
                scene.ghost_us = 2;
                fill_random(&scene, seed);
                struct reading reading = read_scene(&scene, false);
                assert_int_equal(reading.state, FIELD_READ);
                double ratio = reading.noise / drawn_noise(&scene);
                mean += ratio / 10;
                if (!(fabs(ratio - 1) < 0.2)) {
                    fail_msg("%d dB, levels %d, seed %d: %.2f of what was drawn", db, kind, (int)seed, ratio);
                }
            }
            if (!(fabs(mean - 1) < 0.1)) {
                fail_msg("%d dB, levels %d: mean %.3f of what was drawn", db, kind, mean);
            }
        }
    }
}

static void a_mix_of_lines_is_measured(void **state) {
    (void)state;
    for (int i = 0; i <= 40; i++) {
        struct scene scene = scene_usual(i % 2 ? STANDARD_NTSC : STANDARD_PAL);
        scene.seed = (uint64_t)i + 1;
        scene.noise_db = i % 3 ? 30 : 20;
        scene.stuck = 1U << i % 20;
        fill_random(&scene, scene.seed);
        double mixing = scene.mix = 0.5 * (i / 4) / 10;
        if (i % 4 == 0) {
            scene.mix = 0;
            scene.blend = (enum blend)(i / 4 % BLEND_COUNT);
            mixing = scene.blend == BLEND_NONE ? 0 : 0.5;
        }
        struct reading reading = read_scene(&scene, false);
        assert_int_equal(reading.state, FIELD_READ);
        if (!(fabs(reading.mixing - mixing) < 0.05)) {
            fail_msg("mix %.2f blend %d: measured %.3f", scene.mix, (int)scene.blend, reading.mixing);
        }
    }
}

static void codes_at_the_end_of_their_range(void **state) {
    (void)state;
    static const struct {
        double black, white;
        bool clips_black, clips_white;
    } cases[] = {{16, 235, false, false}, {8, 246, false, false}, {-20, 235, true, false},
                 {16, 290, false, true},  {-30, 300, true, true}, {60, 150, false, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        for (int noise_db = 0; noise_db <= 40; noise_db += 10) {
            struct scene scene = scene_usual(STANDARD_NTSC);
            scene.black = cases[i].black;
            scene.white = cases[i].white;
            scene.noise_db = noise_db == 10 ? 24 : noise_db;
            fill_random(&scene, i + 1);
            struct reading reading = read_scene(&scene, false);
            assert_int_equal(reading.state, FIELD_READ);
            if (reading.clips_white != cases[i].clips_white || reading.clips_black != cases[i].clips_black) {
                fail_msg("%.0f..%.0f at %.0f dB: white %d black %d", scene.black, scene.white, scene.noise_db,
                         reading.clips_white, reading.clips_black);
            }
            if (scene.noise_db > 0 && scene.noise_db < 40 && cases[i].clips_white && !cases[i].clips_black &&
                !(fabs(reading.noise / drawn_noise(&scene) - 1) < 0.25)) {
                fail_msg("%.0f..%.0f at %.0f dB: noise %.2f", scene.black, scene.white, scene.noise_db,
                         reading.noise);
            }
        }
    }
}

/* Wide runs, so that what a narrow chroma does at edges and how late it comes does not count. Level: the lit
 * cells are drawn white, the others black. */
static void colours_are_those_drawn(void **state) {
    (void)state;
    double worst = 0;
    for (int i = 0; i < 60; i++) {
        struct scene scene = scene_usual(i % 2 ? STANDARD_NTSC : STANDARD_PAL);
        double angle = i * 24 * M_PI / 180, grey = i % 5 - 2;
        scene.seed = (uint64_t)i + 1;
        scene.noise_db = 30;
        scene.left += 0.17 * i;
        scene.lit_cb = -40 * cos(angle);
        scene.lit_cr = -40 * sin(angle);
        scene.grey_cb = grey;
        scene.grey_cr = -2 * grey;
        scene.colour_late = i % 3;
        scene.colour_mhz = i % 4 ? 1.0 : 1.3;
        scene.bandwidth_mhz = 3;
        scene.mix = i % 2 ? 0.5 : 0;
        for (int line = 0; line < PICTURE_LINES_MAX; line++) {
            static const uint64_t runs[] = {UINT64_C(0x7070707070), UINT64_C(0xFFFFF00000),
                                            UINT64_C(0x00001F0000)};
            scene.cells[line] = runs[i % 3];
        }
        struct reading reading = read_scene(&scene, true);
        assert_int_equal(reading.state, FIELD_READ);
        assert_true(reading.has_chroma);
        assert_true(reading.lit_colour.count >= 10 && reading.dark_colour.count >= 10);
        double away = hypot(reading.lit_colour.cb - scene.lit_cb, reading.lit_colour.cr - scene.lit_cr);
        double hue = fabs(colour_hue(&reading.lit_colour) - fmod(i * 24, 360));
        worst = fmax(worst, away);
        if (!(away < 1.5) || !(fmin(hue, 360 - hue) < 3) || !(fabs(reading.lit_colour.level - 1) < 0.02) ||
            !(fabs(reading.dark_colour.level) < 0.02) || !(colour_saturation(&reading.dark_colour) < 1.5) ||
            !(fabs(colour_saturation(&reading.lit_colour) - 40) < 1.5)) {
            fail_msg("colour %d: cb %.1f cr %.1f hue %.1f level %.3f; dark %.1f %.1f %.3f", i,
                     reading.lit_colour.cb, reading.lit_colour.cr, colour_hue(&reading.lit_colour),
                     reading.lit_colour.level, reading.dark_colour.cb, reading.dark_colour.cr,
                     reading.dark_colour.level);
        }
    }
    print_message("worst error of a colour: %.2f codes\n", worst);
}

/* A cell whose neighbours differ tells no colour; a field without colour says so. */
static void no_colour_is_guessed(void **state) {
    (void)state;
    struct scene scene = scene_usual(STANDARD_NTSC);
    for (int line = 0; line < PICTURE_LINES_MAX; line++) {
        scene.cells[line] = line % 2 ? UINT64_C(0x7777777777) : UINT64_C(0x8888888888);
    }
    struct reading reading = read_scene(&scene, true);
    assert_int_equal(reading.lit_colour.count, 0);
    assert_int_equal(reading.dark_colour.count, 0);
    fill_random(&scene, 1);
    memset(scene.cells, 0, sizeof scene.cells);
    reading = read_scene(&scene, false);
    assert_false(reading.has_chroma);
    assert_int_equal(reading.lit_colour.count, 0);
    assert_true(reading.dark_colour.count > 50);
    assert_true(colour_saturation(&reading.dark_colour) <= 0);
}

/* Of wide runs not all cells are measured; the count is that of all, so that a wider one never counts less.
 */
static void wider_runs_count_more(void **state) {
    (void)state;
    int before = 0;
    for (int width = 3; width <= CELLS; width++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        for (int line = 0; line < PICTURE_LINES_MAX; line++) {
            scene.cells[line] = (UINT64_C(1) << width) - 1;
        }
        struct reading reading = read_scene(&scene, true);
        if (reading.lit_colour.count < before) {
            fail_msg("%d cells wide: %d, one less: %d", width, reading.lit_colour.count, before);
        }
        before = reading.lit_colour.count;
    }
    assert_true(before > 100);
}

/* Of white with the echo in it. An echo that a cell in the midst of its like has whole, up to a cell and a
 * half late, is none. */
static void an_echo_is_measured(void **state) {
    (void)state;
    static const double echoes[][2] = {{0, 0}, {0.25, 1.5}, {0.2, 3}, {-0.2, 3}, {0.12, 15}, {-0.2, 8}};
    for (size_t i = 0; i < sizeof echoes / sizeof echoes[0]; i++) {
        struct scene scene = scene_usual(i % 2 ? STANDARD_NTSC : STANDARD_PAL);
        scene.black = 60;
        scene.white = 150;
        scene.ghost = echoes[i][0];
        scene.ghost_us = echoes[i][1];
        fill_random(&scene, i);
        struct reading reading = read_scene(&scene, false);
        assert_int_equal(reading.state, FIELD_READ);
        double wanted = echoes[i][1] < 2 ? 0 : scene.ghost / (1 + scene.ghost);
        if (fabs(reading.echo - wanted) > 0.05) {
            fail_msg("echo %g, %g us: %g, wanted %g", scene.ghost, scene.ghost_us, reading.echo, wanted);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(noise_is_measured_to_a_tenth), cmocka_unit_test(a_mix_of_lines_is_measured),
        cmocka_unit_test(an_echo_is_measured),          cmocka_unit_test(codes_at_the_end_of_their_range),
        cmocka_unit_test(wider_runs_count_more),        cmocka_unit_test(colours_are_those_drawn),
        cmocka_unit_test(no_colour_is_guessed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
