/* Margins as defined, and how late the playfield is against the raster. */
#include "draw.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>

#include <cmocka.h>

static void read_scene(const struct scene *scene, int grey_line, int grey_cell, double grey,
                       struct reading *reading) {
    struct picture_options options = {.standard = scene->standard, .unclear_below = PICTURE_UNCLEAR};
    struct picture *picture = picture_new(&options);
    uint8_t *memory;
    struct field field = draw_field(scene, &memory);
    int first = (int)(scene->left + scene->clock_width * 4 * grey_cell);
    for (int x = first; grey_line >= 0 && x <= first + (int)(4 * scene->clock_width); x++) {
        memory[(scene->top + SLATE_LINES + grey_line) * field.stride + x * field.step] =
            (uint8_t)(scene->black + grey * (scene->white - scene->black) + 0.5);
    }
    picture_read(picture, &field, reading);
    picture_free(picture);
    free(memory);
    assert_int_equal(reading->state, FIELD_READ);
}

/* A cell at a share g of white lies |g - 1/2| from the threshold, over half the distance: 2 |g - 1/2|. */
static void the_margin_is_the_worst_cells(void **state) {
    (void)state;
    static const double greys[] = {0.0, 0.1, 0.3, 0.36, 0.4, 0.45, 0.55, 0.6, 0.64, 0.9};
    static const int widths[] = {720, 704, 640, 320, 1440};
    enum { GREYS = sizeof greys / sizeof *greys };
    for (int i = 0; i < GREYS * 15; i++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        struct reading reading;
        double zoom = widths[i / GREYS % 5] / 720.0, grey = greys[i % GREYS];
        scene.width = widths[i / GREYS % 5];
        scene.step = 1 + i / GREYS / 5;
        scene.left *= zoom;
        scene.clock_width *= zoom;
        int line = 7 + 16 * (i % GREYS), cell = i % GREYS * 4 + 1;
        read_scene(&scene, line, cell, grey, &reading);
        double margin = 2 * fabs(grey - 0.5);
        if (fabs(reading.margin - margin) > 0.02) {
            fail_msg("width %d step %d, grey %.2f: margin %.3f, expected %.3f", scene.width, scene.step, grey,
                     reading.margin, margin);
        }
        uint64_t unclear = margin < PICTURE_UNCLEAR ? UINT64_C(1) << cell : 0;
        assert_true(reading.unclear[line] == unclear);
        assert_true(reading.lit[line] == (grey > 0.5 ? UINT64_C(1) << cell : 0));
        if (grey > 0.05) {
            assert_int_equal(reading.margin_line, line);
            assert_int_equal(reading.margin_cell, cell);
        }
    }
}

static double wrapped(double clocks) {
    return clocks - 4 * floor(clocks / 4 + 0.5);
}

static void a_late_playfield_shows_by_how_much(void **state) {
    (void)state;
    static const uint64_t patterns[] = {UINT64_C(0x5555555555), UINT64_C(0x0000100000),
                                        UINT64_C(0x0F0F0F0F0F), UINT64_C(0x8000000001)};
    double worst = 0;
    for (int i = 0; i < 4 * 4 * 10; i++) {
        struct scene scene = scene_usual(i / 16 % 2 ? STANDARD_PAL : STANDARD_NTSC);
        struct reading reading;
        uint64_t random = (uint64_t)i + 5;
        scene.seed = (uint64_t)i + 1;
        scene.noise_db = 30;
        scene.left = 70 + 4 * draw_uniform(&random);
        scene.late = i % 4;
        for (int line = 0; line < PICTURE_LINES_MAX; line++) {
            scene.cells[line] = patterns[i / 4 % 4];
        }
        read_scene(&scene, -1, 0, 0, &reading);
        double away = fabs(wrapped(reading.offset - scene.late));
        worst = away > worst ? away : worst;
        if (!(away < 0.1) || reading.edges < 12 || !(reading.offset_spread < 0.15)) {
            fail_msg("seed %llu left %.3f late %d pattern %d: offset %.3f, %d edges, spread %.3f",
                     (unsigned long long)scene.seed, scene.left, scene.late, i / 4 % 4, reading.offset,
                     reading.edges, reading.offset_spread);
        }
    }
    print_message("worst error of the offset: %.3f clocks\n", worst);
}

static void a_picture_of_one_colour_has_no_edges(void **state) {
    (void)state;
    for (int lit = 0; lit < 2; lit++) {
        struct scene scene = scene_usual(STANDARD_PAL);
        struct reading reading;
        scene.noise_db = 30;
        for (int line = 0; line < PICTURE_LINES_MAX; line++) {
            scene.cells[line] = lit ? UINT64_C(0xFFFFFFFFFF) : 0;
        }
        read_scene(&scene, -1, 0, 0, &reading);
        assert_int_equal(reading.edges, 0);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_margin_is_the_worst_cells),
        cmocka_unit_test(a_late_playfield_shows_by_how_much),
        cmocka_unit_test(a_picture_of_one_colour_has_no_edges),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
