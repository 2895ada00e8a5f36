/* Plan every judged from fields in memory: what is counted, what is asked for, and that trouble of the
 * capture chain never makes a picture wrong. */
#include "verdict/every_draw.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct plan *open_every(uint32_t count, int repeat, enum standard standard) {
    struct plan *plan = NULL;
    struct problem problem;
    if (!every_plan(count, repeat, standard, &plan, &problem)) {
        fail_msg("%s", problem.text);
    }
    return plan;
}

/* The base that a free-running console shows after this many others. */
static uint32_t base_in_turn(const struct plan *plan, uint32_t turn) {
    const uint32_t bases = plan->every.bases, index = turn % (2 * bases);
    return every_base(&plan->every, index >= bases, index % bases);
}

static enum judged show(struct judge *judge, const struct plan *plan, const struct every_fault *fault,
                        uint32_t base, unsigned *counter) {
    struct reading reading;
    every_draw(plan, fault, base, (*counter)++, &reading);
    return judge_reading(judge, &reading, 2);
}

/* Whole rounds of a free-running console. */
static void show_rounds(struct judge *judge, const struct plan *plan, const struct every_fault *fault,
                        uint32_t rounds) {
    unsigned counter = 0;
    for (uint32_t turn = 0; turn < rounds * 2 * plan->every.bases; turn++) {
        show(judge, plan, fault, base_in_turn(plan, turn), &counter);
    }
}

static const char *findings(const struct result *result) {
    static char text[4000];
    text[0] = '\0';
    for (size_t i = 0; i < result->finding_count; i++) {
        const size_t used = strlen(text);
        snprintf(text + used, sizeof text - used, "%s: %s\n", finding_name(result->findings[i].kind),
                 result->findings[i].text);
    }
    return text;
}

static void check(const struct result *result, enum verdict verdict, uint64_t seen, uint64_t wrong,
                  uint64_t open) {
    if (result->verdict != verdict || result->coverage.seen != seen || result->coverage.wrong != wrong ||
        result->coverage.open != open) {
        fail_msg("%s, %llu of %llu seen, %llu wrong, %llu open; wanted %s, %llu, %llu, %llu\n%s",
                 verdict_name(result->verdict), (unsigned long long)result->coverage.seen,
                 (unsigned long long)result->coverage.of, (unsigned long long)result->coverage.wrong,
                 (unsigned long long)result->coverage.open, verdict_name(verdict), (unsigned long long)seen,
                 (unsigned long long)wrong, (unsigned long long)open, findings(result));
    }
}

/* ---- a good console ---- */

static void whole_plan(uint32_t count, int repeat, enum standard standard) {
    struct plan *plan = open_every(count, repeat, standard);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    assert_int_equal(judge_owed(judge), plan_pictures(plan));
    show_rounds(judge, plan, NULL, 1);
    assert_true(judge_complete(judge));
    const struct result *result = judge_result(judge);
    check(result, VERDICT_PASS, count, 0, 0);
    assert_int_equal(result->coverage.of, count);
    assert_int_equal(result->finding_count, 0);
    assert_int_equal(result->fields_judged, plan_pictures(plan));
    assert_int_equal(result->repeat_wanted, 0);
    judge_free(judge);
    plan_free(plan);
}

/* 2^21 pictures, 168 a field: 2 * ceil(2^20 / 168) = 12,484 fields [A]. */
static void good_console_passes(void **state) {
    (void)state;
    struct plan *plan = open_every(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    assert_int_equal(plan_pictures(plan), 12484);
    plan_free(plan);
    whole_plan(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    whole_plan(2 * EVERY_VALUES, 1, STANDARD_PAL);
    for (int repeat = 1; repeat <= EVERY_REPEAT_MAX; repeat++) {
        whole_plan(EVERY_LEAST, repeat, STANDARD_NTSC);
        whole_plan(EVERY_LEAST + 2, repeat, STANDARD_PAL);
    }
}

static void part_is_inconclusive(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    unsigned counter = 0;
    for (uint32_t turn = 0; turn < 10; turn++) {
        assert_int_equal(show(judge, plan, NULL, base_in_turn(plan, turn), &counter), JUDGED_PASS);
    }
    assert_int_equal(judge_owed(judge), plan_pictures(plan) - 10);
    const struct result *result = judge_result(judge);
    check(result, VERDICT_INCONCLUSIVE, 10 * 168, 0, 0);
    assert_true(result->finding_count > 0);
    judge_free(judge);
    plan_free(plan);
}

/* A value between two bases is nobody's; so is one past the plan's last. */
static void other_values_are_not_read(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    struct judge *judge = judge_new(plan, EVERY_HASH);
    unsigned counter = 0;
    const uint32_t between = (base_in_turn(plan, 3) + 2 * EVERY_STEP) % EVERY_VALUES & ~1u;
    assert_int_equal(show(judge, plan, NULL, between, &counter), JUDGED_NOT);
    const uint32_t past = (uint32_t)((uint64_t)plan->every.bases * 168 * EVERY_STEP % EVERY_VALUES);
    assert_int_equal(show(judge, plan, NULL, past, &counter), JUDGED_NOT);
    const struct result *result = judge_result(judge);
    check(result, VERDICT_INCONCLUSIVE, 0, 0, 0);
    assert_int_equal(result->fields_unreadable, 2);
    judge_result(judge);
    assert_int_equal(judge_result(judge)->fields_unreadable, 2);
    judge_free(judge);
    plan_free(plan);
}

/* ---- faults ---- */

static void check_fault(const struct plan *plan, const struct every_fault *fault, const char *what) {
    struct judge *judge = judge_new(plan, EVERY_HASH);
    show_rounds(judge, plan, fault, 2);
    assert_true(judge_complete(judge));
    const struct result *result = judge_result(judge);
    if (result->finding_count == 0 || result->findings[0].kind == FINDING_UNEXPLAINED) {
        fail_msg("%s: not named\n%s", what, findings(result));
    }
    check(result, VERDICT_FAIL, 2 * plan->every.count, every_wrong(plan, fault), 0);
    judge_free(judge);
}

static bool found(const struct result *result, enum finding_kind kind, int reg, int bit) {
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        if (finding->kind == kind && finding->reg == reg && finding->bit == bit) {
            return true;
        }
    }
    return false;
}

/* Each part by name, and nothing else. */
static void check_names(const struct plan *plan, const struct every_fault *fault) {
    static const enum finding_kind kinds[PART_KINDS] = {FINDING_UNEXPLAINED,    FINDING_BIT_STUCK_LOW,
                                                        FINDING_BIT_STUCK_HIGH, FINDING_BIT_COUPLED,
                                                        FINDING_BITS_ANDED,     FINDING_BITS_ORED};
    struct judge *judge = judge_new(plan, EVERY_HASH);
    show_rounds(judge, plan, fault, 2);
    const struct result *result = judge_result(judge);
    size_t parts = 0;
    for (int i = 0; i < FAULT_PARTS; i++) {
        const struct part *part = &fault->part[i];
        if (part->kind != PART_NONE) {
            const int reg = part->at < 4 ? REG_PF0 : part->at < 12 ? REG_PF1 : REG_PF2;
            const int bit = part->at < 4 ? part->at + 4 : part->at < 12 ? 11 - part->at : part->at - 12;
            parts++;
            if (!found(result, kinds[part->kind], reg, bit)) {
                fail_msg("%s: part %d not named\n%s", every_fault_name(fault), i, findings(result));
            }
        }
    }
    /* A data line that would draw the same is told beside. */
    const bool either =
        result->findings[0].kind == FINDING_DATA_LINE_STUCK && result->findings[0].alternative;
    if (result->finding_count != parts + either) {
        fail_msg("%s: %zu findings\n%s", every_fault_name(fault), result->finding_count, findings(result));
    }
    check(result, VERDICT_FAIL, 2 * plan->every.count, every_wrong(plan, fault), 0);
    judge_free(judge);
}

/* All 2^21, so that what is counted is what the arithmetic says, and a smaller plan for many more. */
static void random_faults_are_counted_and_named(void **state) {
    (void)state;
    const bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    const char *told = getenv("SLOTJIG_SEED");
    uint64_t random = told != NULL ? strtoull(told, NULL, 10) : 1;
    printf("seed %llu\n", (unsigned long long)random);
    struct plan *plan = open_every(2 * EVERY_VALUES, 1, STANDARD_NTSC);
    struct every_fault fault;
    for (int i = 0; i < (small ? 1 : 8); i++) {
        every_random_fault(&random, &fault);
        check_names(plan, &fault);
    }
    plan_free(plan);
    plan = open_every(16384, 1, STANDARD_NTSC);
    for (int i = 0; i < (small ? 10 : 200); i++) {
        every_random_fault(&random, &fault);
        check_names(plan, &fault);
    }
    plan_free(plan);
}

static void modes_are_named(void **state) {
    (void)state;
    struct plan *plan = open_every(16384, 1, STANDARD_NTSC);
    const struct every_fault mirror = {.mirror_ignored = true}, copy = {.copy_ignored = true};
    check_fault(plan, &mirror, "mirror ignored");
    check_fault(plan, &copy, "copy ignored");
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_console_passes),       cmocka_unit_test(part_is_inconclusive),
        cmocka_unit_test(other_values_are_not_read), cmocka_unit_test(random_faults_are_counted_and_named),
        cmocka_unit_test(modes_are_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
