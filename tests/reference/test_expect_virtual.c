/*
 * Two roads to the same cells: the handbook's table (expect/) against the TIA model's registers and drawn
 * pixels (virtual/), for all 2^20 values of the connected playfield bits in copy and in mirror mode, each
 * once, without processor or grabber. PF0's unconnected low bits take the value's own low bits, so that they
 * vary too. Only this test includes both sides.
 */
#include "expect/expect.h"
#include "virtual/tia.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { AT_COLUPF = 0x08, AT_COLUBK = 0x09, AT_CTRLPF = 0x0A, AT_PF0 = 0x0D, AT_PF1, AT_PF2 };
enum { BACK = 0x00, LIT = 0x0E };

static struct tia tia;
static uint32_t cell_pixels[2];

static void set(uint8_t address, uint8_t value) {
    assert_true(tia_write(&tia, 3, address, value));
}

static void start(void) {
    struct tia_chip chip;
    tia_chip_default(&chip);
    tia_power_on(&tia, &chip, 1);
    set(0x00, 0);
    set(0x01, 0);
    set(AT_COLUBK, BACK);
    set(AT_COLUPF, LIT);
    memset(&cell_pixels[0], BACK, sizeof *cell_pixels);
    memset(&cell_pixels[1], LIT, sizeof *cell_pixels);
}

/* The row of pixels as cells; false when a cell is of two colours or of a wrong one. */
static bool read_cells(const uint8_t *row, uint64_t *lit) {
    *lit = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        uint32_t pixels;
        memcpy(&pixels, row + 4 * cell, sizeof pixels);
        if (pixels == cell_pixels[1])
            *lit |= UINT64_C(1) << cell;
        else if (pixels != cell_pixels[0])
            return false;
    }
    return true;
}

static void compare(uint32_t value, uint8_t ctrlpf) {
    const uint8_t pf0 = (uint8_t)((value & 0x0F) << 4 | (value >> 4 & 0x0F));
    const uint8_t pf1 = (uint8_t)(value >> 4), pf2 = (uint8_t)(value >> 12);
    uint64_t drawn;
    tia_begin_field(&tia);
    set(AT_PF0, pf0);
    set(AT_PF1, pf1);
    set(AT_PF2, pf2);
    tia_end_line(&tia);
    if (!read_cells(tia.field.pixel[0], &drawn))
        fail_msg("PF0 $%02X PF1 $%02X PF2 $%02X CTRLPF $%02X: a cell of two colours", pf0, pf1, pf2, ctrlpf);
    const uint64_t promised = expect_cells(pf0, pf1, pf2, ctrlpf);
    if (drawn != promised)
        fail_msg("PF0 $%02X PF1 $%02X PF2 $%02X CTRLPF $%02X: drawn %010llX, promised %010llX", pf0, pf1, pf2,
                 ctrlpf, (unsigned long long)drawn, (unsigned long long)promised);
}

static void all_values(uint8_t ctrlpf) {
    start();
    set(AT_CTRLPF, ctrlpf);
    for (uint32_t value = 0; value < 1u << 20; value++)
        compare(value, ctrlpf);
}

static void test_copy(void **state) {
    (void)state;
    all_values(0);
}

static void test_mirror(void **state) {
    (void)state;
    all_values(1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_copy),
        cmocka_unit_test(test_mirror),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
