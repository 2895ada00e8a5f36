/*
 * Pages that keep room for a seal: code goes over it by a jump, data does not come to lie on it. Opcodes and
 * lengths [A] by the MCS6500 Family Programming Manual, 1976: NOP $EA, JMP $4C.
 */
#include "rom/encoder.h"
#include "rom/programs.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum { PAGE = 0x100, NOP = 0xEA, JMP = 0x4C, LAST_SEAL = 0xF0 };

static struct encoder *e;

static void begin(void) {
    e = new_program(2048);
    encode_sealed(e);
}

static int at(int offset) {
    return e->bytes[offset];
}

static void finished(void) {
    struct problem problem = {0};
    if (!encoder_finish(e, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static void refused(const char *why) {
    struct problem problem = {0};
    assert_false(encoder_finish(e, &problem));
    if (strstr(problem.text, why) == NULL) {
        fail_msg("'%s' in '%s'", why, problem.text);
    }
    free(e);
}

static void jumps(int from, int to) {
    assert_int_equal(at(from), JMP);
    assert_int_equal(at(from + 1) | at(from + 2) << 8, 0xF800 + to);
}

/* From the first instruction on to the last, none of it on a seal. */
static void test_flow(void **state) {
    (void)state;
    begin();
    for (int i = 0; i < 1000; i++) {
        one(e, "NOP");
    }
    finished();
    int seen = 0, offset = 0;
    while (seen < 1000) {
        assert_true(offset % PAGE < PAGE - SEAL_BYTES);
        if (at(offset) == JMP) {
            assert_true(offset % PAGE > PAGE - SEAL_BYTES - 2 * 3 - 1);
            jumps(offset, (offset / PAGE + 1) * PAGE);
            offset = (offset / PAGE + 1) * PAGE;
        } else {
            assert_int_equal(at(offset), NOP);
            seen++;
            offset++;
        }
    }
    free(e);
}

/* Behind a jump nothing comes by, unless a label is there. */
static void test_jump_or_none(void **state) {
    (void)state;
    for (int labelled = 0; labelled < 2; labelled++) {
        begin();
        encode_label(e, "here");
        jump(e, "there");
        if (labelled) {
            encode_label(e, "label");
        }
        encode_room(e, 251);
        encode_label(e, "there");
        jump(e, "here");
        finished();
        jumps(0, PAGE);
        if (labelled) {
            jumps(3, PAGE);
        } else {
            assert_int_equal(at(3), 0);
        }
        free(e);
    }
}

static void test_room(void **state) {
    (void)state;
    begin();
    one(e, "NOP");
    encode_room(e, PAGE - SEAL_BYTES - 1 - 3); /* what is left, but for a jump */
    assert_int_equal(e->size, 1);
    assert_int_equal(encoder_room(e), PAGE - SEAL_BYTES - 1);
    encode_room(e, PAGE - SEAL_BYTES - 3);
    assert_int_equal(e->size, PAGE);
    finished();
    jumps(1, PAGE);
    free(e);
}

static void test_data(void **state) {
    (void)state;
    static const uint8_t bytes[PAGE] = {0};
    begin();
    encode_data(e, bytes, PAGE - SEAL_BYTES, NULL);
    finished();
    free(e);
    begin();
    encode_data(e, bytes, PAGE - SEAL_BYTES + 1, NULL);
    refused("a table over a page's seal");
    begin();
    encode_data(e, bytes, 250, NULL);
    encode_data(e, bytes, 3, NULL);
    refused("a table over a page's seal");
}

/* The last page's is lower, and nothing goes over it. */
static void test_last_page(void **state) {
    (void)state;
    begin();
    assert_int_equal(seal_place(e, 0), PAGE - SEAL_BYTES);
    assert_int_equal(seal_place(e, 7 * PAGE), LAST_SEAL);
    for (int page = 0; page < 7; page++) {
        encode_next_page(e);
    }
    for (int i = 0; i < LAST_SEAL; i++) {
        one(e, "NOP");
    }
    finished();
    free(e);
    begin();
    for (int page = 0; page < 7; page++) {
        encode_next_page(e);
    }
    for (int i = 0; i < LAST_SEAL + 1; i++) {
        one(e, "NOP");
    }
    refused("the check does not fit");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_flow), cmocka_unit_test(test_jump_or_none),
                                       cmocka_unit_test(test_room), cmocka_unit_test(test_data),
                                       cmocka_unit_test(test_last_page)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
