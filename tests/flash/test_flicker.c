/*
 * Counting changes, against arithmetic [A] on square waves and areas made up here, and against the same
 * counted the long way.
 */
#include "flash/flicker.h"
#include "flash/naive.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define ALL_CELLS ((UINT64_C(1) << CELLS) - 1)

/* NTSC: 59.92 fields a second, so that 60 fields lie within one [A]. */
enum { LINES = 192, WINDOW = 60, SECONDS = 4 };

static struct flicker *fresh(double cells, double lines) {
    struct flicker *flicker = calloc(1, sizeof *flicker);
    assert_non_null(flicker);
    flicker_init(flicker, LINES, WINDOW);
    flicker_add_view(flicker, cells, lines, 0.25);
    return flicker;
}

static void fill(uint64_t changed[PICTURE_LINES_MAX], int lines, uint64_t cells) {
    memset(changed, 0, PICTURE_LINES_MAX * sizeof changed[0]);
    for (int line = 0; line < lines; line++) {
        changed[line] = cells;
    }
}

/* Black and white in turn, each for so many fields, on that many lines. */
static struct flicker *square_wave(int hold, int lines, uint64_t cells) {
    struct flicker *flicker = fresh(CELLS, LINES);
    for (int field = 0; field < SECONDS * WINDOW; field++) {
        uint64_t changed[PICTURE_LINES_MAX];
        fill(changed, lines, field % hold == 0 ? cells : 0);
        flicker_field(flicker, changed, UINT32_MAX);
    }
    return flicker;
}

static void most(int hold, int lines, int changes) {
    struct flicker *flicker = square_wave(hold, lines, ALL_CELLS);
    const struct flicker_view *view = &flicker->view[0];
    if (view->most_by_cell != changes || view->most_at_once != changes) {
        fail_msg("a change every %d fields on %d lines: %d and %d in a second, wanted %d", hold, lines,
                 view->most_by_cell, view->most_at_once, changes);
    }
    free(flicker);
}

/* [A] Changes at fields 0, h, 2h ... of which those up to field 59 (0.985 s) lie within a second. 59.92 / 2h
 * flashes a second: 3.00, 3.33, 3.75 and 4.28 for 10, 9, 8 and 7 fields. */
static void square_waves_have_two_changes_a_period(void **unused) {
    (void)unused;
    most(60, LINES, 1);
    most(30, LINES, 2);
    most(10, LINES, 6);
    most(9, LINES, 7);
    most(8, LINES, 8);
    most(7, LINES, 9);
    most(2, LINES, 30);
    most(1, LINES, 60);
}

/* [A] 25 % of 192 lines are 48. */
static void an_area_counts_from_beyond_a_quarter(void **unused) {
    (void)unused;
    most(6, 48, 0);
    most(6, 49, 10);
    struct flicker *flicker = square_wave(6, 48, ALL_CELLS);
    assert_true(fabs(flicker->view[0].largest - 0.25) < 1e-9);
    free(flicker);
    flicker = square_wave(6, LINES, 0x3FF); /* 10 of 40 cells */
    assert_int_equal(flicker->view[0].most_by_cell, 0);
    free(flicker);
    flicker = square_wave(6, LINES, 0x7FF);
    assert_int_equal(flicker->view[0].most_by_cell, 10);
    free(flicker);
}

static void one_flash_is_two_changes(void **unused) {
    (void)unused;
    struct flicker *flicker = fresh(CELLS, LINES);
    for (int field = 0; field < 200; field++) {
        uint64_t changed[PICTURE_LINES_MAX];
        fill(changed, LINES, field == 50 || field == 53 ? ALL_CELLS : 0);
        flicker_field(flicker, changed, UINT32_MAX);
    }
    assert_int_equal(flicker->view[0].most_by_cell, 2);
    assert_int_equal(flicker->view[0].most_at_once, 2);
    free(flicker);
}

static void changes_at(const int *fields, int count, int by_cell) {
    struct flicker *flicker = fresh(CELLS, LINES);
    for (int field = 0; field < 300; field++) {
        uint64_t changed[PICTURE_LINES_MAX];
        bool changes = false;
        for (int i = 0; i < count; i++) {
            changes = changes || fields[i] == field;
        }
        fill(changed, LINES, changes ? ALL_CELLS : 0);
        flicker_field(flicker, changed, changes ? UINT32_MAX : 0);
    }
    assert_int_equal(flicker->view[0].most_by_cell, by_cell);
    assert_int_equal(flicker->view[0].most_at_once, by_cell);
    free(flicker);
}

/* Six changes before a whole second's end and six after it are twelve in the second between. */
static void any_second_counts_not_only_whole_ones(void **unused) {
    (void)unused;
    static const int burst[] = {100, 103, 106, 109, 112, 115, 121, 124, 127, 130, 133, 136};
    changes_at(burst, 12, 12);
    static const int near[] = {10, 69}, apart[] = {10, 70}; /* 0.985 s, 1.001 s [A] */
    changes_at(near, 2, 2);
    changes_at(apart, 2, 1);
}

/* Halves that flash twice a second each, in turn: no cell flashes oftener, the picture does. */
static void places_that_take_turns_add_up(void **unused) {
    (void)unused;
    struct flicker *flicker = fresh(CELLS, LINES);
    for (int field = 0; field < 240; field++) {
        const uint64_t left = (UINT64_C(1) << CELLS / 2) - 1;
        uint64_t changed[PICTURE_LINES_MAX];
        fill(changed, LINES, field % 15 == 0 ? left : field % 15 == 7 ? ALL_CELLS ^ left : 0);
        flicker_field(flicker, changed, UINT32_MAX);
    }
    assert_int_equal(flicker->view[0].most_by_cell, 4);
    assert_int_equal(flicker->view[0].most_at_once, 8);
    free(flicker);
}

/* A tenth of the lines in each field, so that each line changes six times a second: never much at once. */
static void cells_that_flash_by_turns_add_up_too(void **unused) {
    (void)unused;
    struct flicker *flicker = fresh(CELLS, LINES);
    for (int field = 0; field < 240; field++) {
        uint64_t changed[PICTURE_LINES_MAX] = {0};
        for (int line = 0; line < LINES; line++) {
            changed[line] = line % 10 == field % 10 ? ALL_CELLS : 0;
        }
        flicker_field(flicker, changed, UINT32_MAX);
    }
    assert_int_equal(flicker->view[0].most_by_cell, 6);
    assert_int_equal(flicker->view[0].most_at_once, 0);
    free(flicker);
}

static void change_lines(struct flicker *flicker, int first, int field_count) {
    for (int field = 0; field < field_count; field++) {
        uint64_t changed[PICTURE_LINES_MAX] = {0};
        for (int line = first; line < first + 40; line++) {
            changed[line] = ALL_CELLS;
        }
        flicker_field(flicker, changed, UINT32_C(0x1F) << first / FLICKER_BAND);
    }
}

/* Three fifths of the picture, of which two change twice and one three times: no quarter changes thrice. */
static void parts_are_counted_anew_for_each_number(void **unused) {
    (void)unused;
    struct flicker *flicker = fresh(CELLS, LINES);
    change_lines(flicker, 0, 2);
    change_lines(flicker, 40, 2);
    assert_int_equal(flicker->view[0].most_by_cell, 2);
    change_lines(flicker, 80, 3);
    assert_int_equal(flicker->view[0].most_by_cell, 2);
    free(flicker);
}

/* ---- the long way ---- */

static uint64_t state;
static unsigned draw(unsigned below) {
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (unsigned)(state >> 33) % below;
}

enum { NAIVE_FIELDS = 90, NAIVE_LINES = 60, NAIVE_WINDOW = 20 };
static unsigned char changes[NAIVE_FIELDS][PICTURE_LINES_MAX][CELLS];

/* Patches of lines and cells that change now and then, so that every count between few and many comes. */
static void draw_changes(void) {
    memset(changes, 0, sizeof changes);
    for (int patch = 0; patch < 12; patch++) {
        const int top = (int)draw(NAIVE_LINES), left = (int)draw(CELLS), seldom = 1 + (int)draw(12);
        const int below = top + 1 + (int)draw(30), right = left + 1 + (int)draw(25);
        for (int field = 0; field < NAIVE_FIELDS; field++) {
            if (draw((unsigned)seldom) != 0) {
                continue;
            }
            for (int y = top; y < below && y < NAIVE_LINES; y++) {
                for (int x = left; x < right && x < CELLS; x++) {
                    changes[field][y][x] = 1;
                }
            }
        }
    }
}

static void compare(uint64_t seed) {
    const struct naive naive = {NAIVE_LINES, NAIVE_FIELDS, NAIVE_WINDOW, changes};
    const double cells = 15.9, lines = 23.5; /* blocks of 16 cells and 24 lines cover that */
    const struct naive_place place = {16, 24, FLICKER_STRIP, FLICKER_BAND, cells * lines * 0.25};
    struct flicker *flicker = calloc(1, sizeof *flicker);
    uint64_t of_line[NAIVE_LINES];
    assert_non_null(flicker);
    state = seed * 0x9E3779B97F4A7C15U + 1;
    draw_changes();
    flicker_init(flicker, NAIVE_LINES, NAIVE_WINDOW);
    flicker_add_view(flicker, cells, lines, 0.25);
    for (int field = 0; field < NAIVE_FIELDS; field++) {
        uint64_t changed[PICTURE_LINES_MAX];
        uint32_t bands = 0;
        memset(changed, 0xFF, sizeof changed); /* bands that are not in the set are not read */
        for (int y = 0; y < NAIVE_LINES; y++) {
            uint64_t line = 0;
            for (int x = 0; x < CELLS; x++) {
                line |= (uint64_t)changes[field][y][x] << x;
            }
            bands |= line != 0 ? UINT32_C(1) << y / FLICKER_BAND : 0;
            of_line[y] = line;
        }
        for (int y = 0; y < NAIVE_LINES; y++) {
            changed[y] = (bands >> y / FLICKER_BAND & 1) != 0 ? of_line[y] : changed[y];
        }
        flicker_field(flicker, changed, bands);
    }
    const int by_cell = naive_by_cell(&naive, &place), at_once = naive_at_once(&naive, &place);
    if (flicker->view[0].most_by_cell != by_cell || flicker->view[0].most_at_once != at_once) {
        fail_msg("seed %d: %d and %d changes, the long way %d and %d", (int)seed,
                 flicker->view[0].most_by_cell, flicker->view[0].most_at_once, by_cell, at_once);
    }
    free(flicker);
}

static void it_counts_as_the_long_way_does(void **unused) {
    (void)unused;
    const int seeds = getenv("SLOTJIG_TEST_SMALL") != NULL ? 3 : 12;
    for (int seed = 1; seed <= seeds; seed++) {
        compare((uint64_t)seed);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(square_waves_have_two_changes_a_period),
        cmocka_unit_test(an_area_counts_from_beyond_a_quarter),
        cmocka_unit_test(one_flash_is_two_changes),
        cmocka_unit_test(any_second_counts_not_only_whole_ones),
        cmocka_unit_test(places_that_take_turns_add_up),
        cmocka_unit_test(cells_that_flash_by_turns_add_up_too),
        cmocka_unit_test(parts_are_counted_anew_for_each_number),
        cmocka_unit_test(it_counts_as_the_long_way_does),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
