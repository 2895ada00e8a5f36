/*
 * Registers to cells against the TIA 1A technical manual's "Playfield registers serial output" table, typed
 * in here a second time: it shares no table and no code with expect/.
 */
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

/* [H TIA 1A, "Playfield registers serial output"], cell by cell from the left: register's digit, bit's digit.
 * CTRLPF D0 = 0: PF0 4..7, PF1 7..0, PF2 0..7 and the same again. */
static const char copy_row[] = "04 05 06 07 17 16 15 14 13 12 11 10 20 21 22 23 24 25 26 27 "
                               "04 05 06 07 17 16 15 14 13 12 11 10 20 21 22 23 24 25 26 27 ";
/* CTRLPF D0 = 1: PF0 4..7, PF1 7..0, PF2 0..7, then PF2 7..0, PF1 0..7, PF0 7..4. [H same; Programmer's Guide
 * 5.0] */
static const char mirror_row[] = "04 05 06 07 17 16 15 14 13 12 11 10 20 21 22 23 24 25 26 27 "
                                 "27 26 25 24 23 22 21 20 10 11 12 13 14 15 16 17 07 06 05 04 ";

static void text_of_row(const char *row, const uint8_t pf[3], char text[41]) {
    for (int cell = 0; cell < 40; cell++) {
        const int reg = row[3 * cell] - '0';
        const int bit = row[3 * cell + 1] - '0';
        text[cell] = (pf[reg] >> bit & 1) != 0 ? '1' : '0';
    }
    text[40] = '\0';
}

static void check(const uint8_t pf[3], uint8_t ctrlpf) {
    char handbook[41];
    char ours[CELLS + 1];
    text_of_row((ctrlpf & 1) != 0 ? mirror_row : copy_row, pf, handbook);
    cells_text(expect_cells(pf[0], pf[1], pf[2], ctrlpf), 0, ours);
    if (strcmp(handbook, ours) != 0) {
        fail_msg("PF0=$%02X PF1=$%02X PF2=$%02X CTRLPF=$%02X: table %s, expect %s", pf[0], pf[1], pf[2],
                 ctrlpf, handbook, ours);
    }
}

static void every_bit_of_every_register(void **unused) {
    (void)unused;
    for (int reg = 0; reg < 3; reg++) {
        for (int value = 0; value < 256; value++) {
            for (int ctrlpf = 0; ctrlpf < 8; ctrlpf++) {
                uint8_t pf[3] = {0, 0, 0};
                pf[reg] = (uint8_t)value;
                check(pf, (uint8_t)ctrlpf);
                uint8_t others_set[3] = {0xFF, 0xFF, 0xFF};
                others_set[reg] = (uint8_t)value;
                check(others_set, (uint8_t)ctrlpf);
            }
        }
    }
}

/* All 2^20 values of the connected bits, with PF0's four unconnected ones set differently each time. */
static void all_values_both_modes(void **unused) {
    (void)unused;
    for (uint32_t value = 0; value < UINT32_C(1) << 20; value++) {
        const uint8_t pf[3] = {(uint8_t)(value >> 12 & 0xF0), (uint8_t)(value >> 8), (uint8_t)value};
        const uint8_t noisy[3] = {(uint8_t)(pf[0] | (value & 0x0F)), pf[1], pf[2]};
        check(noisy, 0x00);
        check(noisy, 0x01);
    }
}

static void unconnected_draw_nothing(void **unused) {
    (void)unused;
    for (int low = 0; low < 16; low++) {
        assert_true(expect_cells((uint8_t)low, 0, 0, 0) == 0);
        assert_true(expect_cells((uint8_t)low, 0, 0, 1) == 0);
    }
}

/* Known by hand: PF0 = $10 lights the leftmost cell, and cell 20 in copy or 39 in mirror mode. */
static void corners(void **unused) {
    (void)unused;
    assert_true(expect_cells(0x10, 0, 0, 0) == (UINT64_C(1) | UINT64_C(1) << 20));
    assert_true(expect_cells(0x10, 0, 0, 1) == (UINT64_C(1) | UINT64_C(1) << 39));
    assert_true(expect_cells(0, 0, 0x80, 1) == (UINT64_C(1) << 19 | UINT64_C(1) << 20));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_bit_of_every_register),
        cmocka_unit_test(all_values_both_modes),
        cmocka_unit_test(unconnected_draw_nothing),
        cmocka_unit_test(corners),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
