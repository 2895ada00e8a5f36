/*
 * The encoder: bytes, labels, delays, and errors that are kept.
 * Codes: MCS6500 Family Programming Manual, 1976, instruction set summary.
 */
#include "rom/encoder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct encoder encoder;

static void refused(const char *words) {
    struct problem problem = {0};
    assert_false(encoder_finish(&encoder, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, words) == NULL) {
        fail_msg("'%s' does not say '%s'", problem.text, words);
    }
}

static void finish(void) {
    struct problem problem = {0};
    if (!encoder_finish(&encoder, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static void test_bytes(void **state) {
    (void)state;
    static const uint8_t wanted[] = {0xA9, 0x12, 0x85, 0x34, 0xBD, 0x78, 0x56, 0xEA, 0x4A, 0x95,
                                     0x80, 0xD0, 0xF3, 0x4C, 0x07, 0xF8, 0xB1, 0x22, 0x00, 0xF8};
    encoder_start(&encoder, 2048);
    assert_int_equal(encoder.origin, 0xF800);
    encode_label(&encoder, "start");
    encode(&encoder, "LDA", MODE_IMMEDIATE, 0x12, NULL);
    encode(&encoder, "STA", MODE_ZERO, 0x34, NULL);
    encode(&encoder, "LDA", MODE_ABSOLUTE_X, 0x5678, NULL);
    encode(&encoder, "NOP", MODE_IMPLIED, 0, NULL);
    encode(&encoder, "LSR", MODE_ACCUMULATOR, 0, NULL);
    encode(&encoder, "STA", MODE_ZERO_X, 0x80, NULL);
    encode_to(&encoder, "BNE", MODE_RELATIVE, "start", 0, NULL);
    encode_to(&encoder, "JMP", MODE_ABSOLUTE, "start", 7, NULL);
    encode(&encoder, "LDA", MODE_INDIRECT_Y, 0x22, NULL);
    encode_address(&encoder, "start");
    finish();
    assert_int_equal(encoder.size, sizeof wanted);
    assert_memory_equal(encoder.bytes, wanted, sizeof wanted);
    assert_int_equal(encoder.code_bytes, sizeof wanted - 2);
    assert_int_equal(encoder.table_bytes, 2);
}

/* The manual has 151 codes; each is found again from its mnemonic and mode. */
static void test_every_code(void **state) {
    (void)state;
    int documented = 0;
    for (int code = 0; code < 256; code++) {
        const struct opcode facts = opcode_facts((uint8_t)code);
        uint8_t found = 0;
        if (facts.mode == MODE_NONE) {
            continue;
        }
        documented++;
        assert_true(opcode_find(facts.mnemonic, facts.mode, &found));
        assert_int_equal(found, code);
    }
    assert_int_equal(documented, 151);
}

static void delay_of(int cycles) {
    int counted = 0;
    encoder_start(&encoder, 2048);
    encode_delay(&encoder, cycles);
    finish();
    for (size_t at = 0; at < encoder.size;) {
        const struct opcode facts = opcode_facts(encoder.bytes[at]);
        assert_true(strcmp(facts.mnemonic, "NOP") == 0 || strcmp(facts.mnemonic, "BIT") == 0);
        counted += facts.cycles;
        at += (size_t)opcode_bytes(facts.mode);
    }
    if (counted != cycles) {
        fail_msg("a delay of %d cycles takes %d", cycles, counted);
    }
}

static void test_delays(void **state) {
    (void)state;
    delay_of(0);
    for (int cycles = 2; cycles <= 76; cycles++) {
        delay_of(cycles);
    }
    encoder_start(&encoder, 2048);
    encode_delay(&encoder, 1);
    refused("a delay of one cycle");
}

/* A branch reaches from -128 to +127 bytes from its end [manual, relative addressing]. */
static void branch_over(int bytes, bool forward) {
    encoder_start(&encoder, 2048);
    if (forward) {
        encode_to(&encoder, "BNE", MODE_RELATIVE, "there", 0, NULL);
        encode_fill(&encoder, (size_t)(2 + bytes));
        encode_label(&encoder, "there");
    } else {
        encode_label(&encoder, "there");
        encode_fill(&encoder, (size_t)(bytes - 2));
        encode_to(&encoder, "BNE", MODE_RELATIVE, "there", 0, NULL);
    }
}

static void test_branch_reach(void **state) {
    (void)state;
    branch_over(127, true);
    finish();
    assert_int_equal(encoder.bytes[1], 0x7F);
    branch_over(128, true);
    refused("reaches too far");
    branch_over(128, false);
    finish();
    assert_int_equal(encoder.bytes[127], 0x80);
    branch_over(129, false);
    refused("reaches too far");
}

static void test_errors_are_kept(void **state) {
    (void)state;
    encoder_start(&encoder, 2048);
    encode_to(&encoder, "JMP", MODE_ABSOLUTE, "nowhere", 0, NULL);
    refused("nowhere");
    encoder_start(&encoder, 2048);
    encode(&encoder, "STA", MODE_IMMEDIATE, 0, NULL);
    encode(&encoder, "NOP", MODE_IMPLIED, 0, NULL);
    refused("STA: no such instruction");
    encoder_start(&encoder, 2048);
    encode_label(&encoder, "twice");
    encode_label(&encoder, "twice");
    refused("placed twice");
    encoder_start(&encoder, 2048);
    encode_fill(&encoder, 100);
    encode_fill(&encoder, 99);
    refused("does not fit");
}

static void test_room(void **state) {
    (void)state;
    encoder_start(&encoder, 2048);
    encode_fill(&encoder, 2047);
    encode(&encoder, "NOP", MODE_IMPLIED, 0, NULL);
    finish();
    assert_int_equal(encoder.size, 2048);
    encode(&encoder, "NOP", MODE_IMPLIED, 0, NULL);
    refused("2048 bytes: does not fit");
    encoder_start(&encoder, 4096);
    encode_fill(&encoder, 4095);
    encode(&encoder, "LDA", MODE_IMMEDIATE, 0, NULL);
    refused("4096 bytes: does not fit");
}

static void test_too_many_labels(void **state) {
    (void)state;
    encoder_start(&encoder, 2048);
    for (int i = 0; i < LABELS_MAX; i++) {
        char name[LABEL_MAX];
        snprintf(name, sizeof name, "l%d", i);
        encode_label(&encoder, name);
    }
    finish();
    encode_label(&encoder, "one_more");
    refused("too many labels");
    encoder_start(&encoder, 2048);
    encode_label(&encoder, "a_name_of_twenty_four_ch");
    refused("too long");
}

static void test_where(void **state) {
    (void)state;
    encoder_start(&encoder, 2048);
    encode(&encoder, "NOP", MODE_IMPLIED, 0, NULL);
    encode_label(&encoder, "one");
    encode(&encoder, "NOP", MODE_IMPLIED, 0, NULL);
    encode(&encoder, "NOP", MODE_IMPLIED, 0, NULL);
    encode_label(&encoder, "three");
    assert_string_equal(encoder_where(&encoder, 0), "start");
    assert_string_equal(encoder_where(&encoder, 1), "one");
    assert_string_equal(encoder_where(&encoder, 2), "one");
    assert_string_equal(encoder_where(&encoder, 3), "three");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bytes),           cmocka_unit_test(test_every_code),
        cmocka_unit_test(test_delays),          cmocka_unit_test(test_branch_reach),
        cmocka_unit_test(test_errors_are_kept), cmocka_unit_test(test_room),
        cmocka_unit_test(test_too_many_labels), cmocka_unit_test(test_where),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
