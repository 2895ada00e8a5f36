/* Steps to cells with changes in mid-line, and cells back to registers. */
#include "expect/expect.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void check_line(const struct expectation *seen, int line, const char *lit, const char *sure) {
    char text[CELLS + 1];
    cells_text(seen->lit[line], ~seen->sure[line] & CELLS_ALL, text);
    for (int cell = 0; cell < CELLS; cell++) {
        const char wanted = sure[cell] == '?' ? '?' : lit[cell];
        if (text[cell] != wanted) {
            fail_msg("line %d cell %d: expect says\n%s, wanted\n%s with doubts\n%s", line, cell, text, lit,
                     sure);
        }
    }
}

static void held_step_is_the_same_everywhere(void **unused) {
    (void)unused;
    const struct band band = {
        .lines = 168, .count = 2, .writes = {{REG_PF1, 0xA5, WRITE_BEFORE}, {REG_CTRLPF, 3, WRITE_BEFORE}}};
    const struct step step = {.name = "s", .band_count = 1, .bands = &band};
    static struct expectation seen;
    expect_step(&step, 168, &seen);
    assert_int_equal(seen.lines, 168);
    for (int line = 0; line < 168; line++) {
        assert_true(seen.lit[line] == expect_cells(0, 0xA5, 0, 3));
        assert_true(seen.sure[line] == CELLS_ALL);
    }
}

/* FACTS: PF1's left half is cells 4..11, clocks 84..115; its right half in copy mode cells 24..31, clocks
 * 164..195. A store that ends with cycle 45 acts at clock 135, between them. */
static void write_between_the_halves(void **unused) {
    (void)unused;
    const struct band band = {
        .lines = 3, .count = 2, .writes = {{REG_PF1, 0xF0, WRITE_BEFORE}, {REG_PF1, 0x0F, 45}}};
    const struct step step = {.name = "s", .band_count = 1, .bands = &band};
    static struct expectation seen;
    static const char none[] = "........................................";
    expect_step(&step, 3, &seen);
    check_line(&seen, 0, "0000111100000000000000000000111100000000", none);
    /* The next line starts with the last value. */
    check_line(&seen, 1, "0000000011110000000000000000111100000000", none);
    check_line(&seen, 2, "0000000011110000000000000000111100000000", none);
}

/* Cycle 58 is clock 174: cells 25 (168..171) to 28 (180..183) are within -4..+8 clocks of it. */
static void write_while_scanned_is_not_vouched_for(void **unused) {
    (void)unused;
    const struct band band = {
        .lines = 1, .count = 2, .writes = {{REG_PF1, 0xFF, WRITE_BEFORE}, {REG_PF1, 0x00, 58}}};
    const struct step step = {.name = "s", .band_count = 1, .bands = &band};
    static struct expectation seen;
    expect_step(&step, 1, &seen);
    check_line(&seen, 0, "0000111111110000000000001100000000000000",
               ".........................????...........");
    assert_true((seen.sure[0] >> 24 & 0x3F) == 0x21);
}

static void write_of_the_same_value_changes_nothing(void **unused) {
    (void)unused;
    const struct band band = {
        .lines = 1, .count = 2, .writes = {{REG_PF1, 0xFF, WRITE_BEFORE}, {REG_PF1, 0xFF, 58}}};
    const struct step step = {.name = "s", .band_count = 1, .bands = &band};
    static struct expectation seen;
    expect_step(&step, 1, &seen);
    assert_true(seen.sure[0] == CELLS_ALL);
    assert_true(seen.lit[0] == expect_cells(0, 0xFF, 0, 0));
}

/* Turned round before the half (cycle 40, clock 120; the half is at 148): all sure. After it: nothing of the
 * right half from there on. */
static void reflect_in_mid_line(void **unused) {
    (void)unused;
    struct band band = {
        .lines = 1, .count = 2, .writes = {{REG_PF0, 0x10, WRITE_BEFORE}, {REG_CTRLPF, 1, 40}}};
    const struct step step = {.name = "s", .band_count = 1, .bands = &band};
    static struct expectation seen;
    expect_step(&step, 1, &seen);
    check_line(&seen, 0, "1000000000000000000000000000000000000001",
               "........................................");
    band.writes[1].cycle = 60; /* clock 180 = cell 28; guard from 176 = cell 27 */
    expect_step(&step, 1, &seen);
    check_line(&seen, 0, "1000000000000000000010000000000000000001",
               "...........................?????????????");
}

static void bands_follow_each_other(void **unused) {
    (void)unused;
    const struct band bands[2] = {{.lines = 2, .count = 1, .writes = {{REG_PF2, 0x01, WRITE_BEFORE}}},
                                  {.lines = 2, .count = 1, .writes = {{REG_CTRLPF, 1, WRITE_BEFORE}}}};
    const struct step step = {.name = "s", .band_count = 2, .bands = bands};
    static struct expectation seen;
    expect_step(&step, 4, &seen);
    assert_true(seen.lit[1] == expect_cells(0, 0, 1, 0));
    assert_true(seen.lit[2] == expect_cells(0, 0, 1, 1));
    assert_true(seen.lit[3] == expect_cells(0, 0, 1, 1));
}

/* ---- the inverse ---- */

static bool solve(const char *text, bool mirror_wanted, struct solved *out, struct problem *problem) {
    uint8_t cells[CELLS] = {0};
    int count = 0;
    for (; text[count] != '\0'; count++) {
        cells[count] = text[count] == '#';
    }
    return expect_solve(cells, count, mirror_wanted, out, problem);
}

static void solve_undoes_expect(void **unused) {
    (void)unused;
    uint32_t value = 12345;
    for (int run = 0; run < 5000; run++) {
        value = value * 1664525 + 1013904223;
        const uint8_t pf0 = (uint8_t)(value >> 24 & 0xF0);
        const uint8_t pf1 = (uint8_t)(value >> 16);
        const uint8_t pf2 = (uint8_t)(value >> 8);
        const uint8_t mirror = (uint8_t)(value >> 31);
        const uint64_t lit = expect_cells(pf0, pf1, pf2, mirror);
        uint8_t cells[CELLS];
        for (int i = 0; i < CELLS; i++) {
            cells[i] = lit >> i & 1;
        }
        struct solved solved;
        struct problem problem;
        assert_true(expect_solve(cells, CELLS, false, &solved, &problem));
        if (expect_cells(solved.pf0, solved.pf1, solved.pf2, solved.mirror) != lit) {
            fail_msg("PF0=$%02X PF1=$%02X PF2=$%02X CTRLPF=%d is not found again", pf0, pf1, pf2, mirror);
        }
    }
}

static void solve_takes_half_a_row(void **unused) {
    (void)unused;
    struct solved solved;
    struct problem problem;
    assert_true(solve("#..................#", true, &solved, &problem));
    assert_int_equal(solved.pf0, 0x10);
    assert_int_equal(solved.pf1, 0x00);
    assert_int_equal(solved.pf2, 0x80);
    assert_true(solved.mirror);
    assert_false(solve("#", false, &solved, &problem));
}

static void solve_takes_copy_for_a_palindrome(void **unused) {
    (void)unused;
    struct solved solved;
    struct problem problem;
    assert_true(solve("#..................##..................#", false, &solved, &problem));
    assert_false(solved.mirror);
    assert_true(solve("#..................##..................#", true, &solved, &problem));
    assert_true(solved.mirror);
    assert_true(solve("#......................................#", false, &solved, &problem));
    assert_true(solved.mirror);
}

static void solve_names_the_pairs_that_forbid(void **unused) {
    (void)unused;
    struct solved solved = {.pf0 = 99};
    struct problem problem;
    /* Copy: cell 20 is lit and cell 0 is not. Mirror: cell 20 is lit and cell 19 is not. */
    assert_false(solve("....................#...................", false, &solved, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, "in copy mode cells 0 (dark) and 20 (lit) are both PF0.4"));
    assert_non_null(strstr(problem.text, "in mirror mode cells 19 (dark) and 20 (lit) are both PF2.7"));
    assert_int_equal(solved.pf0, 99);
}

static void text_marks_unclear(void **unused) {
    (void)unused;
    char text[CELLS + 1];
    cells_text(UINT64_C(1) << 39 | 1, 2, text);
    assert_string_equal(text, "1?00000000000000000000000000000000000001");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(held_step_is_the_same_everywhere),
        cmocka_unit_test(write_between_the_halves),
        cmocka_unit_test(write_while_scanned_is_not_vouched_for),
        cmocka_unit_test(write_of_the_same_value_changes_nothing),
        cmocka_unit_test(reflect_in_mid_line),
        cmocka_unit_test(bands_follow_each_other),
        cmocka_unit_test(solve_undoes_expect),
        cmocka_unit_test(solve_takes_half_a_row),
        cmocka_unit_test(solve_takes_copy_for_a_palindrome),
        cmocka_unit_test(solve_names_the_pairs_that_forbid),
        cmocka_unit_test(text_marks_unclear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
