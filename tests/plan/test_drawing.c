/*
 * Pictures to steps: by expect_step() (the handbook's table) every line shows the picture's cells, all of
 * them sure; and what cannot be drawn is refused with exactly the rows that cannot.
 */
#include "expect/expect.h"
#include "plan/drawing.h"
#include "plan/sketch.h"
#include "plan/sketch_file.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

static void compare(const struct sketch *sketch, const struct plan *plan, uint64_t seed) {
    const int lines = standard_plan_lines(plan->standard), top = (lines - sketch->rows) / 2;
    struct expectation expect;
    assert_int_equal(plan->step_count, 1);
    expect_step(&plan->steps[0], lines, &expect);
    assert_int_equal(expect.lines, lines);
    for (int line = 0; line < lines; line++) {
        const bool inside = line >= top && line < top + sketch->rows;
        const uint64_t wanted = inside ? sketch->lit[line - top] : 0;
        if (expect.lit[line] != wanted || expect.sure[line] != CELLS_ALL) {
            fail_msg("seed %llu, line %d: cells %010llx, sure %010llx; the picture has %010llx",
                     (unsigned long long)seed, line, (unsigned long long)expect.lit[line],
                     (unsigned long long)expect.sure[line], (unsigned long long)wanted);
        }
    }
}

static void test_by_the_handbook(void **state) {
    (void)state;
    struct write_windows windows;
    const uint64_t count = getenv("SLOTJIG_TEST_SMALL") != NULL ? 30 : 300;
    windows_handbook(&windows);
    for (uint64_t seed = 1; seed <= count; seed++) {
        struct sketch sketch;
        struct plan *plan = NULL;
        struct problem problem = {0};
        const enum standard standard = (enum standard)(seed % STANDARD_COUNT);
        sketch_make(&sketch, seed, standard);
        assert_true(sketch_write(&sketch, sketch_path));
        if (!drawing_plan(sketch_path, standard, &windows, &plan, &problem)) {
            fail_msg("seed %llu: %s", (unsigned long long)seed, problem.text);
        }
        assert_string_equal(plan->name, "drawing");
        assert_false(plan->steps[0].vouched);
        compare(&sketch, plan, seed);
        plan_free(plan);
    }
}

/* ---- what cannot be drawn ---- */

static void assert_refused(const struct sketch *sketch, const struct write_windows *windows,
                           const char *const *parts, int count, uint64_t seed) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    assert_true(sketch_write(sketch, sketch_path));
    if (drawing_plan(sketch_path, STANDARD_NTSC, windows, &plan, &problem)) {
        fail_msg("seed %llu: taken", (unsigned long long)seed);
    }
    assert_null(plan);
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    for (int i = 0; i < count; i++) {
        if (strstr(problem.text, parts[i]) == NULL) {
            fail_msg("seed %llu: '%s' lacks '%s'", (unsigned long long)seed, problem.text, parts[i]);
        }
    }
}

/* A console on which a register has no window in mid-line: the rows that would need it, no others. */
static void test_rows_without_window(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        struct sketch sketch;
        struct write_windows windows;
        bool bad[PICTURE_LINES_MAX];
        char rows[700], where[760], what[80];
        const int reg = (int)(seed % 3);
        sketch_make_bad(&sketch, bad, reg, seed);
        windows_handbook(&windows);
        struct write_window *window = &windows.window[MOMENT_PF0 + reg][0][HALF_RIGHT];
        *window = (struct write_window){.exists = false, .first = 40, .last = 38};
        sketch_rows_text(bad, sketch.rows, rows);
        /* a long list may be cut short: then its beginning is right */
        rows[strlen(rows) > 330 ? 330 : strlen(rows)] = '\0';
        snprintf(where, sizeof where, "row%s %s", strpbrk(rows, ",-") == NULL ? "" : "s", rows);
        snprintf(what, sizeof what, "PF%d rewritten in mid-line; no cycle fits: the window is 40 to 38", reg);
        char file[21]; /* a long path is cut in the text */
        snprintf(file, sizeof file, "%.20s", sketch_path);
        const char *const parts[] = {file, where, what};
        assert_refused(&sketch, &windows, parts, 3, seed);
        /* Without those rows it can be drawn. */
        for (int i = 0; i < sketch.rows; i++) {
            const uint64_t left = sketch.lit[i] & (CELLS_ALL >> CELLS / 2);
            sketch.lit[i] = bad[i] ? left | left << CELLS / 2 : sketch.lit[i];
        }
        struct plan *plan = NULL;
        struct problem problem = {0};
        assert_true(sketch_write(&sketch, sketch_path));
        assert_true(drawing_plan(sketch_path, STANDARD_NTSC, &windows, &plan, &problem));
        compare(&sketch, plan, seed);
        plan_free(plan);
    }
}

/* Each window by itself could be met; together they leave no time: 7 cycles a write, 3 where its value is
 * there already [A]. */
static void test_no_room(void **state) {
    (void)state;
    struct sketch sketch = {.rows = 3, .lit_colour = {0x0E, 0x0E, 0x0E}};
    struct write_windows windows;
    windows_handbook(&windows);
    for (int pf = 0; pf < 3; pf++) {
        windows.window[MOMENT_PF0 + pf][0][HALF_RIGHT] =
            (struct write_window){.exists = true, .first = 44, .last = 46};
        windows.window[MOMENT_PF0 + pf][1][HALF_RIGHT] = (struct write_window){.exists = false};
    }
    sketch.lit[0] = UINT64_C(0x0050500505);
    sketch.lit[1] = UINT64_C(0xFFFFF00000);
    sketch.lit[2] = UINT64_C(0x5555555555);
    const char *const parts[] = {"row 2 needs", "cycles 44 to 46, has no room beside the other writes"};
    assert_refused(&sketch, &windows, parts, 2, 0);
}

static void test_no_window_at_all(void **state) {
    (void)state;
    struct sketch sketch = {.rows = 2, .lit_colour = {0x0E, 0x1E}};
    struct write_windows windows;
    windows_handbook(&windows);
    sketch.lit[0] = sketch.lit[1] = 0x0F;
    for (int mode = 0; mode < 2; mode++) {
        windows.window[MOMENT_COLUPF][mode][HALF_LEFT] = (struct write_window){.exists = false};
        windows.window[MOMENT_PF0][mode][HALF_RIGHT] = (struct write_window){.exists = false};
    }
    const char *const parts[] = {"COLUPF rewritten before the line; no cycle fits: there is no window",
                                 "PF0 rewritten in mid-line; no cycle fits: there is no window"};
    assert_refused(&sketch, &windows, parts, 2, 0);
}

/* A record that has a store show before it is made is not believed [A]: PF0's first cell begins with
 * cycle 22.67. And the picture's first line, which cannot be made ready before, has no store in mid-line
 * before cycle 31. */
static void test_windows_cut_short(void **state) {
    (void)state;
    struct sketch sketch = {.rows = 2, .lit_colour = {0x0E, 0x0E}};
    struct write_windows windows;
    sketch.lit[0] = 1;
    sketch.lit[1] = UINT64_C(0x200001);
    for (int half = 0; half < HALVES; half++) {
        windows_handbook(&windows);
        for (int mirror = 0; mirror < MOMENT_MODES; mirror++) {
            windows.window[MOMENT_PF0][mirror][half] =
                (struct write_window){.exists = true, .first = 24, .last = 30};
        }
        const char *const parts[] = {
            half == HALF_LEFT ? "PF0 rewritten before the line; no cycle fits: the window is 24 to 22"
                              : "PF0 rewritten in mid-line; no cycle fits: the window is 31 to 30"};
        assert_refused(&sketch, &windows, parts, 1, (uint64_t)half);
    }
}

/* PF2's second half follows on its first in mirror, so only copy can have both; a picture that is its own
 * mirror image needs no write in mid-line in mirror. */
static void test_mode(void **state) {
    (void)state;
    struct write_windows windows;
    struct problem problem = {0};
    windows_handbook(&windows);
    for (int mirror = 0; mirror < 2; mirror++) {
        struct sketch sketch = {.rows = 2, .lit_colour = {0x0E, 0x0E}};
        struct plan *plan = NULL;
        /* cell 1 and its image: cell 38 in mirror, 21 in copy */
        sketch.lit[0] = UINT64_C(1) << 1 | UINT64_C(1) << (mirror != 0 ? 38 : 21);
        sketch.lit[1] = 0;
        assert_true(sketch_write(&sketch, sketch_path));
        assert_true(drawing_plan(sketch_path, STANDARD_NTSC, &windows, &plan, &problem));
        assert_string_equal(step_mode(&plan->steps[0]), mirror != 0 ? "mirror" : "copy");
        assert_int_equal(plan->steps[0].bands[100].count, 1); /* PF0 before the line is all it takes */
        plan_free(plan);
    }
}

/* Lines that are all alike are one band: no table, no loop. */
static void test_still_picture(void **state) {
    (void)state;
    struct sketch sketch = {.rows = 168};
    struct write_windows windows;
    struct problem problem = {0};
    struct plan *plan = NULL;
    windows_handbook(&windows);
    for (int i = 0; i < sketch.rows; i++) {
        sketch.lit[i] = UINT64_C(0x1234512345);
        sketch.lit_colour[i] = 0x4C;
        sketch.dark_colour[i] = 0x92;
    }
    assert_true(sketch_write(&sketch, sketch_path));
    assert_true(drawing_plan(sketch_path, STANDARD_NTSC, &windows, &plan, &problem));
    assert_true(step_is_hold(&plan->steps[0]));
    compare(&sketch, plan, 0);
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_by_the_handbook),   cmocka_unit_test(test_rows_without_window),
        cmocka_unit_test(test_no_room),           cmocka_unit_test(test_no_window_at_all),
        cmocka_unit_test(test_windows_cut_short), cmocka_unit_test(test_mode),
        cmocka_unit_test(test_still_picture),
    };
    return cmocka_run_group_tests(tests, sketch_start, sketch_stop);
}
