/*
 * Cycles as opcode_facts() and the proof count them, against sim65 of the cc65 package, a 6502 that is not
 * ours. Each program is run with 0 and with REPEATS copies of what is measured; the difference leaves out the
 * rest. sim65's program file: "sim65", version 2, processor 0 (6502), stack pointer's address, load and start
 * address; a jump to $FFF9 ends it (cc65 documentation, sim65).
 */
#include "rom/encoder.h"
#include "rom/kernel.h"
#include "rom/prove.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

enum { REPEATS = 16, ORIGIN = 0x1000, EXIT = 0xFFF9, POINTER = 0x80, DATA = 0x4010 };
enum { SIM65_LACKS = 0x3E }; /* ROL abs,X: sim65 (2.18) loses its way there */

static char folder[] = "/tmp/slotjig-sim65-XXXXXX";
static struct encoder e;

static int start(void **state) {
    (void)state;
    return mkdtemp(folder) == NULL;
}

static int stop(void **state) {
    (void)state;
    char path[128];
    snprintf(path, sizeof path, "%s/program", folder);
    unlink(path);
    return rmdir(folder);
}

static void needs_sim65(void) {
    if (system("command -v sim65 >/dev/null 2>&1") != 0) {
        printf("SKIP: sim65 is not installed\n");
        skip();
    }
}

static void op(const char *mnemonic, enum mode mode, int operand) {
    encode(&e, mnemonic, mode, (uint16_t)operand, NULL);
}

static void begin(void) {
    encoder_start(&e, 4096);
    e.origin = ORIGIN;
}

static long run(const char *which) {
    const uint8_t header[] = {'s', 'i', 'm',           '6',         '5',           2,
                              0,   0,   ORIGIN & 0xFF, ORIGIN >> 8, ORIGIN & 0xFF, ORIGIN >> 8};
    char path[128], command[256];
    long cycles = -1;
    struct problem problem = {0};
    op("LDA", MODE_IMMEDIATE, 0);
    op("JMP", MODE_ABSOLUTE, EXIT);
    if (!encoder_finish(&e, &problem)) {
        fail_msg("%s: %s", which, problem.text);
    }
    snprintf(path, sizeof path, "%s/program", folder);
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    fwrite(header, 1, sizeof header, out);
    fwrite(e.bytes, 1, e.size, out);
    assert_int_equal(fclose(out), 0);
    snprintf(command, sizeof command, "sim65 -c -x 1000000 %s 2>&1", path);
    FILE *in = popen(command, "r");
    assert_non_null(in);
    const int found = fscanf(in, "%ld cycles", &cycles);
    while (fgetc(in) != EOF) {
        continue; /* an end of the pipe that closes early would end sim65 */
    }
    const int status = pclose(in);
    if (found != 1 || status != 0) {
        fail_msg("%s: sim65 ends with status %d", which, status);
    }
    return cycles;
}

/* X and Y, and a pointer to DATA, which lies $10 into its page. */
static void prepare(int index, int flags) {
    begin();
    op("LDA", MODE_IMMEDIATE, DATA & 0xFF);
    op("STA", MODE_ZERO, POINTER);
    op("LDA", MODE_IMMEDIATE, DATA >> 8);
    op("STA", MODE_ZERO, POINTER + 1);
    op("LDX", MODE_IMMEDIATE, index);
    op("LDY", MODE_IMMEDIATE, index);
    op("LDA", MODE_IMMEDIATE, flags);
    op("PHA", MODE_IMPLIED, 0);
    op("PLP", MODE_IMPLIED, 0);
}

static void repeat(const struct opcode *facts, int times) {
    const int size = opcode_bytes(facts->mode);
    for (int i = 0; i < times; i++) {
        const int here = ORIGIN + (int)e.size;
        const bool jump = facts->mnemonic[0] == 'J';
        op(facts->mnemonic, facts->mode,
           jump                           ? here + 3
           : facts->mode == MODE_RELATIVE ? 0
           : size == 3                    ? DATA
                                          : POINTER);
    }
}

static void measure(uint8_t code, int index, int flags, int wanted) {
    const struct opcode facts = opcode_facts(code);
    char which[64];
    snprintf(which, sizeof which, "%s, mode %d, index %d, flags $%02X", facts.mnemonic, facts.mode, index,
             flags);
    prepare(index, flags);
    const long without = run(which);
    prepare(index, flags);
    repeat(&facts, REPEATS);
    const long with = run(which);
    if (with - without != REPEATS * wanted) {
        fail_msg("%s: %d times take %ld cycles, not %d", which, REPEATS, with - without, REPEATS * wanted);
    }
}

static bool is_one_of(const char *name, const char *list) {
    return strstr(list, name) != NULL;
}

/* Every documented instruction that goes on behind itself: all but BRK, RTI, RTS, JMP () and SIM65_LACKS; JMP
 * and JSR to the next, branches not taken and taken (to the next), an index that stays and one that leaves
 * its page. */
static void test_instructions(void **state) {
    (void)state;
    int measured = 0;
    needs_sim65();
    for (int code = 0; code < 256; code++) {
        const struct opcode facts = opcode_facts((uint8_t)code);
        if (facts.mode == MODE_NONE || facts.mode == MODE_INDIRECT ||
            is_one_of(facts.mnemonic, "BRK RTI RTS") || code == SIM65_LACKS) {
            continue;
        }
        measured++;
        if (facts.mode == MODE_RELATIVE) {
            const bool on_set = is_one_of(facts.mnemonic, "BEQ BMI BCS BVS");
            measure((uint8_t)code, 0, on_set ? 0x00 : 0xC3, facts.cycles);
            measure((uint8_t)code, 0, on_set ? 0xC3 : 0x00, facts.cycles + 1);
            continue;
        }
        measure((uint8_t)code, 0, 0, facts.cycles);
        if (facts.mode == MODE_ABSOLUTE_X || facts.mode == MODE_ABSOLUTE_Y || facts.mode == MODE_INDIRECT_Y) {
            measure((uint8_t)code, 0xEF, 0, facts.cycles);
            measure((uint8_t)code, 0xF0, 0, facts.cycles + facts.cross_adds);
        }
    }
    assert_int_equal(measured, 151 - 5);
}

/* Loops as the kernel has them, by the proof: what a turn more adds to the line is what sim65 counts. */
static void emit_loop(int turns, size_t at, bool framed) {
    if (framed) {
        encode_label(&e, "reset");
        op("LDA", MODE_IMMEDIATE, 2);
        op("STA", MODE_ZERO, TIA_WSYNC);
        op("STA", MODE_ZERO, TIA_VSYNC);
        op("STA", MODE_ZERO, TIA_WSYNC);
        op("LDA", MODE_IMMEDIATE, 0);
        op("STA", MODE_ZERO, TIA_VSYNC);
        op("STA", MODE_ZERO, TIA_WSYNC);
    }
    encode_to(&e, "JMP", MODE_ABSOLUTE, "far", 0, NULL);
    encode_fill(&e, at);
    encode_label(&e, "far");
    op("LDX", MODE_IMMEDIATE, turns);
    encode_label(&e, "turn");
    encode_to(&e, "LDA", MODE_ABSOLUTE_X, "table", 0, NULL);
    op("DEX", MODE_IMPLIED, 0);
    encode_to(&e, "BNE", MODE_RELATIVE, "turn", 0, NULL);
}

static void emit_table(size_t at) {
    encode_fill(&e, at);
    encode_label(&e, "table");
}

static int proved_cycles(int turns, size_t at, size_t table) {
    static struct rom_account account;
    struct problem problem = {0};
    const struct prove_limits limits = {
        .frame_lines = 4, .slate_from = 0x80, .slate_to = 0xB8, .handover = 56};
    begin();
    e.origin = 0xF000;
    emit_loop(turns, at, true);
    op("STA", MODE_ZERO, TIA_WSYNC);
    encode_to(&e, "JMP", MODE_ABSOLUTE, "reset", 0, NULL);
    emit_table(table);
    encode_fill(&e, e.limit - 6);
    for (int i = 0; i < 3; i++) {
        encode_address(&e, "reset");
    }
    if (!encoder_finish(&e, &problem) || !prove(&e, &limits, &account, &problem)) {
        fail_msg("loop at $%03zX: %s", at, problem.text);
    }
    return account.line_cycles;
}

static long simulated_cycles(int turns, size_t at, size_t table) {
    begin();
    emit_loop(turns, at, false);
    op("LDA", MODE_IMMEDIATE, 0);
    op("JMP", MODE_ABSOLUTE, EXIT);
    emit_table(table);
    return run("loop");
}

static void test_loops(void **state) {
    (void)state;
    enum { FEW = 2, MANY = 5 };
    needs_sim65();
    for (size_t at = 0x2F0; at <= 0x304; at++) {
        const size_t branch = at + 6;
        if (branch >> 8 != (branch + 2) >> 8) {
            continue; /* sim65 (2.18) counts a branch's page from its first byte, the 6502 from its end */
        }
        for (size_t table = 0x3F8; table <= 0x400; table++) {
            const int ours = proved_cycles(MANY, at, table) - proved_cycles(FEW, at, table);
            const long theirs = simulated_cycles(MANY, at, table) - simulated_cycles(FEW, at, table);
            if (ours != theirs) {
                fail_msg("loop at $%03zX, table at $%03zX: %d turns more take %d cycles, by sim65 %ld", at,
                         table, MANY - FEW, ours, theirs);
            }
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_instructions), cmocka_unit_test(test_loops)};
    return cmocka_run_group_tests(tests, start, stop);
}
