/*
 * A sample of tests/proof/coverage.c: faults of a cartridge found by console and reader, good ones left
 * alone, and March C- as both run it. The whole table takes minutes: make proof PROOF=coverage.
 */
#include "commands/cover.h"
#include "commands/cover_march.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include <stdio.h>
#include <string.h>

static bool small(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL;
}

static void expect_named(int scheme, const char *fault, bool by_console) {
    const struct cover_case of = {.scheme = scheme, .ram = scheme != WIRE_F4, .fault = fault, .seed = 3};
    struct cover_seen seen;
    (by_console ? cover_console : cover_reader)(&of, &seen);
    if (seen.lost || seen.verdict != VERDICT_FAIL || !seen.named) {
        fail_msg("%s by the %s: %s %s", fault, by_console ? "console" : "reader", verdict_name(seen.verdict),
                 seen.findings);
    }
}

static void test_faults_are_found_and_named(void **state) {
    (void)state;
    static const struct {
        const char *fault;
        bool console;
    } faults[] = {{"cart-hotspot=1:0", true},  {"cart-byte=$0148:$01", true}, {"cart-no-ram", true},
                  {"cart-open=A3", false},     {"cart-short=A0:A12", false},  {"cart-data=4:high", false},
                  {"cart-hold=D2:low", false}, {"cart-slow=1.15:600", false}, {"cart-slow=all:600", false}};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i += small() ? 3 : 1) {
        expect_named(WIRE_F8, faults[i].fault, faults[i].console);
    }
}

/* What the console cannot find is never called good by accident, and never a fault of another name: it does
 * not start, and says that this is no verdict on the cartridge alone. */
static void test_what_the_console_cannot_start_from_is_no_pass(void **state) {
    (void)state;
    const struct cover_case of = {.scheme = WIRE_4K, .fault = "cart-open=A5", .seed = 3};
    struct cover_seen seen;
    cover_console(&of, &seen);
    assert_int_not_equal(seen.verdict, VERDICT_PASS);
}

static void test_good_cartridges_are_left_alone(void **state) {
    (void)state;
    for (int scheme = WIRE_2K; scheme <= WIRE_F8; scheme++) {
        const struct cover_case of = {
            .scheme = scheme, .ram = scheme == WIRE_F8, .seed = (uint64_t)scheme + 1, .noise_db = 30};
        struct cover_seen seen;
        cover_console(&of, &seen);
        if (seen.lost || seen.verdict != VERDICT_PASS) {
            fail_msg("scheme %d by the console: %s", scheme, seen.findings);
        }
        cover_reader(&of, &seen);
        if (seen.lost || seen.verdict != VERDICT_PASS) {
            fail_msg("scheme %d by the reader: %s", scheme, seen.findings);
        }
    }
}

/* Some of the few bytes that read wrong did so at the first reading: the contact is told, and no bytes. */
static void test_a_contact_is_not_told_as_wrong_bytes(void **state) {
    (void)state;
    static const char *const faults[] = {"cart-loose=A0:0.001", "cart-loose=A4:0.001", "cart-loose=D4:0.001"};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i += small() ? 2 : 1) {
        const struct cover_case of = {.scheme = WIRE_F8, .ram = true, .fault = faults[i], .seed = 1};
        struct cover_seen seen;
        cover_reader(&of, &seen);
        if (seen.lost || seen.verdict != VERDICT_FAIL || !seen.alone) {
            fail_msg("%s: %s", faults[i], seen.findings);
        }
    }
}

/* With these seeds the contact is open just when the supply comes up, or is about to go off. */
static void test_a_loose_contact_is_not_a_pulled_cartridge(void **state) {
    (void)state;
    static const uint64_t seeds[] = {27, 114};
    for (size_t i = 0; i < sizeof seeds / sizeof seeds[0]; i++) {
        const struct cover_case of = {.scheme = WIRE_4K, .fault = "cart-loose=A5:0.02", .seed = seeds[i]};
        struct cover_seen seen;
        cover_reader(&of, &seen);
        if (seen.lost || seen.verdict != VERDICT_FAIL || !seen.named) {
            fail_msg("seed %llu: %s", (unsigned long long)seeds[i], seen.findings);
        }
    }
}

static void test_march_of_both_finds_every_class(void **state) {
    (void)state;
    struct march_seen seen;
    bool kinds[CART_RAM_KINDS] = {false};
    const size_t step = small() ? 1409 : 277; /* primes: all values of all kinds in turn */
    cover_march_run(NULL, 1, &seen);
    assert_false(seen.console || seen.reader);
    for (size_t i = 0; i < cover_march_faults(); i += step) {
        struct cart_ram_fault fault;
        cover_march_fault(i, &fault);
        cover_march_run(&fault, 1, &seen);
        kinds[fault.kind] = true;
        if (!seen.console || !seen.reader) {
            fail_msg("fault %zu, kind %d: found by the console %d, by the reader %d", i, fault.kind,
                     seen.console, seen.reader);
        }
    }
    for (int kind = 0; kind < CART_RAM_KINDS && !small(); kind++) {
        assert_true(kinds[kind] || kind == CART_RAM_NO_CELL);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_faults_are_found_and_named),
        cmocka_unit_test(test_what_the_console_cannot_start_from_is_no_pass),
        cmocka_unit_test(test_good_cartridges_are_left_alone),
        cmocka_unit_test(test_a_contact_is_not_told_as_wrong_bytes),
        cmocka_unit_test(test_a_loose_contact_is_not_a_pulled_cartridge),
        cmocka_unit_test(test_march_of_both_finds_every_class),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
