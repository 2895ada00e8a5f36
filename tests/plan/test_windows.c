/*
 * Windows of rewriting: by arithmetic (the table of cells in CPU cycles, figures worked out by hand [A]); by
 * the handbook: a store in a window leaves every cell sure, and one outside does not, in every cycle, as
 * expect_step() has it; and read from a file.
 */
#include "expect/expect.h"
#include "plan/windows.h"
#include "rom/scratch.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

static const enum reg of[] = {REG_PF0, REG_PF1, REG_PF2};

static void assert_window(const struct write_windows *windows, enum moment_register reg, int mirror, int half,
                          int first, int last) {
    const struct write_window *window = &windows->window[reg][mirror][half];
    if (!window->exists || window->first != first || window->last != last) {
        fail_msg("%s of %s, %s, %s half: %d to %d, not %d to %d", windows->source, moment_name(reg),
                 mirror != 0 ? "mirror" : "copy", half == HALF_LEFT ? "left" : "right", window->first,
                 window->last, first, last);
    }
    assert_false(window->open);
}

/* In CPU cycles: PF0 left 22.67-28, PF1 28-38.67, PF2 38.67-49.33; right in copy PF0 49.33-54.67, PF1
 * 54.67-65.33, PF2 65.33-76; in mirror PF2 49.33-60, PF1 60-70.67, PF0 70.67-76 [A: clock 68 + 4n, over 3]. A
 * window is whole cycles from the end of the cells that stay old to the beginning of those that are new. */
static void test_arithmetic(void **state) {
    (void)state;
    struct write_windows windows;
    windows_arithmetic(&windows);
    assert_window(&windows, MOMENT_PF0, 0, HALF_LEFT, -21, 22);
    assert_window(&windows, MOMENT_PF1, 0, HALF_LEFT, -10, 28);
    assert_window(&windows, MOMENT_PF2, 0, HALF_LEFT, 0, 38);
    assert_window(&windows, MOMENT_PF0, 0, HALF_RIGHT, 28, 49);
    assert_window(&windows, MOMENT_PF1, 0, HALF_RIGHT, 39, 54);
    assert_window(&windows, MOMENT_PF2, 0, HALF_RIGHT, 50, 65);
    assert_window(&windows, MOMENT_PF0, 1, HALF_LEFT, 0, 22);
    assert_window(&windows, MOMENT_PF1, 1, HALF_LEFT, -5, 28);
    assert_window(&windows, MOMENT_PF2, 1, HALF_LEFT, -16, 38);
    assert_window(&windows, MOMENT_PF0, 1, HALF_RIGHT, 28, 70);
    assert_window(&windows, MOMENT_PF1, 1, HALF_RIGHT, 39, 60);
    assert_false(windows.window[MOMENT_PF2][1][HALF_RIGHT].exists); /* 49.33 to 49.33 */
    assert_window(&windows, MOMENT_COLUPF, 0, HALF_LEFT, 0, 22);
    assert_false(windows.window[MOMENT_COLUBK][0][HALF_RIGHT].exists);
}

/* One write of all bits of a register, in a picture of three lines' kinds: before, with the write, after. */
static void expect_write(enum reg reg, int mirror, int cycle, uint8_t value, struct expectation *expect) {
    const uint8_t before = (uint8_t)~value;
    const struct band bands[] = {
        {.lines = 2,
         .count = 4,
         .writes = {{REG_CTRLPF, mirror != 0 ? CTRLPF_REFLECT : 0, WRITE_BEFORE},
                    {REG_PF0, reg == REG_PF0 ? before : 0x50, WRITE_BEFORE},
                    {REG_PF1, reg == REG_PF1 ? before : 0xA5, WRITE_BEFORE},
                    {REG_PF2, reg == REG_PF2 ? before : 0x3C, WRITE_BEFORE}}},
        {.lines = 1, .count = 1, .writes = {{reg, value, (int16_t)cycle}}},
        {.lines = 2},
    };
    const struct step step = {.band_count = 3, .bands = bands};
    expect_step(&step, 5, expect);
}

/* What a half of a line shows: 0 the old value everywhere, 1 the new one, -1 neither or not sure. */
static int shows(const struct expectation *expect, int line, int half) {
    const uint64_t cells = half == HALF_LEFT ? CELLS_ALL >> CELLS / 2 : CELLS_ALL & ~(CELLS_ALL >> CELLS / 2);
    if ((expect->sure[line] & cells) != cells) {
        return -1;
    }
    const bool old = ((expect->lit[line] ^ expect->lit[0]) & cells) == 0;
    const bool new = ((expect->lit[line] ^ expect->lit[4]) & cells) == 0;
    return new ? 1 : old ? 0 : -1;
}

/* Clean for the left half of the line after `line`: line 3 where the store is made in line 2. */
static bool is_clean(const struct expectation *expect, int half, bool early) {
    if (half == HALF_RIGHT) {
        return shows(expect, 2, HALF_LEFT) == 0 && shows(expect, 2, HALF_RIGHT) == 1;
    }
    const int wanted = early ? 0 : 1;
    return shows(expect, 2, HALF_LEFT) == wanted && shows(expect, 2, HALF_RIGHT) == wanted;
}

static void test_handbook_is_what_is_sure(void **state) {
    (void)state;
    static const uint8_t values[] = {0xFF, 0x00};
    struct write_windows windows;
    windows_handbook(&windows);
    for (int reg = MOMENT_PF0; reg <= MOMENT_PF2; reg++) {
        for (int n = 0; n < MOMENT_MODES * HALVES * 2; n++) {
            const int mirror = n & 1, half = n >> 1 & 1;
            const struct write_window *window = &windows.window[reg][mirror][half];
            for (int cycle = -LINE_CYCLES; cycle < LINE_CYCLES; cycle++) {
                if (half == HALF_RIGHT && cycle < 0) {
                    continue;
                }
                struct expectation expect;
                expect_write(of[reg], mirror, (cycle + LINE_CYCLES) % LINE_CYCLES, values[n >> 2], &expect);
                const bool clean = is_clean(&expect, half, cycle < 0);
                const bool inside = window->exists && cycle >= window->first && cycle <= window->last;
                if (clean != inside) {
                    fail_msg("%s, mirror %d, %s half, cycle %d: %s by expect, %s the window",
                             moment_name((enum moment_register)reg), mirror,
                             half == HALF_LEFT ? "left" : "right", cycle, clean ? "clean" : "not clean",
                             inside ? "in" : "outside");
                }
            }
        }
    }
}

/* Counted by hand from the same guards, 4 clocks before and 8 after [A]. */
static void test_handbook_by_hand(void **state) {
    (void)state;
    struct write_windows windows;
    windows_handbook(&windows);
    assert_window(&windows, MOMENT_PF0, 0, HALF_RIGHT, 30, 46);
    assert_window(&windows, MOMENT_PF1, 0, HALF_RIGHT, 40, 51);
    assert_window(&windows, MOMENT_PF2, 0, HALF_RIGHT, 51, 62);
    assert_window(&windows, MOMENT_PF0, 0, HALF_LEFT, -20, 19);
    assert_window(&windows, MOMENT_PF1, 0, HALF_LEFT, -9, 25);
    assert_window(&windows, MOMENT_PF2, 0, HALF_LEFT, 0, 35);
    assert_window(&windows, MOMENT_COLUPF, 0, HALF_LEFT, 0, 19);
    assert_window(&windows, MOMENT_REFLECT, 0, HALF_RIGHT, 0, 46);
}

/* Vouched for, each write shows whole from the next beginning of its own cells: PF0's, made in the right half
 * when its cells are through, in the next line; PF2's in this one [copy; cells of PF0 0-3 and 20-23, of PF2
 * 12-19 and 32-39, H TIA 1A]. The cycles lie where the handbook leaves both open. */
static void test_vouched(void **state) {
    (void)state;
    const struct band bands[] = {
        {.lines = 1, .count = 2, .writes = {{REG_PF0, 0xF0, 53}, {REG_PF2, 0xFF, 64}}},
        {.lines = 1, .count = 1, .writes = {{REG_PF2, 0x00, 76 - 1}}},
        {.lines = 1, .count = 1, .writes = {{REG_PF0, 0x00, 22}}},
        {.lines = 1},
    };
    const struct step step = {.band_count = 4, .bands = bands, .vouched = true};
    const uint64_t pf0 = UINT64_C(0xF0000F), pf2 = UINT64_C(0xFF000FF000);
    struct expectation expect;
    expect_step(&step, 4, &expect);
    assert_true(expect.lit[0] == UINT64_C(0xFF00000000));
    assert_true(expect.lit[1] == (pf0 | pf2));
    assert_true(expect.lit[2] == 0);
    assert_true(expect.lit[3] == 0);
    for (int line = 0; line < 4; line++) {
        assert_true(expect.sure[line] == CELLS_ALL);
    }
}

/* ---- files ---- */

static char folder[SCRATCH_MAX], path[SCRATCH_MAX + 64];

static int start(void **state) {
    (void)state;
    scratch_make(folder);
    scratch_path(folder, "windows.json", path);
    return 0;
}

static int stop(void **state) {
    (void)state;
    static const char *const names[] = {"windows.json"};
    scratch_remove(folder, names, 1);
    return 0;
}

/* All windows but those of `left_out`. */
static void write_file(int left_out, const char *more) {
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    fprintf(out, "{\"verdict\":\"pass\",\"windows\":[%s", more);
    const char *comma = more[0] == '\0' ? "" : ",";
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        for (int n = 0; n < 4 && reg != left_out; n++) {
            fprintf(out, "%s{\"register\":\"%s\",\"half\":\"%s\",\"mode\":\"%s\",", comma,
                    moment_name((enum moment_register)reg), n / 2 == 0 ? "left" : "right",
                    n % 2 == 0 ? "copy" : "mirror");
            comma = ",";
            if (reg == MOMENT_PF2 && n == 3) {
                fprintf(out, "\"first_cycle\":null,\"last_cycle\":null}");
            } else {
                fprintf(out, "\"first_cycle\":%d,\"last_cycle\":%d}", -reg, 20 + 10 * n + reg);
            }
        }
    }
    fprintf(out, "]}\n");
    fclose(out);
}

static void test_file(void **state) {
    (void)state;
    struct write_windows windows;
    struct problem problem = {0};
    write_file(-1, "");
    if (!windows_read(path, &windows, &problem)) {
        fail_msg("%s", problem.text);
    }
    assert_string_equal(windows.source, path);
    assert_window(&windows, MOMENT_PF1, 0, HALF_LEFT, -1, 21);
    assert_window(&windows, MOMENT_PF1, 1, HALF_LEFT, -1, 31);
    assert_window(&windows, MOMENT_PF1, 0, HALF_RIGHT, -1, 41);
    assert_window(&windows, MOMENT_COLUBK, 1, HALF_RIGHT, -6, 56);
    assert_false(windows.window[MOMENT_PF2][1][HALF_RIGHT].exists);
    write_file(MOMENT_SCORE, ""); /* a drawing does not need it */
    assert_true(windows_read(path, &windows, &problem));
    assert_false(windows.window[MOMENT_SCORE][0][HALF_LEFT].exists);
}

static void assert_refused(const char *text) {
    struct write_windows windows = {.source = "as it was"};
    struct problem problem = {0};
    assert_false(windows_read(path, &windows, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_string_equal(windows.source, "as it was");
    if (strstr(problem.text, text) == NULL || strstr(problem.text, "windows.json") == NULL) {
        fail_msg("'%s' lacks '%s', or the file", problem.text, text);
    }
}

static void test_bad_files(void **state) {
    (void)state;
    static const char *const entries[] = {
        "{\"register\":\"PF7\",\"half\":\"left\",\"mode\":\"copy\",\"first_cycle\":1,\"last_cycle\":2}",
        "{\"register\":\"PF1\",\"half\":\"up\",\"mode\":\"copy\",\"first_cycle\":1,\"last_cycle\":2}",
        "{\"register\":\"PF1\",\"half\":\"left\",\"mode\":1,\"first_cycle\":1,\"last_cycle\":2}",
        "{\"register\":\"PF1\",\"half\":\"left\",\"mode\":\"copy\",\"first_cycle\":1}",
        "{\"register\":\"PF1\",\"half\":\"left\",\"mode\":\"copy\",\"first_cycle\":1,\"last_cycle\":76}",
        "{\"register\":\"PF1\",\"half\":\"left\",\"mode\":\"copy\",\"first_cycle\":null,\"last_cycle\":7}",
        "7"};
    for (size_t i = 0; i < sizeof entries / sizeof entries[0]; i++) {
        write_file(-1, entries[i]);
        assert_refused("entry 1");
    }
    write_file(MOMENT_PF1, "");
    assert_refused("say nothing of PF1");
    scratch_write(folder, "windows.json", "{\"windows\":[],\"windows\":[]}", 27);
    assert_refused("uplicate");
    scratch_write(folder, "windows.json", "{}", 2);
    assert_refused("no list");
    scratch_write(folder, "windows.json", "{\"windows\":", 11);
    assert_refused("line 1");
    scratch_write(folder, "windows.json", "", 0);
    assert_refused("");
    unlink(path);
    assert_refused("");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_arithmetic),
                                       cmocka_unit_test(test_handbook_is_what_is_sure),
                                       cmocka_unit_test(test_handbook_by_hand),
                                       cmocka_unit_test(test_vouched),
                                       cmocka_unit_test(test_file),
                                       cmocka_unit_test(test_bad_files)};
    return cmocka_run_group_tests(tests, start, stop);
}
