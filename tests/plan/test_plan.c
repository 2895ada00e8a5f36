/* The built-in plan, the builder and values. */
#include "plan/plan.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct plan *open_bits(enum standard standard) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    if (!plan_open("bits", standard, &plan, &problem)) {
        fail_msg("%s", problem.text);
    }
    return plan;
}

static const struct step *find_step(const struct plan *plan, const char *name) {
    for (size_t i = 0; i < plan->step_count; i++) {
        if (strcmp(plan->steps[i].name, name) == 0) {
            return &plan->steps[i];
        }
    }
    fail_msg("no step '%s'", name);
    return NULL;
}

static void check_step(const struct plan *plan, const char *name, const uint8_t wanted[4]) {
    uint8_t registers[REG_COUNT];
    step_registers(find_step(plan, name), registers);
    static const enum reg order[4] = {REG_CTRLPF, REG_PF0, REG_PF1, REG_PF2};
    for (int i = 0; i < 4; i++) {
        if (registers[order[i]] != wanted[i]) {
            fail_msg("%s: %s is $%02X, wanted $%02X", name, reg_name(order[i]), registers[order[i]],
                     wanted[i]);
        }
    }
}

/* By hand, what plan bits must show: per mode 20 alone, 20 missing, dark, lit, 2 alternating, 4 + 1
 * unconnected. */
static void bits_has_every_step(void **unused) {
    (void)unused;
    struct plan *plan = open_bits(STANDARD_NTSC);
    assert_string_equal(plan->name, "bits");
    assert_int_equal(plan->step_count, 2 * (20 + 20 + 2 + 2 + 5));
    check_step(plan, "copy PF0.4 alone", (uint8_t[]){0, 0x10, 0, 0});
    check_step(plan, "copy PF1.3 alone", (uint8_t[]){0, 0, 0x08, 0});
    check_step(plan, "mirror PF2.7 alone", (uint8_t[]){1, 0, 0, 0x80});
    check_step(plan, "mirror all but PF0.4", (uint8_t[]){1, 0xE0, 0xFF, 0xFF});
    check_step(plan, "copy all dark", (uint8_t[]){0, 0, 0, 0});
    check_step(plan, "mirror all lit", (uint8_t[]){1, 0xF0, 0xFF, 0xFF});
    check_step(plan, "copy PF0 D2 (unconnected)", (uint8_t[]){0, 0x04, 0, 0});
    check_step(plan, "mirror PF0 D0-D3 (unconnected)", (uint8_t[]){1, 0x0F, 0, 0});
    /* Cells 0, 2, 4 ...: PF0 4, 6; PF1 7, 5, 3, 1; PF2 0, 2, 4, 6 [H TIA 1A, serial output table]. */
    check_step(plan, "copy alternating, cell 0 lit", (uint8_t[]){0, 0x50, 0xAA, 0x55});
    check_step(plan, "copy alternating, cell 1 lit", (uint8_t[]){0, 0xA0, 0x55, 0xAA});
    plan_free(plan);
}

static void bits_is_in_serial_order_with_unlike_names(void **unused) {
    (void)unused;
    struct plan *plan = open_bits(STANDARD_PAL);
    assert_string_equal(plan->steps[0].name, "copy PF0.4 alone");
    assert_string_equal(plan->steps[4].name, "copy PF1.7 alone");
    assert_string_equal(plan->steps[12].name, "copy PF2.0 alone");
    assert_string_equal(plan->steps[19].name, "copy PF2.7 alone");
    for (size_t i = 0; i < plan->step_count; i++) {
        const struct step *step = &plan->steps[i];
        assert_true(step_is_hold(step));
        assert_int_equal(step->bands[0].lines, 228 - 24);
        assert_int_equal(strncmp(step->name, step_mode(step), strlen(step_mode(step))), 0);
        for (size_t k = 0; k < i; k++) {
            assert_string_not_equal(step->name, plan->steps[k].name);
        }
    }
    plan_free(plan);
}

static void unknown_plan_lists_the_known(void **unused) {
    (void)unused;
    struct plan *plan = (struct plan *)&plan_builtins;
    struct problem problem = {0};
    assert_false(plan_open("no-such-plan", STANDARD_NTSC, &plan, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, "no-such-plan"));
    assert_non_null(strstr(problem.text, "built in: bits"));
    assert_ptr_equal(plan, &plan_builtins);
}

static void refused(const struct band *bands, size_t count, const char *why) {
    struct plan *plan = plan_new("p", STANDARD_NTSC);
    struct problem problem = {0};
    if (plan_add_step(plan, "s", bands, count, &problem)) {
        fail_msg("not refused: %s", why);
    }
    if (problem.kind != PROBLEM_INPUT || strstr(problem.text, why) == NULL) {
        fail_msg("'%s' does not say '%s'", problem.text, why);
    }
    assert_int_equal(plan->step_count, 0);
    plan_free(plan);
}

static void builder_checks(void **unused) {
    (void)unused;
    const struct band bad[] = {
        {.lines = 167},
        {.lines = 169},
        {.lines = 168, .count = 1, .writes = {{REG_PF0, 0, 76}}},
        {.lines = 168, .count = 1, .writes = {{REG_PF0, 0, -2}}},
        {.lines = 168, .count = 1, .writes = {{REG_COUNT, 0, 10}}},
        {.lines = 168, .count = 17},
        {.lines = 168, .count = 2, .writes = {{REG_PF0, 0, 30}, {REG_PF0, 0, 29}}},
        {.lines = 168, .count = 2, .writes = {{REG_PF0, 0, 30}, {REG_PF0, 0, 32}}},
        {.lines = 168, .count = 2, .writes = {{REG_PF0, 0, 30}, {REG_PF0, 0, WRITE_BEFORE}}},
    };
    static const char *const why[] = {"167 lines",   "169 lines",        "at cycle 76",
                                      "at cycle -2", "register number",  "has 17 writes",
                                      "follows",     "at least 3 apart", "at cycle -1 follows"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        refused(&bad[i], 1, why[i]);
    }
    const struct band empty[2] = {{.lines = 168}, {.lines = 0}};
    refused(empty, 2, "band 2 has no lines");
    refused(NULL, 0, "0 lines");
}

static void builder_keeps_bands_when_it_grows(void **unused) {
    (void)unused;
    struct plan *plan = plan_new("p", STANDARD_NTSC);
    struct problem problem = {0};
    for (int i = 0; i < PLAN_STEPS_MAX; i++) {
        char name[STEP_NAME_MAX];
        snprintf(name, sizeof name, "step %d", i);
        assert_true(plan_add_hold(plan, name, 0, 0, (uint8_t)i, (uint8_t)(i >> 8), &problem));
    }
    assert_false(plan_add_hold(plan, "another", 0, 0, 0, 0, &problem));
    assert_non_null(strstr(problem.text, "one too many"));
    for (int i = 0; i < PLAN_STEPS_MAX; i++) {
        uint8_t registers[REG_COUNT];
        step_registers(&plan->steps[i], registers);
        assert_int_equal(registers[REG_PF1] | registers[REG_PF2] << 8, i);
    }
    plan_free(plan);
}

static void builder_refuses_a_name_twice(void **unused) {
    (void)unused;
    struct plan *plan = plan_new("p", STANDARD_NTSC);
    struct problem problem = {0};
    assert_true(plan_add_hold(plan, "a", 0, 0, 0, 0, &problem));
    assert_false(plan_add_hold(plan, "a", 1, 0, 0, 0, &problem));
    assert_non_null(strstr(problem.text, "twice"));
    assert_int_equal(plan->step_count, 1);
    plan_free(plan);
}

static void registers_at_the_top_are_the_slates(void **unused) {
    (void)unused;
    const struct band band = {
        .lines = 168, .count = 2, .writes = {{REG_PF1, 9, WRITE_BEFORE}, {REG_PF2, 7, 40}}};
    const struct step step = {.name = "s", .band_count = 1, .bands = &band};
    uint8_t registers[REG_COUNT];
    step_registers(&step, registers);
    assert_int_equal(registers[REG_PF1], 9);
    assert_int_equal(registers[REG_PF2], 0);
    assert_int_equal(registers[REG_COLUPF], 0x0E);
    assert_int_equal(registers[REG_COLUP0], 0x0E);
    assert_int_equal(registers[REG_COLUBK], 0x00);
    assert_false(step_is_hold(&step));
}

/* [H TIA 1A, write addresses; FACTS "Registers used most"] */
static void register_names_and_addresses(void **unused) {
    (void)unused;
    static const struct {
        const char *name;
        uint8_t address;
    } handbook[] = {{"COLUP0", 0x06}, {"COLUP1", 0x07}, {"COLUPF", 0x08}, {"COLUBK", 0x09},
                    {"CTRLPF", 0x0A}, {"PF0", 0x0D},    {"PF1", 0x0E},    {"PF2", 0x0F}};
    for (size_t i = 0; i < sizeof handbook / sizeof handbook[0]; i++) {
        enum reg reg;
        assert_true(reg_from_name(handbook[i].name, &reg));
        assert_string_equal(reg_name(reg), handbook[i].name);
        assert_int_equal(reg_address(reg), handbook[i].address);
    }
    enum reg reg;
    assert_true(reg_from_name("pf1", &reg));
    assert_int_equal(reg, REG_PF1);
    assert_false(reg_from_name("PF3", &reg));
    assert_false(reg_from_name("PF", &reg));
}

static void bytes_are_read_strictly(void **unused) {
    (void)unused;
    static const struct {
        const char *text;
        int value; /* -1: refused */
    } cases[] = {{"$F0", 240},       {"$f", 15},
                 {"0xF0", 240},      {"0Xff", 255},
                 {"%11110000", 240}, {"%1", 1},
                 {"240", 240},       {"0", 0},
                 {"255", 255},       {"007", 7},
                 {"256", -1},        {"$100", -1},
                 {"", -1},           {"$", -1},
                 {"%", -1},          {"0x", -1},
                 {"12 ", -1},        {" 12", -1},
                 {"-1", -1},         {"+1", -1},
                 {"$G0", -1},        {"%12", -1},
                 {"F0", -1},         {"1.5", -1},
                 {"%111100001", -1}, {"99999999999999999999", -1},
                 {"$0x1", -1}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        uint8_t value = 77;
        const bool taken = parse_byte(cases[i].text, &value);
        if (taken != (cases[i].value >= 0) || value != (taken ? cases[i].value : 77)) {
            fail_msg("'%s': %s, %d; wanted %d", cases[i].text, taken ? "taken" : "refused", value,
                     cases[i].value);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bits_has_every_step),
        cmocka_unit_test(bits_is_in_serial_order_with_unlike_names),
        cmocka_unit_test(unknown_plan_lists_the_known),
        cmocka_unit_test(builder_checks),
        cmocka_unit_test(builder_keeps_bands_when_it_grows),
        cmocka_unit_test(builder_refuses_a_name_twice),
        cmocka_unit_test(registers_at_the_top_are_the_slates),
        cmocka_unit_test(register_names_and_addresses),
        cmocka_unit_test(bytes_are_read_strictly),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
