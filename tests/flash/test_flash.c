/*
 * How whole plans flash: against arithmetic [A] on plans made up here, and against the same counted the long
 * way from the handbook's cells (expect/) and the slate's layout.
 */
#include "expect/expect.h"
#include "flash/flash.h"
#include "flash/naive.h"
#include "flash/shade.h"
#include "plan/every.h"
#include "slate/slate.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void near(double value, double wanted, double tolerance) {
    if (fabs(value - wanted) > tolerance) {
        fail_msg("%.6f, wanted %.6f", value, wanted);
    }
}

static struct flashes flashes_at(const struct plan *plan, int hold) {
    struct flashes flashes;
    struct problem problem = {0};
    if (!flashes_of(plan, hold, 0, &flash_screen_usual, &flashes, &problem)) {
        fail_msg("%s", problem.text);
    }
    return flashes;
}

/* Two steps: the last `lines` lines of the picture in these two colours, black above. */
static struct plan *two_colours(enum standard standard, int lines, uint8_t first, uint8_t second) {
    struct plan *plan = plan_new("two", standard);
    struct problem problem = {0};
    const int all = standard_plan_lines(standard);
    assert_non_null(plan);
    for (int i = 0; i < 2; i++) {
        const struct band low = {.lines = (uint16_t)lines,
                                 .count = 1,
                                 .writes = {{REG_COLUBK, i == 0 ? first : second, WRITE_BEFORE}}};
        const struct band bands[2] = {{.lines = (uint16_t)(all - lines)}, low};
        const bool whole = lines == all;
        if (!plan_add_step(plan, i == 0 ? "first" : "second", whole ? &bands[1] : bands, whole ? 1 : 2,
                           &problem)) {
            fail_msg("%s", problem.text);
        }
    }
    return plan;
}

static void two_at(enum standard standard, int hold, double flashes, bool over) {
    struct plan *plan = two_colours(standard, standard_plan_lines(standard), 0x00, 0x0E);
    const struct flashes got = flashes_at(plan, hold);
    if (fabs(got.general.per_second - flashes) > 1e-9 || fabs(got.luminance.per_second - flashes) > 1e-9 ||
        got.general.over != over || got.luminance.over != over || got.over != over) {
        fail_msg("%s, black and white for %d fields each: %.1f and %.1f flashes, wanted %.1f",
                 standard_table[standard].name, hold, got.general.per_second, got.luminance.per_second,
                 flashes);
    }
    assert_int_equal(got.why[0] != '\0', over);
    near(got.red.per_second, 0, 1e-9);
    plan_free(plan);
}

/* [A] NTSC: 60 fields lie within a second of 59.92; PAL: 50 within one of 49.86. A change every h fields:
 * floor((fields - 1) / h) + 1 of them, half as many flashes. */
static void black_and_white_flash_as_often_as_they_change(void **unused) {
    (void)unused;
    two_at(STANDARD_NTSC, 1, 30, true);
    two_at(STANDARD_NTSC, 4, 7.5, true);
    two_at(STANDARD_NTSC, 8, 4, true);
    two_at(STANDARD_NTSC, 9, 3.5, true);
    two_at(STANDARD_NTSC, 10, 3, false);
    two_at(STANDARD_NTSC, 20, 1.5, false);
    two_at(STANDARD_PAL, 8, 3.5, true);
    two_at(STANDARD_PAL, 9, 3, false);
    two_at(STANDARD_SECAM, 8, 3.5, true);
}

/* [A] NTSC, 720 samples of BT.601 are 47.73 cells, the screen has 240 lines. WCAG's 10 degrees are 341/1024
 * of either: 15.9 cells, 79.9 lines, a quarter of it 317.5: 19 lines of 16 cells are 304, 20 are 320. A
 * quarter of the screen is 2864: 72 lines of 40 cells are 2880; 64 are 2560, and the slate's 21 bits that may
 * change with the step, of 4.5 cells and 3 lines each, at most 284 more. */
static void areas_count_from_beyond_a_quarter(void **unused) {
    (void)unused;
    static const struct {
        int lines;
        bool general, luminance;
    } cases[] = {{19, false, false}, {20, true, false}, {64, true, false}, {72, true, true}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct plan *plan = two_colours(STANDARD_NTSC, cases[i].lines, 0x00, 0x0E);
        const struct flashes flashes = flashes_at(plan, 4);
        if (flashes.general.over != cases[i].general || flashes.luminance.over != cases[i].luminance) {
            fail_msg("%d lines: %d %d", cases[i].lines, flashes.general.over, flashes.luminance.over);
        }
        plan_free(plan);
    }
}

/* [A] The same screen seen from farther away: at 10 degrees it is one place. */
static void the_screen_assumed_counts(void **unused) {
    (void)unused;
    const struct flash_screen far = {.peak = 200, .degrees = 10}, dim = {.peak = 19, .degrees = 30};
    struct plan *plan = two_colours(STANDARD_NTSC, 60, 0x00, 0x0E);
    struct flashes flashes;
    assert_true(flashes_of(plan, 4, 0, &far, &flashes, NULL));
    assert_false(flashes.general.over);
    near(flashes.screen.degrees, 10, 1e-9);
    plan_free(plan);
    /* Not black and white alone, so that the screen's white matters: 19 cd/m2 never change by 20. */
    plan = two_colours(STANDARD_NTSC, standard_plan_lines(STANDARD_NTSC), 0x00, 0x0C);
    assert_true(flashes_of(plan, 4, 0, &dim, &flashes, NULL));
    assert_true(flashes.general.over);
    assert_false(flashes.luminance.over);
    assert_true(flashes_at(plan, 4).luminance.over);
    plan_free(plan);
}

/* Of greys: level l of 7 is ((l / 7 + 0.055) / 1.055)^2.4 of white (WCAG): 0.018, 0.066, 0.154, 0.287, 0.470,
 * 0.708, 1 [A]. */
static void small_steps_of_grey_are_none(void **unused) {
    (void)unused;
    const int all = standard_plan_lines(STANDARD_NTSC);
    static const struct {
        uint8_t first, second;
        bool over;
    } cases[] = {{0x02, 0x04, false}, {0x04, 0x06, false}, {0x02, 0x06, true}, {0x06, 0x08, true}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct plan *plan = two_colours(STANDARD_NTSC, all, cases[i].first, cases[i].second);
        const struct flashes flashes = flashes_at(plan, 4);
        if (flashes.general.over != cases[i].over || flashes.luminance.over != cases[i].over) {
            fail_msg("$%02X and $%02X: %.1f flashes", cases[i].first, cases[i].second,
                     flashes.general.per_second);
        }
        plan_free(plan);
    }
}

/* A dark red changes the luminance by less than a tenth, and is over the limit all the same. */
static void red_is_over_by_itself(void **unused) {
    (void)unused;
    struct shade shades[SHADES];
    int code = -1;
    shades_of(STANDARD_NTSC, shades);
    for (int i = 0; i < SHADES; i++) {
        if (shades[i].saturated && shades[i].red > 20 && shades[i].luminance < 0.09F) {
            code = 2 * i;
        }
    }
    assert_true(code >= 0);
    struct plan *plan = two_colours(STANDARD_NTSC, standard_plan_lines(STANDARD_NTSC), 0x00, (uint8_t)code);
    const struct flashes fast = flashes_at(plan, 4), calm = flashes_at(plan, 10);
    assert_true(fast.red.over && fast.bt_red.over && fast.over);
    near(fast.red.per_second, 7.5, 1e-9);
    assert_false(fast.general.over || fast.luminance.over);
    assert_non_null(strstr(fast.why, "red"));
    assert_false(calm.over);
    plan_free(plan);
}

static void a_picture_that_stays_does_not_flash(void **unused) {
    (void)unused;
    struct plan *plan = plan_new("one", STANDARD_NTSC);
    assert_non_null(plan);
    assert_true(plan_add_hold(plan, "lit", 0, 0xF0, 0xFF, 0xFF, NULL));
    const struct flashes flashes = flashes_at(plan, 4);
    assert_false(flashes.over);                  /* the slate's counter alone */
    near(flashes.general.per_second, 0.5, 1e-9); /* from black, once */
    assert_int_equal(flashes_calm_hold(plan, &flash_screen_usual, NULL), 1);
    plan_free(plan);
}

static void dark_fields_come_first(void **unused) {
    (void)unused;
    struct plan *plan = two_colours(STANDARD_NTSC, 100, 0x00, 0x0E);
    struct flashes flashes;
    assert_true(flashes_of(plan, 30, 180, &flash_screen_usual, &flashes, NULL));
    near(flashes.seconds, (180 + 60) / flash_rate(STANDARD_NTSC), 1e-9);
    near(flashes.general.per_second, 1, 1e-9);
    plan_free(plan);
}

/* ---- built-in plans ---- */

static struct plan *built_in(const char *name, enum standard standard) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    const bool good = strcmp(name, "every") == 0 ? every_plan(65536, 1, standard, &plan, &problem)
                                                 : plan_open(name, standard, &plan, &problem);
    if (!good) {
        fail_msg("%s", problem.text);
    }
    return plan;
}

static void check_calm(const struct plan *plan) {
    struct problem problem = {0};
    const int calm = flashes_calm_hold(plan, &flash_screen_usual, &problem);
    const char *standard = standard_table[plan->standard].name;
    if (calm == 0) {
        fail_msg("%s, %s: %s", plan->name, standard, problem.text);
    }
    for (int hold = calm; hold < calm + 6; hold++) {
        if (flashes_at(plan, hold).over) {
            fail_msg("%s, %s: calm from %d fields on, but not at %d", plan->name, standard, calm, hold);
        }
    }
    if (calm > 1 && !flashes_at(plan, calm - 1).over) {
        fail_msg("%s, %s: calm at %d fields too", plan->name, standard, calm - 1);
    }
}

static void every_plan_has_a_calm_variant(void **unused) {
    (void)unused;
    const bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    for (int standard = 0; standard < (small ? 1 : STANDARD_COUNT); standard++) {
        for (const struct plan_builtin *built = plan_builtins; built->name != NULL; built++) {
            struct plan *plan = built_in(built->name, (enum standard)standard);
            check_calm(plan);
            plan_free(plan);
        }
    }
}

/* Each line of `every` is as good as random: a cell changes with every other field, so about 15 times a
 * second there and back, and the worst cell oftener; half of the picture changes at once [A]. */
static void a_random_picture_a_field_is_far_over(void **unused) {
    (void)unused;
    struct plan *plan = built_in("every", STANDARD_NTSC);
    const struct flashes flashes = flashes_at(plan, 1);
    assert_true(flashes.general.over && flashes.luminance.over);
    assert_true(flashes.general.per_second > 13);
    /* 40 * 168 cells of 47.73 * 240 are 59 %; half of them, and the slate */
    assert_true(flashes.luminance.area > 0.27 && flashes.luminance.area < 0.36);
    plan_free(plan);
}

/* ---- the long way ---- */

static uint64_t state;
static unsigned draw(unsigned below) {
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (unsigned)(state >> 33) % below;
}

static struct plan *draw_plan(void) {
    struct plan *plan = plan_new("drawn", STANDARD_NTSC);
    const unsigned steps = 2 + draw(4);
    assert_non_null(plan);
    for (unsigned step = 0; step < steps; step++) {
        const unsigned upper = 8 + draw(150), fill = draw(3);
        struct band bands[2] = {{.lines = (uint16_t)upper, .count = 4}, {.count = 4}};
        char name[STEP_NAME_MAX];
        bands[1].lines = (uint16_t)(standard_plan_lines(STANDARD_NTSC) - (int)upper);
        for (int i = 0; i < 2; i++) {
            for (int reg = REG_CTRLPF; reg <= REG_PF2; reg++) {
                const unsigned value = reg == REG_CTRLPF ? draw(2) : fill == 0 ? 0 : draw(256);
                bands[i].writes[reg] = (struct write){(enum reg)reg, (uint8_t)value, WRITE_BEFORE};
            }
        }
        snprintf(name, sizeof name, "%u", step);
        assert_true(plan_add_step(plan, name, bands, 2, NULL));
    }
    return plan;
}

typedef unsigned char picture[PICTURE_LINES_MAX][CELLS];

/* A cell shows what its middle shows: bits of 18 clocks from clock 7 on, the eighth of 15 (slotjig/slate.h).
 */
static void draw_slate(uint32_t value, int counter, picture cells) {
    const struct slate slate = {.hash = 0x1234, .value = value, .counter = (uint8_t)(counter % 64)};
    uint8_t rows[SLATE_ROWS];
    slate_encode(&slate, rows);
    for (int line = 0; line < SLATE_LINES; line++) {
        for (int cell = 0; cell < CELLS; cell++) {
            const int clock = 4 * cell + 2 - 7, bit = clock < 0 ? 8 : clock / 18;
            const bool set =
                bit < 8 && clock < 7 * 18 + 15 && (line < 3 || (rows[(line - 3) / 3] >> (7 - bit) & 1) != 0);
            cells[line][cell] = line < 3 || set;
        }
    }
}

static void draw_cells(const struct plan *plan, size_t step, picture cells) {
    struct expectation expectation;
    expect_step(&plan->steps[step], standard_plan_lines(plan->standard), &expectation);
    for (int line = 0; line < expectation.lines; line++) {
        for (int cell = 0; cell < CELLS; cell++) {
            cells[SLATE_LINES + line][cell] = (unsigned char)(expectation.lit[line] >> cell & 1);
        }
    }
}

static picture changes[NAIVE_FIELDS_MAX];

static void compare(int seed) {
    static picture before, now;
    state = (uint64_t)seed * 0x9E3779B97F4A7C15U + 1;
    struct plan *plan = draw_plan();
    const int hold = 1 + (int)draw(12), window = 60;
    const int fields = (int)plan->step_count * hold + 2 * window;
    memset(before, 0, sizeof before);
    for (int field = 0; field < fields; field++) {
        const size_t step = (size_t)(field / hold) % plan->step_count;
        draw_slate((uint32_t)step, field, now);
        draw_cells(plan, step, now);
        for (int line = 0; line < 192; line++) {
            for (int cell = 0; cell < CELLS; cell++) {
                changes[field][line][cell] = now[line][cell] != before[line][cell];
            }
        }
        memcpy(before, now, sizeof before);
    }
    /* [A] 720 samples of 13.5 MHz at 3.579545 MHz, four clocks a cell; 240 lines; 341 of 1024 of either */
    const double cells = 720 * 3.579545 / 13.5 / 4, part = 341.0 / 1024;
    const struct naive naive = {192, fields, window, changes};
    const struct naive_place degrees = {16, 80, 4, 8, 0.25 * cells * part * 240 * part};
    const struct naive_place screen = {40, 192, 4, 8, 0.25 * cells * 240};
    const int by_degrees = naive_by_cell(&naive, &degrees), at_degrees = naive_at_once(&naive, &degrees);
    const int by_screen = naive_by_cell(&naive, &screen), at_screen = naive_at_once(&naive, &screen);
    const struct flashes flashes = flashes_at(plan, hold);
    const double general = (by_degrees > at_degrees ? by_degrees : at_degrees) / 2.0;
    const double luminance = (by_screen > at_screen ? by_screen : at_screen) / 2.0;
    if (fabs(flashes.general.per_second - general) > 1e-9 ||
        fabs(flashes.luminance.per_second - luminance) > 1e-9) {
        fail_msg("seed %d, %d fields a step: %.1f and %.1f flashes, the long way %.1f and %.1f", seed, hold,
                 flashes.general.per_second, flashes.luminance.per_second, general, luminance);
    }
    plan_free(plan);
}

static void drawn_plans_flash_as_counted_the_long_way(void **unused) {
    (void)unused;
    const int seeds = getenv("SLOTJIG_TEST_SMALL") != NULL ? 2 : 10;
    for (int seed = 1; seed <= seeds; seed++) {
        compare(seed);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(black_and_white_flash_as_often_as_they_change),
        cmocka_unit_test(areas_count_from_beyond_a_quarter),
        cmocka_unit_test(the_screen_assumed_counts),
        cmocka_unit_test(small_steps_of_grey_are_none),
        cmocka_unit_test(red_is_over_by_itself),
        cmocka_unit_test(a_picture_that_stays_does_not_flash),
        cmocka_unit_test(dark_fields_come_first),
        cmocka_unit_test(every_plan_has_a_calm_variant),
        cmocka_unit_test(a_random_picture_a_field_is_far_over),
        cmocka_unit_test(drawn_plans_flash_as_counted_the_long_way),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
