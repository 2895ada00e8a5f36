/* Figures of lines, frames and sampling against their sources; the numbers are typed in from FACTS. */
#include "base/standard.h"
#include "slotjig/slate.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static bool near(double value, double wanted, double within) {
    return value > wanted - within && value < wanted + within;
}

/* [H S. Wright, Programmer's Guide, 3.1] */
static void line(void **unused) {
    (void)unused;
    assert_int_equal(LINE_CLOCKS, 228);
    assert_int_equal(LINE_CYCLES, 76);
    assert_int_equal(LINE_CLOCKS, 3 * LINE_CYCLES);
    assert_int_equal(BLANK_CLOCKS, 68);
    assert_int_equal(BLANK_CLOCKS + PICTURE_CLOCKS, LINE_CLOCKS);
    assert_int_equal(CELLS * CELL_CLOCKS, 160);
}

/* [H Programmer's Guide 3.3; PAL/SECAM conversions] */
static void frame(void **unused) {
    (void)unused;
    static const int parts[STANDARD_COUNT][4] = {{3, 37, 192, 30}, {3, 45, 228, 36}, {3, 45, 228, 36}};
    static const int totals[STANDARD_COUNT] = {262, 312, 312};
    for (int i = 0; i < STANDARD_COUNT; i++) {
        const struct standard_facts *facts = &standard_table[i];
        assert_int_equal(facts->sync_lines, parts[i][0]);
        assert_int_equal(facts->blank_lines, parts[i][1]);
        assert_int_equal(facts->picture_lines, parts[i][2]);
        assert_int_equal(facts->overscan_lines, parts[i][3]);
        assert_int_equal(standard_lines((enum standard)i), totals[i]);
        assert_true(facts->picture_lines <= PICTURE_LINES_MAX);
        assert_int_equal(standard_plan_lines((enum standard)i), parts[i][2] - 24);
    }
}

/* [S SMPTE 170M: subcarrier 315/88 MHz = 3.579545...; PAL 3.546894 M], [A] */
static void rates(void **unused) {
    (void)unused;
    const struct standard_facts *ntsc = &standard_table[STANDARD_NTSC];
    assert_true(near(ntsc->clock_hz, 315e6 / 88, 1));
    assert_true(near(standard_table[STANDARD_PAL].clock_hz, 3546894, 1));
    assert_true(near(ntsc->clock_hz / (LINE_CLOCKS * standard_lines(STANDARD_NTSC)), 59.92, 0.005));
    /* Active lines and frame rates of the two systems [S BT.601: 30000/1001 and 25 frames a second] */
    assert_int_equal(ntsc->frame_height, 480);
    assert_int_equal(standard_table[STANDARD_PAL].frame_height, 576);
    assert_true(near((double)ntsc->frame_rate_num / ntsc->frame_rate_den, 29.97, 0.001));
    assert_int_equal(standard_table[STANDARD_SECAM].frame_rate_num,
                     25 * standard_table[STANDARD_SECAM].frame_rate_den);
}

/* [S ITU-R BT.601: 13.5 MHz, 720 samples] with the NTSC clock [A] */
static void sampling(void **unused) {
    (void)unused;
    const double clock = standard_samples_per_clock(STANDARD_NTSC);
    assert_true(near(clock, 3.7714, 0.0001));
    assert_true(near(clock * CELL_CLOCKS, 15.086, 0.001));
    assert_true(near(clock * PICTURE_CLOCKS, 603.4, 0.05));
    assert_true(clock * PICTURE_CLOCKS < 720);
    assert_true(near(standard_samples_per_clock(STANDARD_PAL), 13.5 / 3.546894, 0.0001));
}

/* The bounds asked of the slate: at most 24 lines, a row on at least 3, a bit wider than four cells, a row
 * inside the 160 clocks. */
static void slate(void **unused) {
    (void)unused;
    assert_true(SLATE_LINES <= 24);
    assert_int_equal(SLATE_BAND_LINES + SLATE_ROWS * SLATE_ROW_LINES, SLATE_LINES);
    assert_true(SLATE_ROW_LINES >= 3);
    assert_true(SLATE_BIT_CLOCKS > 4 * CELL_CLOCKS);
    assert_true(SLATE_FIRST_CLOCK >= 0);
    assert_true(SLATE_FIRST_CLOCK + SLATE_ROW_BITS * SLATE_BIT_CLOCKS <= PICTURE_CLOCKS);
    assert_int_equal(16 + SLATE_VALUE_BITS + SLATE_COUNTER_BITS + SLATE_CHECK_BITS,
                     SLATE_ROWS * SLATE_ROW_BITS);
}

static void names(void **unused) {
    (void)unused;
    enum standard standard = STANDARD_NTSC;
    assert_true(standard_from_name("secam", &standard));
    assert_int_equal(standard, STANDARD_SECAM);
    assert_false(standard_from_name("ntsc-j", &standard));
    assert_false(standard_from_name("", &standard));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(line),     cmocka_unit_test(frame), cmocka_unit_test(rates),
        cmocka_unit_test(sampling), cmocka_unit_test(slate), cmocka_unit_test(names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
