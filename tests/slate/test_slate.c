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

/* ---- two slates mixed ---- */

static uint64_t word_of(const struct slate *slate) {
    uint8_t rows[SLATE_ROWS];
    uint64_t word = 0;
    slate_encode(slate, rows);
    for (int row = 0; row < SLATE_ROWS; row++) {
        word = word << 8 | rows[row];
    }
    return word;
}

static void rows_of(uint64_t word, uint8_t rows[SLATE_ROWS]) {
    for (int row = 0; row < SLATE_ROWS; row++) {
        rows[row] = (uint8_t)(word >> (8 * (SLATE_ROWS - 1 - row)));
    }
}

static bool decode_mixed(uint64_t ones, uint64_t halves, struct slate *slate) {
    uint8_t one_rows[SLATE_ROWS], half_rows[SLATE_ROWS];
    rows_of(ones, one_rows);
    rows_of(halves, half_rows);
    return slate_decode_mixed(one_rows, half_rows, slate);
}

static void mix(const struct slate *older, uint64_t *ones, uint64_t *halves) {
    struct slate younger = *older;
    younger.counter = (younger.counter + 1) & 63;
    *ones = word_of(older) & word_of(&younger);
    *halves = word_of(older) ^ word_of(&younger);
}

static void mixed_round_trip(void **unused) {
    (void)unused;
    uint64_t state = 5;
    for (int run = 0; run < 64 * 50; run++) {
        struct slate older = random_slate(&state), back = {0};
        uint64_t ones, halves;
        older.counter = (uint8_t)(run & 63);
        mix(&older, &ones, &halves);
        if (!decode_mixed(ones, halves, &back) || word_of(&back) != word_of(&older)) {
            fail_msg("hash %04x value %05x counter %02x: read as %04x %05x %02x", older.hash, older.value,
                     older.counter, back.hash, back.value, back.counter);
        }
    }
}

/* Two that are no neighbours, and two of different steps or images, are no pair. */
static void other_mixtures_refused(void **unused) {
    (void)unused;
    uint64_t state = 6;
    struct slate back = {1, 2, 3};
    for (int run = 0; run < 20000; run++) {
        const struct slate a = random_slate(&state);
        struct slate b = a;
        if (run % 4 == 0) {
            b.counter = (uint8_t)((a.counter + 2 + next_random(&state) % 61) & 63);
        } else if (run % 4 == 1) {
            b.counter = (a.counter + 1) & 63;
            b.value ^= UINT32_C(1) << next_random(&state) % 20;
        } else if (run % 4 == 2) {
            b.counter = (a.counter + 1) & 63;
            b.hash ^= (uint16_t)(1 << next_random(&state) % 16);
        }
        if (decode_mixed(word_of(&a) & word_of(&b), word_of(&a) ^ word_of(&b), &back)) {
            fail_msg("run %d: %04x %05x %02x with %04x %05x %02x", run, a.hash, a.value, a.counter, b.hash,
                     b.value, b.counter);
        }
    }
    assert_int_equal(back.hash, 1);
    assert_int_equal(back.value, 2);
    assert_int_equal(back.counter, 3);
}

/* The figures of slate.h: how far the six patterns of halves lie from none and from each other, by our own
 * long division. */
static void patterns_of_halves_lie_apart(void **unused) {
    (void)unused;
    static const int weights[6] = {8, 8, 8, 8, 10, 10};
    uint64_t pattern[7] = {0};
    for (int k = 1; k <= 6; k++) {
        uint8_t dividend[BITS] = {0};
        memset(dividend + MESSAGE - k, 1, (size_t)k);
        pattern[k] = ((UINT64_C(1) << k) - 1) << CHECK | long_division(dividend);
        assert_int_equal(__builtin_popcountll(pattern[k]), weights[k - 1]);
    }
    for (int a = 0; a <= 6; a++) {
        for (int b = 0; b < a; b++) {
            assert_true(__builtin_popcountll(pattern[a] ^ pattern[b]) >= (b == 0 ? 8 : 6));
        }
    }
}

struct places {
    uint64_t bit[BITS];
    int count;
};

static long misread(uint64_t ones, uint64_t halves, const struct places *places, int left, int from) {
    struct slate slate;
    long count = 0;
    for (int i = from; i < places->count; i++) {
        uint64_t wrong = ones ^ places->bit[i];
        count +=
            left == 1 ? decode_mixed(wrong, halves, &slate) : misread(wrong, halves, places, left - 1, i + 1);
    }
    return count;
}

/* Every pattern of one to three bits taken for their opposite, counters of all six kinds, by the decoder
 * itself. The code is linear, so one hash and value stand for all. Counted apart from this code too, by
 * syndromes. */
static void opposite_bits_noticed_as_stated(void **unused) {
    (void)unused;
    static const long stated[6][3] = {{0, 9, 112}, {0, 1, 56}, {0, 0, 24},
                                      {0, 0, 11},  {0, 0, 23}, {0, 1, 20}};
    for (int k = 1; k <= 6; k++) {
        const struct slate older = {0xA5C3, 0x12345, (uint8_t)((1 << (k - 1)) - 1)};
        struct places places = {.count = 0};
        uint64_t ones, halves;
        mix(&older, &ones, &halves);
        for (int i = 0; i < BITS; i++) {
            if ((halves >> i & 1) == 0) {
                places.bit[places.count++] = UINT64_C(1) << i;
            }
        }
        for (int wrong = 1; wrong <= 3; wrong++) {
            assert_int_equal(misread(ones, halves, &places, wrong, 0), stated[k - 1][wrong - 1]);
        }
    }
}

/* A bit taken for half, or a half for a bit: one to three of them in a mixed slate, and in a plain one. */
static void wrong_halves_always_noticed(void **unused) {
    (void)unused;
    struct slate older = {0x1D0F, 0x00042, 21}, back;
    uint64_t ones, halves;
    for (int plain = 0; plain < 2; plain++) {
        mix(&older, &ones, &halves);
        ones = plain ? word_of(&older) : ones;
        halves = plain ? 0 : halves;
        for (int i = 0; i < BITS; i++) {
            for (int j = i; j < BITS; j++) {
                for (int k = j; k < BITS; k++) {
                    uint64_t turned = UINT64_C(1) << i | UINT64_C(1) << j | UINT64_C(1) << k;
                    /* What was half reads as 0 or as 1. */
                    uint64_t now = halves ^ turned;
                    if (decode_mixed(ones & ~now, now, &back) ||
                        decode_mixed((ones | (halves & turned)) & ~now, now, &back)) {
                        fail_msg("places %d %d %d of a %s slate", i, j, k, plain ? "plain" : "mixed");
                    }
                }
            }
        }
    }
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
        cmocka_unit_test(mixed_round_trip),
        cmocka_unit_test(other_mixtures_refused),
        cmocka_unit_test(patterns_of_halves_lie_apart),
        cmocka_unit_test(opposite_bits_noticed_as_stated),
        cmocka_unit_test(wrong_halves_always_noticed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
