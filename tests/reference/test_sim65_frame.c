/*
 * Whole programs, real images among them: the cycles that the proof counts, against `sim65 -c` (Debian's cc65
 * 2.19, its generic 6502 target). The header of its program files ("sim65", version 2, processor 0, stack
 * pointer, load address, start) and the exit at $FFF9 are sim65's own [cc65 2.19, sim65's documentation]. A
 * program ends with a jump to that exit, which sim65 leaves uncounted (seen: `LDA #0, JMP $FFF9` is 2).
 * Single instructions and loops: test_sim65.c.
 */
#include "plan/plan.h"
#include "rom/kernel.h"
#include "rom/programs.h"
#include "rom/prove.h"
#include "rom/scratch.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum {
    SIM65_EXIT = 0xFFF9,
    SIM65_OWN = 16, /* bytes from $FFF0 on: it takes no file that reaches into its calls */
    EXIT_CYCLES = 3,
    CYCLES_MAX = 1000000,
    HEADER = 12
};

static void write_program(const char *folder, const struct encoder *e) {
    const uint8_t *reset = e->bytes + e->size - 4;
    const uint8_t start[] = {2, 0, 0, (uint8_t)e->origin, (uint8_t)(e->origin >> 8), reset[0], reset[1]};
    uint8_t file[HEADER + IMAGE_MAX];
    memcpy(file, "sim65", 5);
    memcpy(file + 5, start, sizeof start);
    memcpy(file + HEADER, e->bytes, e->size - SIM65_OWN);
    scratch_write(folder, "program", file, HEADER + e->size - SIM65_OWN);
}

/* -1: sim65 said nothing that is a count. */
static long sim65_cycles(const struct encoder *e) {
    char folder[SCRATCH_MAX], command[SCRATCH_MAX + 80], line[256];
    long cycles = -1, found;
    scratch_make(folder);
    write_program(folder, e);
    snprintf(command, sizeof command, "timeout %d sim65 -c -x %d %s/program 2>&1", SCRATCH_SECONDS,
             CYCLES_MAX, folder);
    FILE *in = popen(command, "r");
    assert_non_null(in);
    while (fgets(line, sizeof line, in) != NULL) {
        if (strstr(line, " cycles") != NULL && sscanf(line, "%ld", &found) == 1) {
            cycles = found;
        }
    }
    pclose(in);
    scratch_remove(folder, (const char *const[]){"program"}, 1);
    return cycles;
}

static long compare(struct encoder *e, const char *what) {
    struct problem problem = {0};
    long ours = 0;
    if (!encoder_finish(e, &problem) || !prove_count(e, SIM65_EXIT, &ours, &problem)) {
        fail_msg("%s: %s", what, problem.text);
    }
    const long theirs = sim65_cycles(e);
    if (theirs < 0 || ours != theirs + EXIT_CYCLES) {
        fail_msg("%s: we count %ld, sim65 %ld and %d for the jump to its exit", what, ours, theirs,
                 EXIT_CYCLES);
    }
    return ours;
}

static void needs_sim65(void) {
    if (!have_program("sim65")) {
        print_message("SKIP: sim65 (Debian: cc65) is not installed\n");
        skip();
    }
}

static void test_subroutines(void **state) {
    (void)state;
    needs_sim65();
    struct encoder *e = new_program(4096);
    encode_label(e, "start");
    imm(e, "LDX", 0xFF), one(e, "TXS"), imm(e, "LDY", 7);
    encode_label(e, "again");
    call(e, "sub");
    one(e, "DEY"), branch(e, "BPL", "again"), jump(e, "end");
    encode_label(e, "sub");
    one(e, "TYA"), one(e, "PHA"), imm(e, "LDA", 0), one(e, "PLA"), one(e, "RTS");
    encode_label(e, "end");
    imm(e, "LDA", 0);
    encode(e, "JMP", MODE_ABSOLUTE, SIM65_EXIT, NULL);
    vectors(e, "start");
    /* 6 to begin; 8 times JSR 6, TYA 2, PHA 3, LDA 2, PLA 4, RTS 6, DEY 2; BPL 7 times 3 and once 2; JMP,
     * LDA, JMP [MCS6500 Family Programming Manual, 1976] */
    assert_int_equal(compare(e, "subroutines"), 6 + 8 * 25 + 7 * 3 + 2 + 3 + 2 + 3);
    free(e);
}

/* The way back to the next frame leaves instead. */
static void leave_after_a_frame(struct encoder *e) {
    int jumps = 0;
    for (int i = 0; i < e->item_count; i++) {
        struct item *item = &e->items[i];
        if (item->kind == ITEM_CODE && item->label >= 0 && e->bytes[item->offset] == 0x4C &&
            strcmp(e->labels[item->label].name, "frame") == 0) {
            item->label = -1;
            e->bytes[item->offset + 1] = SIM65_EXIT & 0xFF;
            e->bytes[item->offset + 2] = SIM65_EXIT >> 8;
            jumps++;
        }
    }
    assert_int_equal(jumps, 1);
}

static long frame_of(const char *name, enum standard standard, int hold, size_t size) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    char what[80];
    if (!plan_open(name, standard, &plan, &problem)) {
        fail_msg("%s", problem.text);
    }
    const struct kernel_options options = {.plan = plan, .hash = 0x1234, .hold = (uint16_t)hold};
    struct encoder *e = new_program(size);
    kernel_emit(e, &options);
    leave_after_a_frame(e);
    snprintf(what, sizeof what, "%s, %s, hold %d, %zu bytes", name, standard_table[standard].name, hold,
             size);
    const long cycles = compare(e, what);
    free(e);
    plan_free(plan);
    return cycles;
}

/* From power-on through one whole frame, without waiting in WSYNC. A hold of 1 takes the way to the next
 * step, 256 the one of the hold's high byte: ways that differ in cycles, or the test says nothing of them. */
static void test_whole_frames(void **state) {
    (void)state;
    needs_sim65();
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        for (size_t size = 2048; size <= 4096; size *= 2) {
            const long usual = frame_of("bits", (enum standard)standard, 20, size);
            assert_true(usual > 262 * 3);
            assert_true(frame_of("bits", (enum standard)standard, 1, size) > usual);
            assert_true(frame_of("bits", (enum standard)standard, 256, size) > usual);
        }
    }
}

/* With a hold of 0 the kernel counts in its first frame, else not. No branch that is taken here has its own
 * two bytes on two pages: sim65 2.19 counts a cycle too many for those (cc65 pull request 2548 mends it). */
static void test_counted_frames(void **state) {
    (void)state;
    needs_sim65();
    static const char *const names[] = {"every", "moments"};
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
            const long usual = frame_of(names[i], (enum standard)standard, 20, 2048);
            assert_true(usual > 262 * 3);
            assert_true(frame_of(names[i], (enum standard)standard, 0, 2048) > usual);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_subroutines),
                                       cmocka_unit_test(test_whole_frames),
                                       cmocka_unit_test(test_counted_frames)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
