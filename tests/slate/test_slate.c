/* The slate's code against an independent long division and by enumeration of errors. */
#include "slate/slate.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { BITS = 56, MESSAGE = 42, CHECK = 14 };

/* The syndrome of one wrong bit in each place of the 56: its polynomial x^i divided by hand. */
static unsigned syndrome[BITS];

/* Long division on paper, bit by bit, over an array: 15 bits of divisor under the dividend. The polynomial is
 * typed in from slotjig/slate.h's text as x^14 + 0x111F. */
static unsigned long_division(const uint8_t dividend[BITS]) {
    static const uint8_t divisor[CHECK + 1] = {1, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1, 1, 1, 1, 1};
    uint8_t rest[BITS];
    memcpy(rest, dividend, sizeof rest);
    for (int i = 0; i + CHECK < BITS; i++) {
        for (int k = 0; rest[i] != 0 && k <= CHECK; k++) {
            rest[i + k] ^= (uint8_t)(k == 0 ? 0 : divisor[k]);
        }
        rest[i] = 0;
    }
    unsigned remainder = 0;
    for (int i = MESSAGE; i < BITS; i++) {
        remainder = remainder << 1 | rest[i];
    }
    return remainder;
}

static void unpack(const uint8_t rows[SLATE_ROWS], uint8_t bits[BITS]) {
    for (int i = 0; i < BITS; i++) {
        bits[i] = rows[i / 8] >> (7 - i % 8) & 1;
    }
}

/* xorshift64*, so that a failure can be repeated from its seed. */
static uint64_t next_random(uint64_t *state) {
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    return *state * UINT64_C(2685821657736338717);
}

static struct slate random_slate(uint64_t *state) {
    const uint64_t bits = next_random(state);
    return (struct slate){.hash = (uint16_t)bits,
                          .value = (uint32_t)(bits >> 16) & 0xFFFFF,
                          .counter = (uint8_t)(bits >> 40 & 0x3F)};
}

static void check_is_long_division(void **unused) {
    (void)unused;
    uint64_t state = 1;
    for (int run = 0; run < 2000; run++) {
        const struct slate slate = random_slate(&state);
        uint8_t rows[SLATE_ROWS];
        uint8_t bits[BITS];
        slate_encode(&slate, rows);
        unpack(rows, bits);
        /* The whole code word without its complement is a multiple of the polynomial. */
        const unsigned remainder = long_division(bits) ^ SLATE_XOROUT;
        if (remainder != 0) {
            fail_msg("hash %04x value %05x counter %02x: remainder %04x", slate.hash, slate.value,
                     slate.counter, remainder);
        }
    }
}

static void layout_is_as_written(void **unused) {
    (void)unused;
    const struct slate slate = {.hash = 0xA5C3, .value = 0x12345, .counter = 0x2B};
    uint8_t rows[SLATE_ROWS];
    slate_encode(&slate, rows);
    /* 1010 0101 1100 0011 | 0001 0010 0011 0100 0101 | 101011 | check: slotjig/slate.h's text, by hand. */
    assert_int_equal(rows[0], 0xA5);
    assert_int_equal(rows[1], 0xC3);
    assert_int_equal(rows[2], 0x12);
    assert_int_equal(rows[3], 0x34);
    assert_int_equal(rows[4], 0x5A);
    assert_int_equal(rows[5] & 0xC0, 0xC0);
    assert_int_equal((rows[5] & 0x3F) << 8 | rows[6], slate_check(&slate));
}

static void round_trip(void **unused) {
    (void)unused;
    uint64_t state = 2;
    for (int run = 0; run < 2000; run++) {
        const struct slate slate = random_slate(&state);
        struct slate back = {0};
        uint8_t rows[SLATE_ROWS];
        slate_encode(&slate, rows);
        assert_true(slate_decode(rows, &back));
        assert_int_equal(back.hash, slate.hash);
        assert_int_equal(back.value, slate.value);
        assert_int_equal(back.counter, slate.counter);
    }
}

static void flat_and_inverted_refused(void **unused) {
    (void)unused;
    struct slate slate = {.hash = 1, .value = 2, .counter = 3};
    uint8_t rows[SLATE_ROWS];
    memset(rows, 0x00, sizeof rows);
    assert_false(slate_decode(rows, &slate));
    memset(rows, 0xFF, sizeof rows);
    assert_false(slate_decode(rows, &slate));
    uint64_t state = 3;
    for (int run = 0; run < 2000; run++) {
        const struct slate sent = random_slate(&state);
        slate_encode(&sent, rows);
        for (int i = 0; i < SLATE_ROWS; i++) {
            rows[i] ^= 0xFF;
        }
        if (slate_decode(rows, &slate)) {
            fail_msg("inverted: hash %04x value %05x counter %02x", sent.hash, sent.value, sent.counter);
        }
    }
    /* A refused slate leaves the caller's alone. */
    assert_int_equal(slate.hash, 1);
    assert_int_equal(slate.value, 2);
    assert_int_equal(slate.counter, 3);
}

static void parts_add_up(void **unused) {
    (void)unused;
    uint64_t state = 4;
    for (int run = 0; run < 2000; run++) {
        const struct slate slate = random_slate(&state);
        const struct slate bare = {.hash = slate.hash};
        assert_int_equal(slate_check(&slate),
                         slate_check(&bare) ^ slate_check_part(slate.value, slate.counter));
        assert_int_equal(slate_check_part(slate.value, slate.counter),
                         slate_check_part(slate.value, 0) ^ slate_check_part(0, slate.counter));
    }
    assert_int_equal(slate_check_part(0, 0), 0);
}

/* ---- Hamming distance, from our own code's answers to single wrong bits ---- */

static void find_syndromes(void) {
    for (int i = 0; i < MESSAGE; i++) {
        /* Bit i of the message alone: what the encoder makes of it, without hash in slate_check_part(). */
        struct slate slate = {0};
        if (i < 16) {
            slate.hash = (uint16_t)(0x8000 >> i);
        } else if (i < 36) {
            slate.value = UINT32_C(1) << (35 - i);
        } else {
            slate.counter = (uint8_t)(1 << (41 - i));
        }
        syndrome[i] = slate_check(&slate) ^ SLATE_XOROUT;
    }
    for (int i = MESSAGE; i < BITS; i++) {
        syndrome[i] = 1U << (BITS - 1 - i);
    }
}

/* Every syndrome has an odd number of ones (the polynomial has x + 1 as a factor), so no odd number of wrong
 * bits cancels out. */
static void odd_errors_are_always_noticed(void **unused) {
    (void)unused;
    find_syndromes();
    for (int i = 0; i < BITS; i++) {
        if (__builtin_popcount(syndrome[i]) % 2 == 0) {
            fail_msg("bit %d: syndrome %04x", i, syndrome[i]);
        }
    }
}

/* Counts sets of `left` wrong bits from place `from` on whose syndromes cancel what is there. */
static long unnoticed(int left, int from, unsigned sum) {
    long count = 0;
    if (left == 1) {
        for (int i = from; i < BITS; i++) {
            count += syndrome[i] == sum;
        }
        return count;
    }
    for (int i = from; i + left <= BITS; i++) {
        count += unnoticed(left - 1, i + 1, sum ^ syndrome[i]);
    }
    return count;
}

static void hamming_distance_is_six(void **unused) {
    (void)unused;
    find_syndromes();
    for (int weight = 1; weight <= 5; weight++) {
        const long count = unnoticed(weight, 0, 0);
        if (count != 0) {
            fail_msg("%ld patterns of %d wrong bits go unnoticed", count, weight);
        }
    }
    /* Six is not exceeded. Of the C(56,6) = 32,468,436 patterns [A] about one in 2^13 goes unnoticed: errors
     * of odd weight never do, so those of even weight do twice as often as the 2^-14 of all errors together.
     */
    const long six = unnoticed(6, 0, 0);
    const double rate = (double)six / 32468436.0;
    print_message("# 6 wrong bits of 56: %ld patterns unnoticed, rate %.3g (2^-13 = %.3g)\n", six, rate,
                  1 / 8192.0);
    assert_true(six > 0);
    assert_true(rate < 1.25 / 8192.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(check_is_long_division),
        cmocka_unit_test(layout_is_as_written),
        cmocka_unit_test(round_trip),
        cmocka_unit_test(flat_and_inverted_refused),
        cmocka_unit_test(parts_add_up),
        cmocka_unit_test(odd_errors_are_always_noticed),
        cmocka_unit_test(hamming_distance_is_six),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
