/* Profiles of the four kinds of lines: levels, and where their edges lie. What is drawn says what is right.
 */
#include "draw.h"
#include "picture/picture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>

#include <cmocka.h>

enum { FIELDS = 12 }; /* by which a slant is known */

/* Left half, all, right half, nothing: line 1 is the first of the four. */
static void draw_kinds(struct scene *scene) {
    const uint64_t all = (UINT64_C(1) << CELLS) - 1, left = all >> CELLS / 2;
    const uint64_t kinds[PROFILE_PERIOD] = {0, left, all, all ^ left};
    for (int line = 0; line < PICTURE_LINES_MAX; line++) {
        scene->cells[line] = kinds[line % PROFILE_PERIOD];
    }
}

/* The last of some fields of the scene. The caller frees *picture, whose the detail is. */
static void read_scene(struct scene *scene, int fields, struct picture **picture, struct reading *reading) {
    const struct picture_options options = {.standard = scene->standard, .profiles = true};
    *picture = picture_new(&options);
    for (int i = 0; i < fields; i++) {
        uint8_t *memory;
        scene->slate.counter = (uint8_t)((scene->slate.counter + 1) % 64);
        scene->seed += 1;
        const struct field field = draw_field(scene, &memory);
        picture_read(*picture, &field, reading);
        free(memory);
        assert_int_equal(reading->state, FIELD_READ);
        assert_non_null(reading->detail);
    }
}

/* The only crossing of one half away from the picture's ends, where late cells have edges too; in clocks from
 * its left; -1: none, -2: several. */
static double crossing(const float *profile) {
    double found = -1;
    for (int i = PROFILE_POINTS / 8; i < PROFILE_POINTS * 7 / 8; i++) {
        const double before = (double)profile[i - 1] - 0.5, here = (double)profile[i] - 0.5;
        if (before * here < 0) {
            if (found > 0) {
                return -2;
            }
            found = (i - 0.5 + before / (before - here)) / PROFILE_FINE;
        }
    }
    return found;
}

static void expect_crossing(const struct scene *scene, const struct reading *reading, int kind, double clock,
                            double within) {
    const double found = crossing(reading->detail->profile[kind]);
    if (fabs(found - clock) > within) {
        fail_msg(
            "width %d step %d left %.2f slant %.3f bandwidth %.1f noise %.0f: kind %d crosses at %.3f, drawn "
            "at %.3f",
            scene->width, scene->step, scene->left, scene->slant, scene->bandwidth_mhz, scene->noise_db, kind,
            found, clock);
    }
}

static double mean(const float *profile, int from, int to) {
    double sum = 0;
    for (int i = from * PROFILE_FINE; i < to * PROFILE_FINE; i++) {
        sum += (double)profile[i];
    }
    return sum / ((to - from) * PROFILE_FINE);
}

static void expect_levels(const struct reading *reading, double within) {
    const struct detail *detail = reading->detail;
    assert_true(fabs(mean(detail->profile[0], 4, 156)) < within);
    assert_true(fabs(mean(detail->profile[2], 4, 156) - 1) < within);
    assert_true(fabs(mean(detail->profile[1], 4, 76) - 1) < within);
    assert_true(fabs(mean(detail->profile[1], 84, 156)) < within);
    assert_true(fabs(mean(detail->profile[3], 4, 76)) < within);
    assert_true(fabs(mean(detail->profile[3], 84, 156) - 1) < within);
}

static void check_scene(struct scene *scene, int fields, double within) {
    struct picture *picture;
    struct reading reading;
    draw_kinds(scene);
    read_scene(scene, fields, &picture, &reading);
    const double edge = PICTURE_CLOCKS / 2 + scene->late;
    assert_true(reading.detail->placed && !reading.unsettled);
    expect_levels(&reading, 0.02);
    expect_crossing(scene, &reading, 1, edge, within);
    expect_crossing(scene, &reading, 3, edge, within);
    picture_free(picture);
}

/* Half an eighth of a clock: a quarter of what the plan is to find [A]. */
static void edges_lie_where_they_were_drawn(void **state) {
    (void)state;
    static const int widths[] = {720, 704, 640};
    for (int i = 0; i < 48; i++) {
        struct scene scene = scene_usual(i % 2 == 0 ? STANDARD_NTSC : STANDARD_PAL);
        const double zoom = widths[i % 3] / 720.0;
        scene.width = widths[i % 3];
        scene.step = 1 + i % 4;
        scene.left = scene.left * zoom + i * 0.13;
        scene.clock_width *= zoom;
        scene.late = i / 3 % 4;
        scene.bandwidth_mhz = i % 5 == 0 ? 0 : 1.5 + 0.5 * (i % 7);
        check_scene(&scene, FIELDS, 0.0625);
    }
}

static void noise_and_slant_are_borne(void **state) {
    (void)state;
    for (int i = 0; i < 8; i++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        scene.noise_db = 30;
        scene.slant = (i - 4) * 0.012;
        scene.bandwidth_mhz = 4.2;
        scene.left = 76;
        check_scene(&scene, FIELDS, 0.1);
    }
}

/* A chip's writes may come up to twelve clocks late, each second one differently: 18 clocks from bit to bit
 * are 2 modulo 4, two phases in turn [A]. */
static void late_slates_are_read_and_their_slant_followed(void **state) {
    (void)state;
    static const struct {
        int shift, odd;
    } cases[] = {{5, 0}, {9, 0}, {12, 0}, {0, 12}, {12, -12}, {3, 6}, {8, -6}, {0, 5}, {7, 2}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct scene scene = scene_usual(STANDARD_NTSC);
        scene.noise_db = 30;
        scene.slant = i % 2 == 0 ? 0.02 : -0.02;
        scene.bandwidth_mhz = 4.2;
        scene.left = 76;
        scene.slate_shift = cases[i].shift;
        scene.slate_odd = cases[i].odd;
        check_scene(&scene, FIELDS, 0.1);
    }
}

/* 41 groups of four on 168 lines, 50 on 204 [A: (168 - 1) / 4, (204 - 1) / 4]; fewer where lines are cut off.
 */
static void whole_groups_are_counted(void **state) {
    (void)state;
    static const struct {
        enum standard standard;
        int less, groups;
    } cases[] = {{STANDARD_NTSC, 0, 41},
                 {STANDARD_PAL, 0, 50},
                 {STANDARD_NTSC, 1, 41},
                 {STANDARD_NTSC, 30, 34},
                 {STANDARD_NTSC, 100, 16}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct scene scene = scene_usual(cases[i].standard);
        struct picture *picture;
        struct reading reading;
        scene.height = scene.top + standard_table[cases[i].standard].picture_lines - cases[i].less;
        draw_kinds(&scene);
        read_scene(&scene, 1, &picture, &reading);
        for (int kind = 0; kind < PROFILE_PERIOD; kind++) {
            assert_int_equal(reading.detail->lines[kind], cases[i].groups);
        }
        expect_levels(&reading, 0.02);
        picture_free(picture);
    }
}

/* Each of a frame's two fields has its own. */
static void two_details_live_at_once(void **state) {
    (void)state;
    struct scene first = scene_usual(STANDARD_NTSC), second = first;
    const struct picture_options options = {.standard = STANDARD_NTSC, .profiles = true};
    struct picture *picture = picture_new(&options);
    struct reading readings[2];
    draw_kinds(&first);
    struct scene *scenes[] = {&first, &second};
    for (int i = 0; i < 2; i++) {
        uint8_t *memory;
        const struct field field = draw_field(scenes[i], &memory);
        picture_read(picture, &field, &readings[i]);
        free(memory);
    }
    expect_levels(&readings[0], 0.02);
    assert_true(fabs(mean(readings[1].detail->profile[2], 4, 156)) < 0.02);
    picture_free(picture);
}

/* Each part is filled where it was asked for, and only there. */
static void what_was_asked_for_is_filled(void **state) {
    (void)state;
    struct scene scene = scene_usual(STANDARD_NTSC);
    uint8_t *memory;
    const struct field field = draw_field(&scene, &memory);
    for (int asked = 0; asked < 4; asked++) {
        const struct picture_options options = {
            .standard = STANDARD_NTSC, .profiles = (asked & 1) != 0, .whole = (asked & 2) != 0};
        struct picture *picture = picture_new(&options);
        struct reading reading;
        picture_read(picture, &field, &reading);
        assert_int_equal(reading.state, FIELD_READ);
        assert_int_equal(reading.detail != NULL, asked != 0);
        if (asked != 0) {
            assert_int_equal(reading.detail->lines[0] > 0, options.profiles);
            assert_int_equal(reading.detail->whole.count > 0, options.whole);
        }
        picture_free(picture);
    }
    free(memory);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(edges_lie_where_they_were_drawn),
        cmocka_unit_test(noise_and_slant_are_borne),
        cmocka_unit_test(late_slates_are_read_and_their_slant_followed),
        cmocka_unit_test(whole_groups_are_counted),
        cmocka_unit_test(two_details_live_at_once),
        cmocka_unit_test(what_was_asked_for_is_filled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
