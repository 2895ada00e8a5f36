/*
 * The proof of a check's work: what it counts and what it refuses, on programs of a few instructions; then
 * the real ones, held against the longest that the console model takes. Handbook [H]: cycles of the
 * instructions, MCS6500 Programming Manual.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "rom/check.h"
#include "rom/check_kernel.h"
#include "rom/check_rounds.h"
#include "rom/phrases.h"

enum { WINDOW = 100 };

static struct encoder e;
static struct problem problem;

static void jump(const char *label) {
    encode_to(&e, "JMP", MODE_ABSOLUTE, label, 0, NULL);
}

static void begin(void) {
    encoder_start(&e, 4096);
    encode_label(&e, "reset");
    encode_label(&e, "cold");
    jump("cold");
    encode_label(&e, "work");
}

/* The longest way, or -1 where the proof refuses. */
static int worst_of(int scheme) {
    const struct cart_check check = {.scheme = (uint8_t)scheme};
    int worst = 0;
    problem = (struct problem){0};
    encode_label(&e, "work_done");
    jump("work_done");
    encode_fill(&e, e.limit - 6);
    for (int i = 0; i < 3; i++) {
        encode_address(&e, "reset");
    }
    if (!encoder_finish(&e, &problem)) {
        fail_msg("%s", problem.text);
    }
    return prove_work(&e, &check, WINDOW, &worst, &problem) ? worst : -1;
}

static void refused(int scheme, const char *why) {
    if (worst_of(scheme) >= 0 || strstr(problem.text, why) == NULL) {
        fail_msg("not refused for \"%s\" but \"%s\"", why, problem.text);
    }
}

static void test_counts(void **state) {
    (void)state;
    begin();
    imm(&e, "LDA", 1);
    zp(&e, "STA", RAM_JOBS);
    jump("work_done");
    assert_int_equal(worst_of(WIRE_4K), 2 + 3 + 3);
    begin();
    zp(&e, "LDA", RAM_JOBS); /* either way: the longer counts */
    branch(&e, "BEQ", "over");
    shift(&e, "LSR", 10);
    encode_label(&e, "over");
    jump("work_done");
    assert_int_equal(worst_of(WIRE_4K), 3 + 2 + 20 + 3);
    begin();
    imm(&e, "LDX", 9);
    encode_label(&e, "turn");
    one(&e, "DEX");
    branch(&e, "BNE", "turn");
    jump("work_done");
    assert_int_equal(worst_of(WIRE_4K), 2 + 9 * 5 - 1 + 3);
    begin();
    zp(&e, "LDX", RAM_JOBS); /* an index that is not known may cross */
    encode(&e, "LDA", MODE_ABSOLUTE_X, 0xF080, NULL);
    jump("work_done");
    assert_int_equal(worst_of(WIRE_4K), 3 + 5 + 3);
}

static void test_too_long(void **state) {
    (void)state;
    begin();
    shift(&e, "LSR", (WINDOW - 2) / 2);
    jump("work_done");
    refused(WIRE_4K, "takes up to 101 cycles");
    begin();
    encode_label(&e, "turn");
    zp(&e, "LDA", RAM_JOBS);
    branch(&e, "BNE", "turn");
    jump("work_done");
    refused(WIRE_4K, "no end");
}

static void test_stores(void **state) {
    (void)state;
    static const uint16_t others[] = {RAM_STEP, RAM_COUNTER, RAM_HOME, 0xFE, TIA_WSYNC, TIA_VSYNC, 0x296};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        begin();
        encode(&e, "STA", MODE_ABSOLUTE, others[i], NULL);
        jump("work_done");
        refused(WIRE_4K, "not the work's");
    }
    begin();
    zp(&e, "LDX", RAM_JOBS);
    encode(&e, "STA", MODE_ZERO_X, 0x80, NULL);
    jump("work_done");
    refused(WIRE_4K, "not the work's");
    begin();
    encode_to(&e, "JSR", MODE_ABSOLUTE, "kept", 0, NULL);
    encode_label(&e, "kept");
    jump("work_done");
    refused(WIRE_4K, "a stack left behind");
}

/* Bytes into the job's RAM, and on there. */
static void run_job(const uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count; i++) {
        set(&e, bytes[i], CHECK_JOB_AT + (int)i);
    }
    encode(&e, "JMP", MODE_ABSOLUTE, CHECK_JOB_AT, NULL);
}

static void test_jobs(void **state) {
    (void)state;
    static const uint8_t runs_on[] = {0xEA}, turns[] = {0x18, 0x90, 0xFD}; /* NOP; CLC, BCC back */
    begin();
    encode(&e, "JMP", MODE_ABSOLUTE, CHECK_JOB_AT, NULL);
    refused(WIRE_4K, "not known");
    begin();
    run_job(runs_on, sizeof runs_on);
    refused(WIRE_4K, "not known");
    begin();
    encode(&e, "JMP", MODE_ABSOLUTE, CHECK_JOB_AT + CHECK_JOB_MAX, NULL);
    refused(WIRE_4K, "out of its RAM");
    begin();
    run_job(turns, sizeof turns);
    refused(WIRE_4K, "no end");
}

/* carry, first: how it goes home; NULL: not at all. LDA $FFF8 or $FFFA, then a jump to $F009: behind the code
 * before `work`, and one instruction. */
static void banked_job(int spot, const char *carry, int first) {
    const uint8_t job[] = {0xAD, (uint8_t)spot, 0xFF, 0xAD, 0xF8, 0xFF, 0x4C, 0x06, 0xF0};
    begin();
    jump("before");
    encode_label(&e, "back"); /* $F006 */
    jump("work_done");
    encode_label(&e, "before");
    for (size_t i = 0; i < sizeof job; i++) {
        set(&e, job[i], CHECK_JOB_AT + (int)i);
    }
    if (carry != NULL) {
        zp(&e, "LDA", RAM_HOME);
        one(&e, carry);
        imm(&e, "ADC", first);
        zp(&e, "STA", CHECK_JOB_AT + 4);
    } else {
        set(&e, 0xEA, CHECK_JOB_AT + 3); /* nothing in its place */
        set(&e, 0xEA, CHECK_JOB_AT + 4);
        set(&e, 0xEA, CHECK_JOB_AT + 5);
    }
    encode(&e, "JMP", MODE_ABSOLUTE, CHECK_JOB_AT, NULL);
}

static void test_banks(void **state) {
    (void)state;
    begin();
    encode(&e, "LDA", MODE_ABSOLUTE, 0xFFF8, NULL);
    jump("work_done");
    refused(WIRE_F8, "code from a bank");
    begin();
    zp(&e, "LDX", RAM_JOBS);
    encode(&e, "LDA", MODE_ABSOLUTE_X, 0xFF00, NULL); /* may be it */
    jump("work_done");
    refused(WIRE_F8, "code from a bank");
    begin();
    imm(&e, "LDY", 0xFF);
    encode(&e, "LDA", MODE_ABSOLUTE_Y, 0xFFF9, NULL); /* the extra cycle */
    jump("work_done");
    refused(WIRE_F8, "code from a bank");
    banked_job(0xF9, NULL, 0);
    refused(WIRE_F8, "code from a bank");
    banked_job(0xFA, NULL, 0); /* no hotspot of F8's */
    assert_int_not_equal(worst_of(WIRE_F8), -1);
    banked_job(0xF9, "CLC", 0xF8);
    assert_int_not_equal(worst_of(WIRE_F8), -1);
    banked_job(0xF9, "CLC", 0xF9); /* the bank above */
    refused(WIRE_F8, "code from a bank");
    banked_job(0xF9, "SEC", 0xF8);
    refused(WIRE_F8, "code from a bank");
    begin();
    encode(&e, "JMP", MODE_INDIRECT, 0xFFFC, NULL);
    refused(WIRE_4K, "power-on");
}

/* ---- the real ones ---- */

static uint16_t work_at, done_at;
static uint64_t begun;
static int longest;

static uint8_t timed_read(void *state, uint16_t address, uint8_t bus) {
    if (address == work_at) {
        begun = check_console.cycles;
    } else if (address == done_at && begun != 0) {
        const int taken = (int)(check_console.cycles - begun);
        longest = taken > longest ? taken : longest;
        begun = 0;
    }
    return check_slot_read(state, address, bus);
}

static uint16_t label_of(const char *name) {
    for (int i = 0; i < e.label_count; i++) {
        if (strcmp(e.labels[i].name, name) == 0) {
            return (uint16_t)((e.origin + e.labels[i].offset) & 0x1FFF);
        }
    }
    fail_msg("no label %s", name);
    return 0;
}

/* One round at least; some faults take the work's longest ways. */
static void against_model(int scheme, bool ram, enum standard standard, const struct cart_faults *faults) {
    const struct cartridge slot = {
        .state = &check_cart, .read = timed_read, .write = check_slot_write, .pass = check_slot_pass};
    struct plan *plan = check_plan_of(scheme, ram, standard);
    struct image *image = check_image_of(plan, 1, 0);
    const struct kernel_options options = {.plan = plan, .hash = image->hash, .hold = 1};
    static struct round_seen seen;
    int worst = 0;
    encoder_start(&e, scheme_bank_bytes(scheme));
    check_kernel_emit(&e, &options);
    assert_true(encoder_finish(&e, &problem));
    assert_true(prove_work(&e, &plan->check, check_window(standard), &worst, &problem));
    work_at = label_of("work");
    done_at = label_of("work_done");
    longest = 0;
    begun = 0;
    round_power_on(plan, image, faults, &slot, 3);
    assert_true(round_begin(plan));
    assert_true(round_watch(plan, &seen, 4000));
    printf("%s%s %s: proved %d of %d cycles, seen %d\n", scheme_name(scheme), ram ? " with RAM" : "",
           standard_table[standard].name, worst, check_window(standard), longest);
    assert_true(longest <= worst);
    assert_true(longest * 5 >= worst * 4);
    rom_free(image);
    plan_free(plan);
}

static void test_real(void **state) {
    (void)state;
    struct cart_faults faults;
    cart_faults_none(WIRE_F4, &faults);
    against_model(WIRE_F8, false, STANDARD_PAL, &faults);
    against_model(WIRE_F4, true, STANDARD_SECAM, &faults);
    faults.no_ram = true; /* each read is wrong */
    against_model(WIRE_F8, true, STANDARD_NTSC, &faults);
    against_model(WIRE_4K, true, STANDARD_NTSC, &faults);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counts), cmocka_unit_test(test_too_long), cmocka_unit_test(test_stores),
        cmocka_unit_test(test_jobs),   cmocka_unit_test(test_banks),    cmocka_unit_test(test_real),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
