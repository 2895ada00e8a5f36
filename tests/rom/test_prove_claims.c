/*
 * What the encoder claims and the proof checks: lines counted by their cycles, a path for each value of a
 * byte, a register's address of which only the kind is known, values forgotten. Programs that are wrong in
 * one thing each beside the nearest one that is right. Cycles [A] by the MCS6500 Family Programming Manual,
 * 1976; 76 a line [H].
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

enum { BEFORE = 5, LINE = 76, STORE = 3, VALUE = 0xF0, OTHER = 0xF1, PF0 = 0x0D };

static struct encoder *e;
static struct rom_account account;
static struct problem problem;
static int frame_lines;

static void lines(int count) {
    for (int i = 0; i < count; i++) {
        zp(e, "STA", TIA_WSYNC);
    }
}

/* Up to the start of a line; `tested` lines of the frame are the test's. */
static void begin(int tested) {
    frame_lines = BEFORE + tested;
    e = new_program(2048);
    encode_label(e, "reset");
    imm(e, "LDX", 0xFF), one(e, "TXS");
    encode_label(e, "frame");
    imm(e, "LDA", 2), lines(1), zp(e, "STA", TIA_VSYNC), lines(3);
    imm(e, "LDA", 0), zp(e, "STA", TIA_VSYNC), zp(e, "STA", 0x80), lines(1); /* odd delays read it */
    encode_label(e, "tested");
}

static bool proved(void) {
    const struct prove_limits limits = {
        .frame_lines = frame_lines, .slate_from = 0x80, .slate_to = 0xB8, .handover = 56};
    lines(1), jump(e, "frame");
    vectors(e, "reset");
    memset(&account, 0, sizeof account);
    memset(&problem, 0, sizeof problem);
    const bool good = encoder_finish(e, &problem) && prove(e, &limits, &account, &problem);
    free(e);
    return good;
}

static void accepted(void) {
    if (!proved()) {
        fail_msg("refused: %s", problem.text);
    }
    assert_int_equal(account.frame_lines, frame_lines);
}

static void refused(const char *words) {
    if (proved()) {
        fail_msg("accepted, not refused with '%s'", words);
    }
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, words) == NULL) {
        fail_msg("'%s' does not say '%s'", problem.text, words);
    }
}

static void counted_delay(int tested, int cycles) {
    begin(tested);
    encode_counted(e);
    encode_delay(e, cycles);
    zp(e, "STA", TIA_WSYNC);
    encode_counted_end(e);
}

static void test_counted_lines(void **state) {
    (void)state;
    for (int whole = 0; whole < 4; whole++) {
        counted_delay(whole + 2, whole * LINE);
        accepted();
        counted_delay(whole + 2, (whole + 1) * LINE - STORE);
        accepted();
        counted_delay(whole + 2, (whole + 1) * LINE - STORE + 1);
        refused("a line of more than 76 cycles (77)");
        counted_delay(whole + 2, (whole + 1) * LINE);
        refused("a frame of too many lines");
        counted_delay(whole + 3, (whole + 1) * LINE - STORE);
        refused("a frame of another number of lines");
    }
    begin(3); /* the same delay where nothing says that it is counted */
    encode_delay(e, LINE), zp(e, "STA", TIA_WSYNC);
    refused("a line of more than 76 cycles");
}

/* Where cycles are lines, one too many is not the worst case: it is another picture. */
static void uncertain(bool counted, size_t table) {
    begin(2);
    if (counted) {
        encode_counted(e);
    }
    zp(e, "LDX", VALUE);
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "table", 0, NULL);
    zp(e, "STA", TIA_WSYNC);
    if (counted) {
        encode_counted_end(e);
    }
    jump(e, "on");
    encode_fill(e, table);
    encode_label(e, "table");
    encode_fill(e, 0x400);
    encode_label(e, "on");
}

static void test_counted_is_exact(void **state) {
    (void)state;
    uncertain(true, 0x300);
    accepted();
    uncertain(true, 0x301);
    refused("at tested, line 4: cycles that are not known, where lines are counted by them (1)");
    uncertain(false, 0x301);
    accepted();
    for (int counted = 0; counted < 2; counted++) {
        begin(2);
        if (counted) {
            encode_counted(e);
        }
        zp(e, "LDA", VALUE), branch(e, "BEQ", "either");
        encode_label(e, "either");
        lines(1);
        if (counted) {
            encode_counted_end(e);
            refused("a branch on what is not known");
        } else {
            accepted();
        }
    }
}

/* One cycle more or less for a bit, and the other way round for its complement. */
static void wait_bit(int ram, const char *label) {
    zp(e, "LDA", ram);
    encode(e, "LSR", MODE_ACCUMULATOR, 0, NULL);
    branch(e, "BCC", label);
    encode_delay(e, 2);
    encode_label(e, label);
}

/* 3 LDA, 2 AND, 3 STA, 2 EOR, 3 STA; twice 3 LDA, 2 LSR and 3 BCC, or 2 and the delay of 2; the store. */
static void in_and_out(bool each, int complement, int mark) {
    begin(2);
    encode_counted(e);
    zp(e, "LDA", VALUE);
    if (each) {
        encode_each(e);
    }
    imm(e, "AND", 1), zp(e, "STA", VALUE), imm(e, "EOR", complement), zp(e, "STA", OTHER);
    wait_bit(VALUE, "in"), wait_bit(OTHER, "out");
    zp(e, "STA", PF0), encode_mark(e, mark);
    lines(1);
    encode_counted_end(e);
}

static void test_each(void **state) {
    (void)state;
    const int mark = 3 + 2 + 3 + 2 + 3 + 2 * (3 + 2) + 3 + 4 + STORE;
    in_and_out(true, 1, mark);
    accepted();
    in_and_out(false, 1, mark);
    refused("a branch on what is not known");
    in_and_out(true, 0, mark);
    refused("the store to PF0 ends with cycle");
    in_and_out(true, 1, mark + 1);
    refused("the store to PF0 ends with cycle 33, not 34");
    in_and_out(true, 1, mark - 1);
    refused("the store to PF0 ends with cycle 33, not 32");
}

/* Whichever value has a line too many. */
static void test_each_is_all(void **state) {
    (void)state;
    static const int values[] = {0, 1, 127, 128, 254, 255};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        begin(2);
        zp(e, "LDA", VALUE), encode_each(e), imm(e, "CMP", values[i]), branch(e, "BNE", "others"), lines(1);
        encode_label(e, "others");
        lines(1);
        refused("lines");
    }
}

/* Two paths, whose store ends with cycle 21 or 22. */
static void marked_in(int first, bool known) {
    begin(2);
    encode_counted(e);
    zp(e, "LDA", VALUE);
    if (known) {
        encode_each(e);
    }
    imm(e, "AND", 1), zp(e, "STA", OTHER);
    if (known) {
        wait_bit(OTHER, "waited");
        one(e, "CLC"), zp(e, "LDA", OTHER), imm(e, "ADC", first), zp(e, "STA", OTHER);
    }
    zp(e, "STA", PF0), encode_mark_in(e, OTHER);
    lines(1);
    encode_counted_end(e);
}

static void test_mark_in(void **state) {
    (void)state;
    const int first = 3 + 2 + 3 + (3 + 2 + 3) + 2 + 3 + 2 + 3 + STORE;
    marked_in(first, true);
    accepted();
    marked_in(first + 1, true);
    refused("the store to PF0 ends with cycle");
    marked_in(first, false);
    refused("a store marked with a cycle that is not known");
}

static void stored_through(int address, const char *mnemonic, int base) {
    begin(2);
    imm(e, "LDA", address), zp(e, "STA", VALUE), encode_draws(e);
    zp(e, "LDX", VALUE);
    encode(e, mnemonic, MODE_ZERO_X, (uint16_t)base, NULL);
    lines(1);
}

/* COLUP0 to CTRLPF and PF0 to PF2 draw [H]; all others do something else too. */
static void test_draws(void **state) {
    (void)state;
    for (int address = 0; address <= 0xFF; address++) {
        stored_through(address, "STA", 0);
        if ((address >= 0x06 && address <= 0x0A) || (address >= 0x0D && address <= 0x0F)) {
            accepted();
        } else {
            refused("what is stored is no address of a register that draws");
        }
    }
    stored_through(PF0, "STA", 1);
    refused("a store to an unknown address");
    stored_through(PF0, "LDA", 0);
    refused("a register that draws is read");
    stored_through(PF0, "INC", 0);
    refused("a register that draws is read");
    begin(2);
    zp(e, "LDA", OTHER), zp(e, "STA", VALUE), encode_draws(e), lines(1);
    refused("what is stored is no address of a register that draws");
    begin(2); /* which one it is, is no longer known, and so neither is what comes of it */
    imm(e, "LDA", PF0), zp(e, "STA", VALUE), encode_draws(e);
    zp(e, "LDX", VALUE), one(e, "TXA"), one(e, "CLC"), imm(e, "ADC", 1), zp(e, "STA", TIA_VSYNC), lines(1);
    refused("a store of an unknown value to VSYNC");
    begin(2);
    imm(e, "LDA", PF0), zp(e, "STA", VALUE), encode_draws(e);
    zp(e, "LDX", VALUE), one(e, "INX"), encode(e, "STA", MODE_ZERO_X, 0, NULL), lines(1);
    refused("a store to an unknown address");
    begin(2);
    imm(e, "LDA", PF0), zp(e, "STA", VALUE), encode_draws(e), zp(e, "DEC", VALUE);
    zp(e, "LDX", VALUE), encode(e, "STA", MODE_ZERO_X, 0, NULL), lines(1);
    refused("a store to an unknown address");
}

/* What is forgotten is followed both ways: 0 and the rest. */
static void test_forget(void **state) {
    (void)state;
    for (int forgotten = 0; forgotten < 2; forgotten++) {
        begin(2);
        imm(e, "LDA", 0), zp(e, "STA", VALUE);
        if (forgotten) {
            encode_forget(e);
        }
        zp(e, "LDA", VALUE), branch(e, "BEQ", "zero"), lines(1);
        encode_label(e, "zero");
        lines(1);
        if (forgotten) {
            refused("lines"); /* one way has a line more */
        } else {
            accepted();
        }
    }
    size_t states[2];
    for (int forgotten = 0; forgotten < 2; forgotten++) { /* 256 paths, or one again */
        begin(21);
        zp(e, "LDA", VALUE), encode_each(e), zp(e, "STA", VALUE);
        if (forgotten) {
            encode_forget(e);
        }
        lines(20);
        accepted();
        states[forgotten] = account.states;
    }
    assert_true(states[0] > 256 * 20);
    assert_true(states[1] < 256 + 60);
}

static void test_one_claim_each(void **state) {
    (void)state;
    begin(1);
    zp(e, "STA", PF0), encode_mark(e, 3), encode_mark(e, 3);
    refused("a claim about no instruction, or a second one");
    e = new_program(2048);
    encode_mark(e, 3), encode_label(e, "reset"), encode_label(e, "frame"), frame_lines = 1;
    refused("a claim about no instruction, or a second one");
    begin(1);
    encode_counted(e), encode_delay(e, 2), encode_counted_end(e), encode_counted(e);
    refused("a second stretch of counted lines");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counted_lines), cmocka_unit_test(test_counted_is_exact),
        cmocka_unit_test(test_each),          cmocka_unit_test(test_each_is_all),
        cmocka_unit_test(test_mark_in),       cmocka_unit_test(test_draws),
        cmocka_unit_test(test_forget),        cmocka_unit_test(test_one_claim_each),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
