/*
 * The proof, shown programs that are wrong in one thing each, with the nearest one that is right beside them.
 * Cycles: MCS6500 Family Programming Manual, 1976; 76 cycles a line [H].
 */
#include "rom/prove.h"

#include "rom/kernel.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { LINES = 10, UNKNOWN_BYTE = 0xF0, STORE = 3, SHORT = 11 /* fullest of the other lines */ };

static struct encoder e;
static struct prove_limits limits;
static struct rom_account account;
static struct problem problem;

static void op(const char *mnemonic, enum mode mode, int operand) {
    encode(&e, mnemonic, mode, (uint16_t)operand, NULL);
}

static void to(const char *mnemonic, enum mode mode, const char *label) {
    encode_to(&e, mnemonic, mode, label, 0, NULL);
}

static void lines(int count) {
    for (int i = 0; i < count; i++) {
        op("STA", MODE_ZERO, TIA_WSYNC);
    }
}

/* A frame of LINES lines up to the start of one of them, labelled "tested". */
static void begin(void) {
    encoder_start(&e, 2048);
    limits =
        (struct prove_limits){.frame_lines = LINES, .slate_from = 0x80, .slate_to = 0xB8, .handover = 56};
    encode_label(&e, "reset");
    op("NOP", MODE_IMPLIED, 0);
    encode_label(&e, "frame");
    op("LDA", MODE_IMMEDIATE, 2);
    lines(1);
    op("STA", MODE_ZERO, TIA_VSYNC);
    lines(3);
    op("LDA", MODE_IMMEDIATE, 0);
    op("STA", MODE_ZERO, TIA_VSYNC); /* 2 LDA, 3, 3 and the store to WSYNC: 11, see SHORT */
    op("STA", MODE_ZERO, 0x80);      /* odd delays read it */
    lines(1);
    encode_label(&e, "tested");
}

/* Ends the tested line and the frame. */
static void rest(void) {
    lines(1);
    encode_label(&e, "after");
    lines(LINES - 6);
    to("JMP", MODE_ABSOLUTE, "frame");
}

static bool proved(void) {
    encode_fill(&e, e.limit - 6);
    for (int i = 0; i < 3; i++) {
        encode_address(&e, "reset");
    }
    memset(&account, 0, sizeof account);
    memset(&problem, 0, sizeof problem);
    if (!encoder_finish(&e, &problem)) {
        fail_msg("the test's own program: %s", problem.text);
    }
    return prove(&e, &limits, &account, &problem);
}

static void accepted(int line_cycles) {
    if (!proved()) {
        fail_msg("refused: %s", problem.text);
    }
    assert_int_equal(account.line_cycles, line_cycles);
    assert_int_equal(account.frame_lines, limits.frame_lines);
}

static void refused(const char *words) {
    if (proved()) {
        fail_msg("accepted with %d cycles a line, not refused with '%s'", account.line_cycles, words);
    }
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, words) == NULL) {
        fail_msg("'%s' does not say '%s'", problem.text, words);
    }
}

static void test_full_line(void **state) {
    (void)state;
    begin();
    encode_delay(&e, 76 - STORE);
    rest();
    accepted(76);
    assert_string_equal(account.line_where, "tested");
    begin();
    encode_delay(&e, 77 - STORE);
    rest();
    refused("at tested, line 4: a line of more than 76 cycles (77)");
}

/* One of two paths is a line shorter, or longer: which one the frame should be does not matter. */
static void test_paths_differ(void **state) {
    (void)state;
    for (int longer = 0; longer < 2; longer++) {
        begin();
        limits.frame_lines += longer;
        op("LDA", MODE_ZERO, UNKNOWN_BYTE);
        to("BEQ", MODE_RELATIVE, "fewer");
        lines(1);
        encode_label(&e, "fewer");
        rest();
        refused(longer ? "a frame of another number of lines (10)" : "a frame of too many lines (11)");
    }
    begin();
    op("LDA", MODE_ZERO, UNKNOWN_BYTE);
    to("BEQ", MODE_RELATIVE, "fewer");
    encode_label(&e, "fewer");
    rest();
    accepted(SHORT);
}

/* The branch's end, "JMP back" not taken or taken, lies at `offset`; 3 JMP, 3 LDA, 2 to 4 BEQ, 3 JMP. */
static void branch_at(int delay, size_t end) {
    begin();
    encode_delay(&e, delay);
    to("JMP", MODE_ABSOLUTE, "far");
    encode_label(&e, "back");
    rest();
    encode_fill(&e, end - 4);
    encode_label(&e, "far");
    op("LDA", MODE_ZERO, UNKNOWN_BYTE);
    to("BEQ", MODE_RELATIVE, "target");
    to("JMP", MODE_ABSOLUTE, "back");
    encode_label(&e, "target");
    to("JMP", MODE_ABSOLUTE, "back");
}

static void test_branch_over_page(void **state) {
    (void)state;
    branch_at(60, 0x2FD);
    accepted(76);
    branch_at(61, 0x2FD);
    refused("a line of more than 76 cycles (77)");
    branch_at(61, 0x2FC);
    accepted(76);
    branch_at(62, 0x2FC);
    refused("a line of more than 76 cycles (77)");
    branch_at(61, 0x300); /* both in the next page */
    accepted(76);
}

static void indexed(int delay, size_t table, int index) {
    begin();
    encode_delay(&e, delay);
    if (index < 0) {
        op("LDX", MODE_ZERO, UNKNOWN_BYTE);
    } else {
        encode_delay(&e, 3);
        op("LDX", MODE_IMMEDIATE, index);
        encode_delay(&e, 2);
    }
    to("LDA", MODE_ABSOLUTE_X, "table");
    rest();
    encode_fill(&e, table);
    encode_label(&e, "table");
}

/* 3 LDX, 4 LDA, 1 for the page, 3 the store. */
static void test_index_over_page(void **state) {
    (void)state;
    indexed(65, 0x301, -1);
    accepted(76);
    indexed(66, 0x301, -1);
    refused("a line of more than 76 cycles (77)");
    indexed(66, 0x300, -1);
    accepted(76);
    indexed(62, 0x301, 0xFE);
    accepted(3 + 2 + 2 + 62 + 4 + STORE);
    indexed(62, 0x301, 0xFF);
    refused("a line of more than 76 cycles (77)");
}

static void one(const char *mnemonic, enum mode mode, int operand) {
    begin();
    op(mnemonic, mode, operand);
    rest();
}

static void test_stores(void **state) {
    (void)state;
    static const char words[] = "at tested, line 4: a store to what is neither RAM nor ";
    one("STA", MODE_ZERO, TIA_ENABL);
    accepted(SHORT);
    one("STA", MODE_ZERO, TIA_ENABL + 1);
    refused(words);
    one("STA", MODE_ZERO, 0x03); /* RSYNC */
    refused(words);
    one("STA", MODE_ZERO, 0x2A); /* HMOVE */
    refused(words);
    one("STA", MODE_ZERO, 0x2D);
    refused(words);
    one("STA", MODE_ZERO, 0x7F);
    refused(words);
    one("INC", MODE_ZERO, 0x0D);
    refused("stores twice, to a TIA register");
    one("STA", MODE_ABSOLUTE, 0x0294);
    refused(words);
    one("STA", MODE_ABSOLUTE, 0xF900);
    refused(words);
    one("STA", MODE_ABSOLUTE, 0x0080);
    accepted(SHORT);
    begin();
    op("LDX", MODE_ZERO, UNKNOWN_BYTE);
    op("STA", MODE_ZERO_X, 0x80);
    rest();
    refused("a store to an unknown address");
    begin();
    op("LDA", MODE_ZERO, UNKNOWN_BYTE);
    op("STA", MODE_ZERO, TIA_VSYNC);
    rest();
    refused("a store of an unknown value to VSYNC");
}

static void marked_store(int delay, int mark) {
    begin();
    encode_delay(&e, delay);
    op("STA", MODE_ZERO, 0x0E);
    encode_mark(&e, mark);
    rest();
}

/* A store of three cycles behind a delay [A]. */
static void test_marks(void **state) {
    (void)state;
    marked_store(17, 20);
    accepted(17 + 2 * STORE);
    marked_store(17, 19);
    refused("at tested, line 4: the store to PF1 ends with cycle 20, not 19");
    marked_store(17, 21);
    refused("at tested, line 4: the store to PF1 ends with cycle 20, not 21");
}

/* 3 LDA; then 3 BEQ taken and 4, or 2 BEQ, a delay and 3 JMP: the ways meet, or are a cycle apart [A]. */
static void test_mark_on_every_path(void **state) {
    (void)state;
    for (int longer = 2; longer <= 3; longer++) {
        begin();
        op("LDA", MODE_ZERO, UNKNOWN_BYTE);
        to("BEQ", MODE_RELATIVE, "taken");
        encode_delay(&e, longer);
        to("JMP", MODE_ABSOLUTE, "meet");
        encode_label(&e, "taken");
        encode_delay(&e, 4);
        encode_label(&e, "meet");
        op("STX", MODE_ZERO, 0x0D);
        encode_mark(&e, 3 + 3 + 4 + STORE);
        rest();
        if (longer == 2) {
            accepted(3 + 3 + 4 + 2 * STORE);
        } else {
            refused("at meet, line 4: the store to PF0 ends with cycle 14, not 13");
        }
    }
}

/* Nobody knows whether the index passes the page: exactly is neither with nor without the cycle for it. */
static void marked_index(size_t table, int mark) {
    begin();
    op("LDX", MODE_ZERO, UNKNOWN_BYTE);
    to("LDA", MODE_ABSOLUTE_X, "table");
    op("STA", MODE_ZERO, 0x0F);
    encode_mark(&e, mark);
    rest();
    encode_fill(&e, table);
    encode_label(&e, "table");
}

static void test_mark_is_exact(void **state) {
    (void)state;
    marked_index(0x300, 3 + 4 + STORE);
    accepted(3 + 4 + 2 * STORE);
    for (int crossed = 0; crossed < 2; crossed++) {
        marked_index(0x301, 3 + 4 + STORE + crossed);
        refused("the store to PF2 ends with cycle 11 or earlier, not 1");
    }
}

static void test_what_is_run(void **state) {
    (void)state;
    static const uint8_t undocumented = 0x02;
    begin();
    encode_data(&e, &undocumented, 1, NULL);
    rest();
    refused("at tested, line 4: what is no instruction is run (2)");
    one("JMP", MODE_ABSOLUTE, 0xF7FF);
    refused("a jump out of the image");
    one("JMP", MODE_INDIRECT, 0xFFFC);
    refused("an instruction that the proof does not follow");
    one("JSR", MODE_ABSOLUTE, 0xF800);
    refused("a stack that nobody set");
    one("PHA", MODE_IMPLIED, 0);
    refused("a stack that nobody set");
    one("SED", MODE_IMPLIED, 0);
    refused("an instruction that the proof does not follow");
    begin();
    op("LDA", MODE_ZERO, UNKNOWN_BYTE);
    op("BEQ", MODE_RELATIVE, 0x80);
    rest();
    refused("a branch out of the image");
    one("BRK", MODE_IMPLIED, 0);
    refused("an instruction that the proof does not follow (0)");
}

static void test_endless(void **state) {
    (void)state;
    begin();
    encode_label(&e, "round");
    to("JMP", MODE_ABSOLUTE, "round");
    rest();
    refused("a line of more than 76 cycles");
    begin();
    encode_label(&e, "round");
    lines(1);
    to("JMP", MODE_ABSOLUTE, "round");
    refused("a frame of too many lines (11)");
    encoder_start(&e, 2048); /* vertical sync never comes */
    encode_label(&e, "reset");
    to("JMP", MODE_ABSOLUTE, "reset");
    refused("no end of the program's paths is in sight");
}

static void test_ram(void **state) {
    (void)state;
    begin();
    rest();
    limits.handover = 57;
    refused("the hand-over does not fit over the slate's rows (57)");
    begin();
    rest();
    limits.slate_to--;
    refused("the hand-over does not fit over the slate's rows (56)");
    begin();
    op("STA", MODE_ZERO, 0x80);
    op("STA", MODE_ZERO, 0xFF);
    op("LDA", MODE_ZERO, 0xC0);
    rest();
    accepted(12);
    assert_int_equal(account.ram_bytes, 3);
    assert_int_equal(account.stack_bytes, 0);
    begin();
    op("LDA", MODE_ZERO, 0x90); /* the slate's, and not written in this frame */
    rest();
    refused("the hand-over would spoil a byte of the slate that outlives its frame (144)");
}

static bool kernel_proved(enum standard standard, int frame_lines) {
    struct plan *plan = NULL;
    assert_true(plan_open("bits", standard, &plan, NULL));
    const struct kernel_options options = {.plan = plan, .hash = 0x1234, .hold = 300};
    encoder_start(&e, 4096);
    kernel_emit(&e, &options);
    assert_true(encoder_finish(&e, &problem));
    plan_free(plan);
    limits = (struct prove_limits){
        .frame_lines = frame_lines, .slate_from = RAM_SLATE, .slate_to = RAM_SLATE_END, .handover = 56};
    memset(&account, 0, sizeof account);
    memset(&problem, 0, sizeof problem);
    return prove(&e, &limits, &account, &problem);
}

/* 262 and 312 lines [H]. */
static void test_kernel(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        const int frame = standard == STANDARD_NTSC ? 262 : 312;
        if (!kernel_proved((enum standard)standard, frame)) {
            fail_msg("refused: %s", problem.text);
        }
        assert_int_equal(account.frame_lines, frame);
        assert_in_range(account.line_cycles, 1, 76);
        assert_in_range(account.ram_bytes, 56, 128);
        assert_false(kernel_proved((enum standard)standard, frame - 1));
        assert_non_null(strstr(problem.text, "a frame of too many lines"));
        assert_false(kernel_proved((enum standard)standard, frame + 1));
        assert_non_null(strstr(problem.text, "a frame of another number of lines"));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_full_line),
        cmocka_unit_test(test_paths_differ),
        cmocka_unit_test(test_branch_over_page),
        cmocka_unit_test(test_index_over_page),
        cmocka_unit_test(test_stores),
        cmocka_unit_test(test_what_is_run),
        cmocka_unit_test(test_endless),
        cmocka_unit_test(test_ram),
        cmocka_unit_test(test_marks),
        cmocka_unit_test(test_mark_on_every_path),
        cmocka_unit_test(test_mark_is_exact),
        cmocka_unit_test(test_kernel),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
