/*
 * The proof's account of the stack, shown programs that are wrong in one thing each beside the nearest one
 * that is right. The stack's page is the RAM once more: $80 to $FF hold everything [H].
 */
#include "rom/kernel.h"
#include "rom/programs.h"
#include "rom/prove.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { LINES = 6, ROWS_FROM = 0x80, ROWS_TO = 0xB8, NO_STACK = -1 };

static struct encoder *e;
static struct rom_account account;
static struct problem problem;

static void lines(int count) {
    for (int i = 0; i < count; i++) {
        zp(e, "STA", TIA_WSYNC);
    }
}

static void begin(int stack) {
    e = new_program(2048);
    encode_label(e, "reset");
    if (stack != NO_STACK) {
        imm(e, "LDX", stack), one(e, "TXS");
    }
    encode_label(e, "frame");
    imm(e, "LDA", 2), lines(1), zp(e, "STA", TIA_VSYNC), lines(3);
    imm(e, "LDA", 0), zp(e, "STA", TIA_VSYNC);
    encode_label(e, "tested");
}

/* Ends the frame; a subroutine "sub" follows, which calls "deeper". */
static bool proved(void) {
    const struct prove_limits limits = {
        .frame_lines = LINES, .slate_from = ROWS_FROM, .slate_to = ROWS_TO, .handover = ROWS_TO - ROWS_FROM};
    lines(2), jump(e, "frame");
    encode_label(e, "sub");
    call(e, "deeper"), one(e, "RTS");
    encode_label(e, "deeper");
    one(e, "PHA"), one(e, "PLA"), one(e, "RTS");
    vectors(e, "reset");
    memset(&account, 0, sizeof account);
    memset(&problem, 0, sizeof problem);
    if (!encoder_finish(e, &problem)) {
        fail_msg("the test's own program: %s", problem.text);
    }
    const bool good = prove(e, &limits, &account, &problem);
    free(e);
    return good;
}

static void accepted(int ram, int stack) {
    if (!proved()) {
        fail_msg("refused: %s", problem.text);
    }
    assert_int_equal(account.ram_bytes, ram);
    assert_int_equal(account.stack_bytes, stack);
}

static void refused(const char *words) {
    if (proved()) {
        fail_msg("accepted with %d bytes of stack, not refused with '%s'", account.stack_bytes, words);
    }
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, words) == NULL) {
        fail_msg("'%s' does not say '%s'", problem.text, words);
    }
}

/* Two return addresses and a byte: $FB to $FF. */
static void test_depth(void **state) {
    (void)state;
    begin(0xFF), call(e, "sub"), call(e, "deeper");
    accepted(0, 5);
    begin(0xFF), call(e, "sub"), zp(e, "STA", 0xFA);
    accepted(1, 5);
    begin(0xFF), call(e, "sub"), zp(e, "STA", 0xFB);
    refused("the stack reaches into RAM that is used; bytes that both want (1)");
    begin(0xFF), call(e, "sub"), imm(e, "LDX", 0x20), encode(e, "STA", MODE_ZERO_X, 0xDF, NULL);
    refused("the stack reaches into RAM that is used; bytes that both want (1)");
}

static void test_bottom(void **state) {
    (void)state;
    begin(0x84), call(e, "sub");
    accepted(0, 5);
    begin(0x83), call(e, "sub");
    refused("a stack that nobody set, or that has run out of RAM");
    begin(NO_STACK), call(e, "sub");
    refused("a stack that nobody set, or that has run out of RAM");
}

static void test_empty(void **state) {
    (void)state;
    begin(0xFF), one(e, "PLA");
    refused("a pull from an empty stack (255)");
    begin(0xFF), one(e, "RTS");
    refused("a pull from an empty stack (255)");
    begin(NO_STACK), one(e, "PLA");
    refused("a pull from an empty stack (-1)");
}

/* A frame that leaves something on the stack leaves more of it each time, until there is no more RAM. */
static void test_leak(void **state) {
    (void)state;
    begin(0xFF), one(e, "PHA");
    refused("a stack that nobody set, or that has run out of RAM");
}

static void test_return_address(void **state) {
    (void)state;
    begin(0xFF), zp(e, "LDA", 0xC0), one(e, "PHA"), one(e, "PHA"), one(e, "RTS");
    refused("a return to nobody knows where");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_depth), cmocka_unit_test(test_bottom),         cmocka_unit_test(test_empty),
        cmocka_unit_test(test_leak),  cmocka_unit_test(test_return_address),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
