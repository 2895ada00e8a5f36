/*
 * The proof of what a board may do to a program: bytes of the mailbox are not known, a loop may run from RAM,
 * and some reads are messages. Programs that are wrong in one thing each, beside the nearest one that is
 * right. 76 cycles a line [H]; the layout is slotjig/mailbox.h.
 */
#include "rom/kernel.h"
#include "rom/programs.h"
#include "rom/prove.h"
#include "slotjig/mailbox.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum {
    LINES = 60,
    SYNC = 4, /* lines that the frame has ended where the tested part begins */
    LOOP_AT = 0x80,
    LOOP_SIZE = 33,
    WAIT = 18, /* offset of the loop's waiting, and of what follows */
    LOOK = 23
};

/* Vertical sync, the other lines, a look at the mailbox. Lines: 3 and the 56 that X counts, and the last. */
static const uint8_t loop[LOOP_SIZE] = {0xA9, 0x02, 0x85, 0x02, 0x85, 0x00, 0x85, 0x02, 0x85, 0x02, 0x85,
                                        0x02, 0xA9, 0x00, 0x85, 0x00, 0xA2, 56,   0x85, 0x02, 0xCA, 0xD0,
                                        0xFB, 0xAD, 0xE3, 0xFF, 0xC9, 0x02, 0xF0, 0xE2, 0x6C, 0xFC, 0xFF};

static struct encoder *e;
static struct prove_limits limits;
static struct rom_account account;
static struct problem problem;

static void lines(int count) {
    for (int i = 0; i < count; i++) {
        zp(e, "STA", TIA_WSYNC);
    }
}

static void begin(void) {
    e = new_program(2048);
    limits = (struct prove_limits){
        .frame_lines = LINES, .slate_from = RAM_SLATE, .slate_to = RAM_SLATE_END, .handover = HANDOVER_RAM};
    encode_label(e, "reset");
    one(e, "NOP");
    encode_label(e, "frame");
    imm(e, "LDA", 2), lines(1), zp(e, "STA", TIA_VSYNC), lines(3);
    imm(e, "LDA", 0), zp(e, "STA", TIA_VSYNC), lines(1);
    encode_label(e, "tested");
}

/* Lines from the tested one on, to the frame's end. */
static void rest(int ended) {
    lines(LINES - SYNC - 1 - ended);
    jump(e, "frame");
}

/* Copies a loop to RAM, a byte a line, and goes to where it waits. */
static void copy(const uint8_t *bytes, int size, int at) {
    imm(e, "LDX", size - 1);
    encode_label(e, "copy");
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "bytes", 0, NULL);
    encode(e, "STA", MODE_ZERO_X, (uint16_t)at, NULL);
    one(e, "DEX"), lines(1), branch(e, "BPL", "copy");
    imm(e, "LDX", LINES - SYNC - size - 1);
    encode(e, "JMP", MODE_ABSOLUTE, (uint16_t)(at + WAIT), NULL);
    encode_label(e, "bytes");
    encode_data(e, bytes, (size_t)size, NULL);
}

static bool proved(void) {
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

static void accepted(void) {
    if (!proved()) {
        fail_msg("refused: %s", problem.text);
    }
    assert_int_equal(account.frame_lines, LINES);
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

/* The loop with one byte changed. */
static void changed(int offset, uint8_t value) {
    uint8_t bytes[LOOP_SIZE];
    memcpy(bytes, loop, sizeof bytes);
    bytes[offset] = value;
    begin();
    copy(bytes, LOOP_SIZE, LOOP_AT);
}

static void test_loop(void **state) {
    (void)state;
    begin(), copy(loop, LOOP_SIZE, LOOP_AT);
    accepted();
    changed(17, 55);
    refused("at the loop in RAM, line 59: a frame of another number of lines (59)");
    changed(17, 57);
    refused("at the loop in RAM, line 61: a frame of too many lines (61)");
    changed(13, 0x02); /* vertical sync is never switched off */
    refused("at the loop in RAM, line 59: the hand-over leaves vertical sync on");
    changed(31, 0xFE); /* JMP ($FFFE) */
    refused("an instruction that the proof does not follow");
    changed(0, 0x02);
    refused("what is no instruction is run (2)");
    changed(29, 0x7F); /* a branch to behind the loop */
    refused("a branch out of the image");
}

/* INC $F0,X nine times, 6 cycles each, and two bytes more in the line that has most already: 2 DEX, 2 BNE, 4
 * LDA, 2 CMP, 3 BEQ, 2 LDA, 3 STA [MCS6500 Family Programming Manual, 1976]. */
static void long_line(uint8_t first, uint8_t second) {
    enum { MORE = 20 };
    uint8_t bytes[LOOP_SIZE + MORE];
    memcpy(bytes, loop, LOOK);
    for (int i = 0; i < MORE; i++) {
        bytes[LOOK + i] = i % 2 == 0 ? 0xF6 : 0xF0;
    }
    bytes[LOOK + MORE - 2] = first, bytes[LOOK + MORE - 1] = second;
    memcpy(bytes + LOOK + MORE, loop + LOOK, LOOP_SIZE - LOOK);
    bytes[29 + MORE] = (uint8_t)(loop[29] - MORE);
    begin();
    copy(bytes, LOOP_SIZE + MORE, LOOP_AT);
}

static void test_long_line(void **state) {
    (void)state;
    long_line(0xEA, 0xEA); /* NOP, NOP: 4 cycles */
    accepted();
    assert_int_equal(account.line_cycles, 76);
    assert_string_equal(account.line_where, "the loop in RAM");
    long_line(0xE6, 0xF0); /* INC $F0: 5 */
    refused("at the loop in RAM, line 59: a line of more than 76 cycles (77)");
    begin();
    uint8_t bytes[LOOP_SIZE];
    memcpy(bytes, loop, sizeof bytes);
    bytes[18] = 0xEA, bytes[19] = 0xEA; /* waits without ending lines */
    copy(bytes, LOOP_SIZE, LOOP_AT);
    refused("at the loop in RAM, line 37: a line of more than 76 cycles");
}

static void test_room(void **state) {
    (void)state;
    begin(), copy(loop, LOOP_SIZE, LOOP_AT), limits.handover = LOOP_SIZE;
    accepted();
    begin(), copy(loop, LOOP_SIZE, LOOP_AT), limits.handover = LOOP_SIZE - 1;
    refused("the loop in RAM does not fit over the slate's rows");
    begin(), copy(loop, LOOP_SIZE, LOOP_AT + HANDOVER_RAM - LOOP_SIZE);
    accepted();
    begin(), copy(loop, LOOP_SIZE, LOOP_AT + HANDOVER_RAM - LOOP_SIZE + 1);
    refused("the loop in RAM does not fit over the slate's rows");
    begin(), encode(e, "JMP", MODE_ABSOLUTE, LOOP_AT, NULL);
    refused("what is run was not copied");
}

/* What the board changes is not known, be it 0 in the image; the byte before and the next are. */
static void test_mailbox_unknown(void **state) {
    (void)state;
    static const struct {
        uint16_t address;
        bool known;
    } cases[] = {{MAILBOX_ENTRY + 2, true}, {MAILBOX_MODE, false},      {MAILBOX_STEP, false},
                 {MAILBOX_VALUE, false},    {MAILBOX_VALUE + 2, false}, {MAILBOX_STEP_SHOWN + 1, true}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        begin();
        encode(e, "LDA", MODE_ABSOLUTE, (uint16_t)(0xE000 | cases[i].address), NULL);
        branch(e, "BEQ", "zero"), lines(1);
        encode_label(e, "zero");
        rest(0);
        if (cases[i].known) {
            accepted();
        } else {
            refused("a frame of");
        }
    }
}

static void read_in_line(const char *mnemonic, enum mode mode, int address) {
    begin();
    encode(e, mnemonic, mode, (uint16_t)address, NULL);
}

static void test_messages(void **state) {
    (void)state;
    static const char words[] = "at tested, line 4: a read that a board would take for a message";
    for (int address = 0xFFE8; address <= 0xFFEB; address++) {
        read_in_line("LDA", MODE_ABSOLUTE, address), rest(0);
        refused(words);
        read_in_line("LDX", MODE_ABSOLUTE, address), rest(0);
        refused(words);
        read_in_line("LDA", MODE_ABSOLUTE, address);
        encode(e, "LDA", MODE_ABSOLUTE_X, 0xFE00, NULL), rest(0);
        if (address == 0xFFE8) {
            refused(words);
        } else {
            accepted();
        }
        read_in_line("LDA", MODE_ABSOLUTE, address);
        encode(e, "LDA", MODE_ABSOLUTE_X, 0xFD00, NULL), rest(0);
        refused(words);
        read_in_line("LDA", MODE_ABSOLUTE, address);
        encode(e, "LDA", MODE_ABSOLUTE_Y, 0xFE00, NULL), rest(0);
        refused(words);
    }
    for (int address = 0xFFF4; address <= 0xFFFB; address++) {
        read_in_line("LDA", MODE_ABSOLUTE, address), rest(0);
        refused(words);
    }
    read_in_line("LDA", MODE_ABSOLUTE, 0xFFF3), rest(0);
    accepted();
    read_in_line("LDA", MODE_ABSOLUTE, 0xFFFE), rest(0);
    accepted();
    begin(), imm(e, "LDX", 4), encode(e, "LDA", MODE_ABSOLUTE_X, 0xFFF0, NULL), rest(0);
    refused(words);
    begin(), imm(e, "LDX", 3), encode(e, "LDA", MODE_ABSOLUTE_X, 0xFFF0, NULL), rest(0);
    accepted();
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_loop),     cmocka_unit_test(test_long_line),
        cmocka_unit_test(test_room),     cmocka_unit_test(test_mailbox_unknown),
        cmocka_unit_test(test_messages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
