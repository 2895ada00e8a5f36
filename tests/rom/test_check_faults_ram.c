/*
 * What rounds of plan `cartridge` say of bad RAM, of a bus that is held, and of its own starts and counts, on
 * the console model with the faults of virtual/cart_model.h. Arithmetic [A]: which items a fault makes wrong.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "rom/check_faulty.h"
#include "rom/check_kernel.h"

/* ---- RAM ---- */

static void ram_fault(const struct cart_ram_fault *fault) {
    struct cart_faults faults = good();
    char what[80];
    faults.ram_faults = 1;
    faults.ram[0] = *fault;
    snprintf(what, sizeof what, "RAM fault %d at %d.%d, value %d, by %d.%d when %d", fault->kind, fault->cell,
             fault->bit, fault->value, fault->by_cell, fault->by, fault->when);
    must_watch(&faults, NULL, what);
    if (wrong_of(CHECK_RAM) == 0) {
        fail_msg("%s: not found", what);
    }
    const struct check_item *cell = round_item(&seen, CHECK_RAM_CELL, -1);
    const struct check_item *when = round_item(&seen, CHECK_RAM_WHEN, -1);
    assert_non_null(cell);
    assert_non_null(when);
    if (fault->kind <= CART_RAM_STATE) {
        assert_int_equal(cell->place, fault->cell);
        assert_int_equal(cell->what, 1 << fault->bit);
    }
    assert_int_not_equal(what_of(CHECK_RAM, when->place >> 4) & 1 << (when->place & 15), 0);
    assert_true(when->what > 0);
}

static void test_ram(void **state) {
    (void)state;
    static const uint8_t cells[] = {0, 37, 127};
    /* Which of value (1) and when (2) a kind has; the last three have neither. */
    static const int senses_of[CART_RAM_KINDS] = {[CART_RAM_STUCK] = 1,
                                                  [CART_RAM_TRANSITION] = 1,
                                                  [CART_RAM_INVERSION] = 2,
                                                  [CART_RAM_IDEMPOTENT] = 3,
                                                  [CART_RAM_STATE] = 3};
    begin(WIRE_4K, true);
    for (int kind = 0; kind < CART_RAM_KINDS; kind++) {
        for (size_t i = 0; i < (is_small() ? 1 : sizeof cells); i++) {
            const int senses = i == 0 && !is_small() ? senses_of[kind] : 0;
            for (int sense = 3 & ~senses; sense < 4; sense++) {
                if ((sense | senses) != 3) {
                    continue;
                }
                const struct cart_ram_fault fault = {.kind = (uint8_t)kind,
                                                     .cell = cells[i],
                                                     .bit = (uint8_t)(i + 2),
                                                     .value = sense & 1,
                                                     .by_cell = cells[(i + 1) % 3],
                                                     .by = (uint8_t)(2 * i),
                                                     .when = (uint8_t)(sense >> 1)};
                ram_fault(&fault);
            }
        }
    }
    end();
}

/* Between the same bits of two cells no background helps: it takes the elements that go down, too. */
static void test_ram_of_one_bit(void **state) {
    (void)state;
    begin(WIRE_4K, true);
    for (int sense = 0; sense < 8; sense += is_small() ? 3 : 1) {
        const struct cart_ram_fault fault = {.kind = CART_RAM_IDEMPOTENT,
                                             .cell = sense & 4 ? 90 : 12,
                                             .by_cell = sense & 4 ? 12 : 90,
                                             .bit = 5,
                                             .by = 5,
                                             .value = sense & 1,
                                             .when = (uint8_t)(sense >> 1 & 1)};
        ram_fault(&fault);
    }
    end();
}

static void test_no_ram(void **state) {
    (void)state;
    begin(WIRE_F8, true);
    struct cart_faults faults = good();
    faults.no_ram = true;
    must_watch(&faults, NULL, "no RAM");
    assert_int_equal(wrong_of(CHECK_RAM), CHECK_BACKGROUNDS);
    assert_int_equal(round_item(&seen, CHECK_RAM_WHEN, -1)->what, 255);
    end();
}

/* ---- what is quiet ---- */

/* Drives a line while a port's direction or pins are read or written. */
static uint8_t holds_ports(void *state, uint16_t address, uint8_t driven, uint8_t bus) {
    (void)driven;
    check_slot_pass(state, address, bus);
    return (address & 0x0284) == 0x0280 ? bus & 0xF7 : bus;
}

static void test_ports(void **state) {
    (void)state;
    const struct cartridge slot = {
        .state = &check_cart, .read = check_slot_read, .write = check_slot_write, .hold = holds_ports};
    begin(WIRE_4K, false);
    const struct cart_faults faults = good();
    must_watch(&faults, &slot, "ports held");
    assert_int_equal(what_of(CHECK_QUIET, CHECK_QUIET_PORTS), 0x08);
    assert_int_equal(wrong_of(CHECK_QUIET), 1);
    assert_int_equal(check_console.riot.direction[0] | check_console.riot.direction[1], 0);
    end();
}

/* Drives D3 low in the cycles with A12 = 0 that follow one operand of the check's own code, when it is
 * fetched right behind the byte before it, and in no other. */
static uint16_t last_fetch, holds_after;
static bool in_a_row, follows;

static uint8_t note_fetch(void *state, uint16_t address, uint8_t bus) {
    follows = in_a_row && address == last_fetch + 1;
    last_fetch = address;
    in_a_row = true;
    return check_slot_read(state, address, bus);
}

static uint8_t holds_there(void *state, uint16_t address, uint8_t driven, uint8_t bus) {
    (void)driven;
    in_a_row = false;
    check_slot_pass(state, address, bus);
    return follows && last_fetch == holds_after ? bus & 0xF7 : bus;
}

static uint16_t address_of(const uint8_t *code, size_t count) {
    for (size_t at = 0; at + count <= image->size; at++) {
        if (memcmp(image->bytes + at, code, count) == 0) {
            return (uint16_t)(0x1000 + at);
        }
    }
    fail_msg("the check has another code");
    return 0;
}

/* A line that is held while RAM, timer or the open inputs are read back, one after the other. */
static void test_held(void **state) {
    (void)state;
    static const struct {
        const char *what;
        uint8_t code[8];
        size_t count, fetch; /* the operand's last byte before the read */
        int place, least, errors;
    } reads[] = {
        {"EOR $80,X", {0x95, 0x80, 0x55, 0x80}, 4, 3, CHECK_QUIET_RAM, 0x08, 1},
        {"LDY INTIM", {0x84, 0x80, 0xAC, 0x84, 0x02, 0xC4, 0x80}, 7, 4, CHECK_QUIET_TIMER, 0x08, 1},
        {"LDA $0A", {0xA5, 0x0A, 0x49, 0x0A}, 4, 1, CHECK_QUIET_OPEN, 0x08, 0},
    };
    const struct cartridge slot = {
        .state = &check_cart, .read = note_fetch, .write = check_slot_write, .hold = holds_there};
    begin(WIRE_4K, false);
    for (size_t i = 0; i < sizeof reads / sizeof reads[0]; i++) {
        const struct cart_faults faults = good();
        holds_after = (uint16_t)(address_of(reads[i].code, reads[i].count) + reads[i].fetch);
        must_watch(&faults, &slot, reads[i].what);
        assert_int_equal(what_of(CHECK_QUIET, reads[i].place) & reads[i].least, reads[i].least);
        assert_int_equal(wrong_of(CHECK_QUIET), 1);
        /* Open inputs are told, and are no error. */
        const struct check_item *errors = round_item(&seen, CHECK_ERRORS, -1);
        assert_int_equal(errors->place << 8 | errors->what,
                         reads[i].errors * check_console.riot.ram[0xD3 - 0x80]);
    }
    end();
}

/* ---- starts ---- */

static int starts[SCHEME_BANKS_MAX];

/* A start: the reset vector's two bytes, and a fetch from where they point. */
static uint8_t count_starts(void *state, uint16_t address, uint8_t bus) {
    const uint16_t reset =
        (uint16_t)((image->bytes[image->size - 4] | image->bytes[image->size - 3] << 8) & 0x1FFF);
    const bool begins = last_fetch == 0x1FFD && address == reset;
    const uint8_t byte = note_fetch(state, address, bus);
    starts[check_cart.bank] += begins;
    return byte;
}

/* Of each bank, but of one with a wrong byte. */
static void test_each_start(void **state) {
    (void)state;
    const struct cartridge slot = {
        .state = &check_cart, .read = count_starts, .write = check_slot_write, .pass = check_slot_pass};
    begin(WIRE_F6, false);
    for (int wrong = 0; wrong < 2; wrong++) {
        struct cart_faults faults = good();
        faults.bytes = (uint8_t)wrong;
        faults.byte[0] = (struct cart_byte){0x0345, 0x11};
        memset(starts, 0, sizeof starts);
        must_watch(&faults, &slot, "starts");
        assert_int_equal(starts[0] > 0, !wrong);
        assert_true(starts[1] > 0);
        assert_true(starts[2] > 0);
        assert_true(starts[3] > 1); /* at power-on, and then as the others */
    }
    end();
}

/* Rounds and errors go on beyond a byte; errors stop at FFFF. */
static void test_counts(void **state) {
    (void)state;
    uint8_t *const ram = check_console.riot.ram;
    begin(WIRE_4K, false);
    struct cart_faults faults = good();
    faults.bytes = 1;
    faults.byte[0] = (struct cart_byte){0x0045, 0x11};
    static const struct {
        uint8_t before[2];
        int errors;
    } counts[] = {{{0xFF, 0x00}, 0x0100}, {{0xFE, 0xFF}, 0xFFFF}, {{0xFF, 0xFF}, 0xFFFF}};
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        round_power_on(plan, image, &faults, NULL, SEED);
        assert_true(round_begin(plan));
        memcpy(ram + (0xD1 - 0x80), counts[i].before, 2);
        ram[0xD3 - 0x80] = 0xFF;
        assert_true(round_watch(plan, &seen, MOST_FIELDS));
        const struct check_item *errors = round_item(&seen, CHECK_ERRORS, -1);
        const struct check_item *rounds = round_item(&seen, CHECK_ROUND, -1);
        assert_int_equal(errors->place << 8 | errors->what, counts[i].errors);
        assert_int_equal(rounds->place << 8 | rounds->what, 0x0100);
    }
    end();
}

/* The first wrong item is kept, and all are counted. */
static void test_errors(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    struct cart_faults faults = good();
    faults.bytes = 2;
    faults.byte[0] = (struct cart_byte){0x0345, 0x11};
    faults.byte[1] = (struct cart_byte){0x0745, 0x80};
    must_watch(&faults, NULL, "two bytes");
    const struct check_item *errors = round_item(&seen, CHECK_ERRORS, -1);
    const int rounds = check_console.riot.ram[0xD3 - 0x80];
    assert_int_equal(errors->place << 8 | errors->what, 2 * rounds);
    const uint8_t *first = check_console.riot.ram + (0xD5 - 0x80);
    assert_int_equal(first[2], CHECK_PAGE);
    assert_int_equal(first[1], 3);
    assert_int_equal(first[0], 3);
    end();
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ram),    cmocka_unit_test(test_ram_of_one_bit),
        cmocka_unit_test(test_no_ram), cmocka_unit_test(test_ports),
        cmocka_unit_test(test_held),   cmocka_unit_test(test_each_start),
        cmocka_unit_test(test_counts), cmocka_unit_test(test_errors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
