/*
 * RAM by class: what March C- says of 128 cells with one fault, worked out here cell by cell and apart from
 * the judge, must lead to that class. Definitions: A. J. van de Goor, "Testing Semiconductor Memories", 1991
 * (from memory; the same as in "Using March Tests to Test SRAMs", IEEE Design & Test 10(1), 1993).
 */
#include "verdict/check_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum fault { STUCK, TRANSITION, INVERSION, IDEMPOTENT, STATE, NO_CELL, OTHER_CELL, BOTH_CELLS, FAULTS };
static const char *const names[FAULTS] = {"stuck", "transition", "inversion",  "idempotent",
                                          "state", "no cell",    "other cell", "both cells"};
static const enum finding_kind kinds[FAULTS] = {FINDING_CART_RAM_STUCK,   FINDING_CART_RAM_TRANSITION,
                                                FINDING_CART_RAM_COUPLED, FINDING_CART_RAM_COUPLED,
                                                FINDING_CART_RAM_COUPLED, FINDING_CART_RAM_DECODER,
                                                FINDING_CART_RAM_DECODER, FINDING_CART_RAM_DECODER};

struct ram {
    enum fault fault;
    int victim, other, bit, by;
    bool value, when;
    bool cells[128][8];
};

static void force(struct ram *ram) {
    bool *bit = &ram->cells[ram->victim][ram->bit];
    if (ram->fault == STUCK || (ram->fault == STATE && ram->cells[ram->other][ram->by] == ram->when)) {
        *bit = ram->value;
    }
}

static void write_bits(struct ram *ram, int cell, unsigned value) {
    const bool before = ram->cells[ram->other][ram->by];
    for (int i = 0; i < 8; i++) {
        const bool wanted = value >> i & 1;
        const bool stays = ram->fault == TRANSITION && cell == ram->victim && i == ram->bit &&
                           wanted == ram->value && ram->cells[cell][i] != ram->value;
        ram->cells[cell][i] = stays ? ram->cells[cell][i] : wanted;
    }
    const bool after = ram->cells[ram->other][ram->by];
    if (before != after && after == ram->when) {
        bool *bit = &ram->cells[ram->victim][ram->bit];
        *bit = ram->fault == INVERSION ? !*bit : ram->fault == IDEMPOTENT ? ram->value : *bit;
    }
    force(ram);
}

static void write_ram(struct ram *ram, int address, unsigned value) {
    if (address != ram->victim || (ram->fault != NO_CELL && ram->fault != OTHER_CELL)) {
        write_bits(ram, address, value);
    }
    if (address == ram->victim && (ram->fault == OTHER_CELL || ram->fault == BOTH_CELLS)) {
        write_bits(ram, ram->other, value);
    }
}

static unsigned bits_of(const struct ram *ram, int cell) {
    unsigned value = 0;
    for (int i = 0; i < 8; i++) {
        value |= (unsigned)ram->cells[cell][i] << i;
    }
    return value;
}

static unsigned read_ram(const struct ram *ram, int address) {
    const bool at = address == ram->victim;
    return at && ram->fault == NO_CELL      ? 0xFF
           : at && ram->fault == OTHER_CELL ? bits_of(ram, ram->other)
           : at && ram->fault == BOTH_CELLS ? bits_of(ram, address) & bits_of(ram, ram->other)
                                            : bits_of(ram, address);
}

/* What the console tells of a round. */
struct told {
    unsigned elements[CHECK_BACKGROUNDS];
    int cell, background, element, wrong;
    unsigned flipped;
};

static void march_one(struct ram *ram, int background, int element, int address, struct told *told) {
    const unsigned zero = check_backgrounds[background], one = zero ^ 0xFF;
    const unsigned reads[CHECK_ELEMENTS] = {0, zero, one, zero, one, zero};
    const unsigned writes[CHECK_ELEMENTS] = {zero, one, zero, one, zero, 0};
    const unsigned flipped = element > 0 ? read_ram(ram, address) ^ reads[element] : 0;
    if (flipped != 0) {
        told->elements[background] |= 1u << element;
        if (told->wrong++ == 0) {
            told->cell = address;
            told->background = background;
            told->element = element;
            told->flipped = flipped;
        }
    }
    if (element < 5) {
        write_ram(ram, address, 0xF0); /* STA $F000,X: the bus still has the operand's high byte [H, P] */
        write_ram(ram, address, writes[element]);
    }
}

static struct told march(struct ram *ram) {
    struct told told = {.cell = -1};
    for (int background = 0; background < CHECK_BACKGROUNDS; background++) {
        for (int element = 0; element < CHECK_ELEMENTS; element++) {
            for (int i = 0; i < 128; i++) {
                march_one(ram, background, element,
                          element == 0 || element == 3 || element == 4 ? 127 - i : i, &told);
            }
        }
    }
    return told;
}

static void tell(struct check_stand *stand, const struct told *told) {
    bool first = true;
    stand->changes = stand->extras = 0;
    for (int i = 0; i < CHECK_BACKGROUNDS; i++) {
        if (told->elements[i] == 0) {
            continue;
        }
        const struct check_item item = {CHECK_RAM, (uint8_t)i, (uint8_t)told->elements[i]};
        check_stand_change(stand, CHECK_RAM, i, item.what);
        if (first) {
            stand->extra[stand->extras++] = (struct check_stand_extra){
                item, {CHECK_RAM_CELL, (uint8_t)told->cell, (uint8_t)told->flipped}};
            stand->extra[stand->extras++] =
                (struct check_stand_extra){item,
                                           {CHECK_RAM_WHEN, (uint8_t)(told->background << 4 | told->element),
                                            (uint8_t)(told->wrong < 255 ? told->wrong : 255)}};
        }
        first = false;
    }
}

static struct ram faulty(enum fault fault, unsigned dice) {
    struct ram ram = {.fault = fault,
                      .victim = (int)(dice % 128),
                      .other = (int)(dice / 128 % 127),
                      .bit = (int)(dice >> 14 & 7),
                      .by = (int)(dice >> 17 & 7),
                      .value = dice >> 20 & 1,
                      .when = dice >> 21 & 1};
    ram.other += ram.other >= ram.victim;
    for (int i = 0; i < 128 * 8; i++) {
        ram.cells[i / 8][i % 8] = (dice * 2654435761u >> (i * 7 % 32)) & 1;
    }
    force(&ram);
    return ram;
}

static void each_class_is_named(void **state) {
    (void)state;
    const char *wanted = getenv("SLOTJIG_TEST_SMALL");
    const int tries = wanted != NULL && strcmp(wanted, "1") == 0 ? 2 : 6;
    for (int fault = 0; fault < FAULTS; fault++) {
        int named = 0, alone = 0;
        for (int n = 0; n < tries; n++) {
            const unsigned dice = (unsigned)(n * 7919 + fault * 104729 + 12345) * 2246822519u;
            struct ram ram = faulty((enum fault)fault, dice);
            struct check_stand stand;
            check_stand_open(&stand, WIRE_4K, true);
            for (int round = 0; round < 3; round++) {
                const struct told told = march(&ram);
                tell(&stand, &told);
                check_stand_round(&stand);
            }
            const struct result *result = judge_result(stand.judge);
            assert_int_equal(result->verdict, VERDICT_FAIL);
            const bool found = check_stand_finding(result, kinds[fault]) != NULL;
            named += found;
            alone += found && result->finding_count == 1;
            if (!found) {
                fprintf(stderr, "%s, dice %u: %s\n", names[fault], dice, result->findings[0].text);
            }
            check_stand_close(&stand);
        }
        printf("%s: named in %d of %d, alone in %d\n", names[fault], named, tries, alone);
        assert_int_equal(named, tries);
    }
}

/* Nothing answers, so that the bus keeps one byte. */
static void a_missing_ram_reads_one_byte(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, true);
    struct told told = {.cell = 0, .wrong = 255, .element = 1, .flipped = 0xF0};
    for (int i = 0; i < CHECK_BACKGROUNDS; i++) {
        told.elements[i] = check_backgrounds[i] == 0xF0 ? 0x14 : check_backgrounds[i] == 0x0F ? 0x2A : 0x3E;
    }
    tell(&stand, &told);
    check_stand_rounds(&stand, 2);
    const struct result *result = judge_result(stand.judge);
    assert_int_equal(result->finding_count, 1);
    assert_int_equal(result->findings[0].kind, FINDING_CART_RAM_MISSING);
    check_stand_close(&stand);
}

/* Nothing that is written stays. */
static void a_missing_ram_is_told(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, true);
    struct told told = {.cell = 0, .wrong = 255, .element = 1, .flipped = 0x5A};
    for (int i = 0; i < CHECK_BACKGROUNDS; i++) {
        told.elements[i] = 0x3E;
    }
    tell(&stand, &told);
    check_stand_rounds(&stand, 2);
    const struct result *result = judge_result(stand.judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->finding_count, 1);
    assert_int_equal(result->findings[0].kind, FINDING_CART_RAM_MISSING);
    check_stand_close(&stand);
}

/* Two faults at once are no single one. */
static void many_faults_are_just_that(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, true);
    struct told told = {.cell = 9, .wrong = 60, .element = 2, .flipped = 0x11};
    for (int i = 0; i < CHECK_BACKGROUNDS; i++) {
        told.elements[i] = 0x14;
    }
    tell(&stand, &told);
    check_stand_rounds(&stand, 2);
    const struct result *result = judge_result(stand.judge);
    assert_int_equal(result->finding_count, 1);
    assert_int_equal(result->findings[0].kind, FINDING_CART_RAM_FAULTY);
    assert_non_null(strstr(result->findings[0].text, "cell 9"));
    check_stand_close(&stand);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_class_is_named),
        cmocka_unit_test(a_missing_ram_is_told),
        cmocka_unit_test(a_missing_ram_reads_one_byte),
        cmocka_unit_test(many_faults_are_just_that),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
