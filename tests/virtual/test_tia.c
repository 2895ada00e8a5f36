/*
 * The TIA through its registers and drawn pixels. Where things lie on a line: FACTS "Time on a line" (left
 * edge of cell n = clock 68 + 4n [A]); what the bits do: TIA 1A technical manual.
 */
#include "virtual/tia.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { VSYNC = 0x00, VBLANK = 0x01, COLUP0 = 0x06, COLUP1, COLUPF, COLUBK, CTRLPF, PF0 = 0x0D, PF1, PF2 };
enum { BACK = 0x20, LIT = 0x4E, LEFT = 0x62, RIGHT = 0x84 };

static struct tia tia;

static const uint8_t *last_line(void) {
    return tia.field.pixel[tia.field.lines - 1];
}

static void line(void) {
    tia_end_line(&tia);
}

static void put(int clock, uint8_t address, uint8_t value) {
    assert_true(tia_write(&tia, clock, address, value));
}

/* On, unblanked, colours set, playfield dark, one line gone by. */
static void start(const struct tia_chip *chip) {
    tia_power_on(&tia, chip, 1);
    const uint8_t set[][2] = {{VSYNC, 0},      {VBLANK, 0}, {COLUBK, BACK}, {COLUPF, LIT}, {COLUP0, LEFT},
                              {COLUP1, RIGHT}, {CTRLPF, 0}, {PF0, 0},       {PF1, 0},      {PF2, 0}};
    for (size_t i = 0; i < sizeof set / sizeof *set; i++)
        put(3 + 3 * (int)i, set[i][0], set[i][1]);
    line();
    tia_begin_field(&tia);
}

static struct tia_chip good(void) {
    struct tia_chip chip;
    tia_chip_default(&chip);
    return chip;
}

/* The 40 cells of the last line; every cell must be one colour over its four clocks. */
static uint64_t cells(void) {
    uint64_t lit = 0;
    for (int x = 0; x < TIA_VISIBLE; x++) {
        const uint8_t pixel = last_line()[x];
        assert_true(pixel == BACK || pixel == LIT);
        if (pixel == LIT && x % 4 == 0)
            lit |= UINT64_C(1) << x / 4;
        assert_int_equal(pixel == LIT, lit >> x / 4 & 1);
    }
    return lit;
}

static uint64_t show(uint8_t pf0, uint8_t pf1, uint8_t pf2, uint8_t ctrlpf) {
    put(3, PF0, pf0);
    put(6, PF1, pf1);
    put(9, PF2, pf2);
    put(12, CTRLPF, ctrlpf);
    line();
    return cells();
}

static void test_serial_order(void **state) {
    (void)state;
    const struct tia_chip chip = good();
    start(&chip);
    /* TIA 1A, playfield registers serial output: PF0 4..7, PF1 7..0, PF2 0..7. */
    assert_int_equal(show(0x10, 0, 0, 0), UINT64_C(1) << 0 | UINT64_C(1) << 20);
    assert_int_equal(show(0, 0x80, 0, 0), UINT64_C(1) << 4 | UINT64_C(1) << 24);
    assert_int_equal(show(0, 0, 0x01, 0), UINT64_C(1) << 12 | UINT64_C(1) << 32);
    assert_int_equal(show(0x10, 0, 0, 1), UINT64_C(1) << 0 | UINT64_C(1) << 39);
    assert_int_equal(show(0, 0, 0x80, 1), UINT64_C(3) << 19);
    assert_int_equal(show(0x0F, 0, 0, 0), 0);
}

static void test_colour_lands_at_its_clock(void **state) {
    (void)state;
    struct tia_chip chip = good();
    for (int delay = 0; delay <= 12; delay++)
        for (int cycle = 1; cycle <= 76; cycle++) {
            memset(chip.delay[TIA_COLUBK], delay, 4);
            start(&chip);
            put(3 * cycle, COLUBK, 0x0E);
            line();
            const int first = 3 * cycle + delay - TIA_FIRST;
            for (int x = 0; x < TIA_VISIBLE; x++)
                if (last_line()[x] != (x < first ? BACK : 0x0E))
                    fail_msg("delay %d, cycle %d: clock %d is $%02X", delay, cycle, x, last_line()[x]);
            line();
            const int next = first - TIA_CLOCKS; /* spills over only when the effect is past the line's end */
            for (int x = 0; x < TIA_VISIBLE; x++)
                assert_int_equal(last_line()[x], x < next ? BACK : 0x0E);
        }
}

/* A bit is fetched at its cell's left edge: an effect at or before it counts, one clock later does not. */
static void test_cell_is_fetched_at_its_edge(void **state) {
    (void)state;
    struct tia_chip chip = good();
    for (int delay = 0; delay <= 12; delay++)
        for (int cycle = 1; cycle <= 72; cycle++) {
            memset(chip.delay[TIA_PF1], delay, 4);
            start(&chip);
            put(3 * cycle, PF1, 0xFF);
            line();
            const uint64_t lit = cells();
            for (int cell = 0; cell < 40; cell++) {
                const int in_half = cell % 20;
                const bool wanted = in_half >= 4 && in_half < 12 && 3 * cycle + delay <= 68 + 4 * cell;
                if ((lit >> cell & 1) != wanted)
                    fail_msg("delay %d, cycle %d: cell %d", delay, cycle, cell);
            }
        }
}

static void test_delay_by_phase(void **state) {
    (void)state;
    struct tia_chip chip = good();
    const uint8_t delays[4] = {1, 5, 9, 12};
    memcpy(chip.delay[TIA_COLUBK], delays, 4);
    for (int cycle = 30; cycle < 34; cycle++) {
        start(&chip);
        put(3 * cycle, COLUBK, 0x0E);
        line();
        const int first = 3 * cycle - 68 + delays[(3 * cycle - 68) % 4];
        assert_int_equal(last_line()[first - 1], BACK);
        assert_int_equal(last_line()[first], 0x0E);
    }
}

/* One bit of one colour register, whatever is written and even before anything is; the other register and
 * the players' colours in score mode keep theirs. */
static void test_stuck_colour_bits(void **state) {
    (void)state;
    for (int fault = 0; fault < 28; fault++) {
        const int which = fault / 14, bit = 1 + fault % 7;
        const bool high = fault / 7 % 2;
        struct tia_chip chip = good();
        (high ? chip.colour_high : chip.colour_low)[which] = (uint8_t)(1 << bit);
        for (int value = 0; value < 256; value += 15) {
            const int kept = high ? (value | 1 << bit) & 0xFE : value & ~(1 << bit) & 0xFE;
            start(&chip);
            put(3, COLUPF, (uint8_t)value);
            put(6, COLUBK, (uint8_t)(value ^ 0xFF));
            put(9, PF1, 0xFF);
            line();
            const int other = value ^ 0xFF,
                      back = high ? (other | 1 << bit) & 0xFE : other & ~(1 << bit) & 0xFE;
            assert_int_equal(last_line()[20], which == 0 ? kept : value & 0xFE);
            assert_int_equal(last_line()[0], which == 1 ? back : other & 0xFE);
            put(3, CTRLPF, 2);
            line();
            assert_int_equal(last_line()[20], LEFT);
        }
        tia_power_on(&tia, &chip, 7);
        assert_int_equal(tia.reg[TIA_COLUPF + which] >> bit & 1, high);
    }
}

static void test_score_and_priority(void **state) {
    (void)state;
    const struct tia_chip chip = good();
    start(&chip);
    put(3, PF0, 0xF0);
    put(6, CTRLPF, 0x02);
    line();
    assert_int_equal(last_line()[0], LEFT);
    assert_int_equal(last_line()[16], BACK);
    assert_int_equal(last_line()[80], RIGHT);
    put(6, CTRLPF, 0x34);
    line();
    assert_int_equal(last_line()[0], LIT);
    assert_int_equal(last_line()[80], LIT);
}

static void test_blank_and_colour_bit(void **state) {
    (void)state;
    const struct tia_chip chip = good();
    start(&chip);
    put(3, COLUBK, 0xFF);
    put(3 * 36, VBLANK, 0x02); /* clock 108: visible clock 40 */
    line();
    assert_int_equal(last_line()[39], 0xFE);
    assert_int_equal(last_line()[40], TIA_BLANKED);
    assert_int_equal(last_line()[159], TIA_BLANKED);
    put(3 * 36, VBLANK, 0);
    line();
    assert_int_equal(last_line()[39], TIA_BLANKED);
    assert_int_equal(last_line()[40], 0xFE);
}

static void test_same_as_above_tells_the_truth(void **state) {
    (void)state;
    struct tia_chip chip = good();
    uint32_t random = 7;
    int same = 0;
    start(&chip);
    for (int n = 0; n < 300; n++) {
        for (int clock = 3; clock <= 228; clock += 3) {
            random = random * 1664525u + 1013904223u;
            if (random >> 24 == 0)
                put(clock, (uint8_t)(COLUBK + (random >> 8) % 2 * (PF1 - COLUBK)), (uint8_t)(random >> 12));
        }
        line();
    }
    for (int n = 1; n < tia.field.lines; n++) {
        const bool equal = !memcmp(tia.field.pixel[n], tia.field.pixel[n - 1], TIA_VISIBLE);
        assert_int_equal(tia.field.same_as_above[n], equal);
        same += equal;
    }
    assert_int_equal(tia.field.same_as_above[0], 0);
    assert_in_range(same, 50, 290);
}

static void sync_on(int clock) {
    put(clock, VSYNC, 0x02);
}

static void test_vertical_sync(void **state) {
    (void)state;
    const struct tia_chip chip = good();
    start(&chip);
    for (int n = 0; n < 30; n++)
        line();
    sync_on(9);
    assert_true(tia.field_done && tia.field.synced);
    assert_int_equal(tia.field.lines, 30);
    tia_begin_field(&tia);
    for (int n = 0; n < 3; n++)
        line();
    put(9, VSYNC, 0);
    assert_int_equal(tia.field.sync_lines, 3);
    for (int n = 0; n < 40; n++)
        line();
    assert_int_equal(tia.field.pixel[0][159], TIA_BLANKED);
    assert_int_equal(tia.field.pixel[2][159], TIA_BLANKED);
    assert_int_equal(tia.field.pixel[3][159], BACK);
    sync_on(228); /* belongs to the next line */
    assert_false(tia.field_done);
    line();
    assert_true(tia.field_done);
    assert_int_equal(tia.field.lines, 44);
}

static void test_unmodelled(void **state) {
    (void)state;
    const struct tia_chip chip = good();
    start(&chip);
    for (unsigned address = 0x03; address <= 0x3F; address++) {
        const bool modelled = (address >= COLUP0 && address <= CTRLPF) || (address >= PF0 && address <= PF2);
        assert_int_equal(tia_write(&tia, 9, (uint8_t)address, 0x80), modelled);
    }
    assert_true(tia_write(&tia, 9, 0x1B, 0)); /* GRP0 off */
    assert_false(tia_write(&tia, 9, VBLANK, 0x82));
}

static uint64_t with(const struct tia_chip *chip, uint8_t pf0, uint8_t pf1, uint8_t pf2, uint8_t ctrlpf) {
    start(chip);
    return show(pf0, pf1, pf2, ctrlpf);
}

static uint64_t both(uint64_t half) {
    return half | half << 20;
}

static void test_stuck_bits(void **state) {
    (void)state;
    for (int n = 0; n < 20; n++) {
        struct tia_chip chip = good();
        chip.stuck_low = 1u << n;
        assert_int_equal(with(&chip, 0xFF, 0xFF, 0xFF, 0), both(0xFFFFF & ~(1u << n)));
        chip.stuck_low = 0;
        chip.stuck_high = 1u << n;
        assert_int_equal(with(&chip, 0, 0, 0, 0), both(1u << n));
        assert_int_equal(with(&chip, 0, 0, 0, 1), UINT64_C(1) << n | UINT64_C(1) << (39 - n));
    }
}

static void test_orders_swaps_modes(void **state) {
    (void)state;
    struct tia_chip chip = good();
    chip.order_reversed = 7;
    assert_int_equal(with(&chip, 0x10, 0x80, 0x01, 0), both(1u << 3 | 1u << 11 | 1u << 19));
    chip = good();
    const uint8_t swap[3] = {0, 2, 1};
    memcpy(chip.swap, swap, sizeof swap);
    assert_int_equal(with(&chip, 0x10, 0x01, 0, 0), both(1u << 0 | 1u << 12));
    memset(chip.swap, 0, sizeof chip.swap);
    assert_int_equal(with(&chip, 0x10, 0x01, 0, 0), both(1u << 0 | 1u << 11));
    chip = good();
    chip.mirror_ignored = true;
    assert_int_equal(with(&chip, 0x10, 0, 0, 1), both(1));
    chip = good();
    chip.copy_ignored = true;
    assert_int_equal(with(&chip, 0x10, 0, 0, 0), UINT64_C(1) | UINT64_C(1) << 39);
    chip = good();
    chip.unconnected = 0x4;
    assert_int_equal(with(&chip, 0x0F, 0, 0, 0), both(1 << 2));
}

static void test_late(void **state) {
    (void)state;
    for (int late = 0; late <= 16; late++) {
        struct tia_chip chip = good();
        chip.late = (uint8_t)late;
        start(&chip);
        put(3, PF0, 0xA0);
        put(6, CTRLPF, 1);
        line();
        for (int x = 0; x < TIA_VISIBLE; x++) {
            const int at = x - late;
            const bool lit = at >= 0 && (at / 4 == 1 || at / 4 == 3 || at / 4 == 36 || at / 4 == 38);
            if (last_line()[x] != (lit ? LIT : BACK))
                fail_msg("late %d: clock %d is $%02X", late, x, last_line()[x]);
        }
    }
}

static void test_data_inputs(void **state) {
    (void)state;
    struct tia_chip chip = good();
    chip.data_low = 0x20;
    start(&chip);
    put(3, COLUBK, 0xFE);
    line();
    assert_int_equal(last_line()[0], 0xDE);
    chip = good();
    chip.data_high = 0x02; /* vertical sync for ever: none can be separated */
    tia_power_on(&tia, &chip, 3);
    for (int field = 0; field < 3; field++) {
        for (int n = 0; n < 262; n++) {
            put(3, VSYNC, n < 3 ? 2 : 0);
            line();
        }
        assert_false(tia.field.synced);
        tia_begin_field(&tia);
    }
}

static void test_flaky_rate(void **state) {
    (void)state;
    struct tia_chip chip = good();
    chip.flaky_high = 1;
    chip.flaky_rate = 1u << 30; /* a quarter */
    start(&chip);
    int shown = 0;
    for (int n = 0; n < 4000; n++) {
        line();
        shown += cells() != 0;
        tia_begin_field(&tia);
    }
    assert_in_range(shown, 850, 1150); /* 1000 +- 5.5 sigma */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_serial_order),
        cmocka_unit_test(test_colour_lands_at_its_clock),
        cmocka_unit_test(test_cell_is_fetched_at_its_edge),
        cmocka_unit_test(test_delay_by_phase),
        cmocka_unit_test(test_stuck_colour_bits),
        cmocka_unit_test(test_score_and_priority),
        cmocka_unit_test(test_blank_and_colour_bit),
        cmocka_unit_test(test_same_as_above_tells_the_truth),
        cmocka_unit_test(test_vertical_sync),
        cmocka_unit_test(test_unmodelled),
        cmocka_unit_test(test_stuck_bits),
        cmocka_unit_test(test_orders_swaps_modes),
        cmocka_unit_test(test_late),
        cmocka_unit_test(test_data_inputs),
        cmocka_unit_test(test_flaky_rate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
