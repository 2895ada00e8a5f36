/*
 * Plan moments on the chip model, through grabber and reader: the delays are the model's own settings, and
 * what the pictures can tell of them is tried out on the model delay by delay. Figures marked [A] are
 * arithmetic, [M] the model's alone.
 */
#include "verdict/moments_differ.h"
#include "verdict/moments_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool small(void) {
    const char *wanted = getenv("SLOTJIG_TEST_SMALL");
    return wanted != NULL && strcmp(wanted, "1") == 0;
}

static void show_delay(const struct moments_stand *stand, int reg, int phase,
                       const struct moment_delay *delay, unsigned same) {
    fprintf(stderr, "seed %llu: %s phase %d: %s, %s, %g..%g, clocks %.3f, %d against; the same are %04x\n",
            (unsigned long long)stand->seed, moment_name((enum moment_register)reg), phase,
            delay->known ? "known" : "not known", delay->exact ? "exact" : "latched", delay->low, delay->high,
            delay->clocks, delay->against, same);
}

static void show_findings(const struct result *result) {
    fprintf(stderr, "verdict %s\n", verdict_name(result->verdict));
    for (size_t i = 0; i < result->finding_count; i++) {
        fprintf(stderr, "  %s: %s\n", finding_name(result->findings[i].kind), result->findings[i].text);
    }
}

/* How many delays are told that are not what the pictures tell. those: registers looked at. */
static int wrong_delays(const struct moments_stand *stand, const struct moments *moments, unsigned those,
                        int *unknown) {
    int wrong = 0;
    *unknown = 0;
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        const int reg = i / MOMENT_PHASES, phase = i % MOMENT_PHASES;
        const struct moment_delay *delay = &moments->delay[reg][phase];
        if ((those >> reg & 1) == 0) {
            continue;
        }
        const unsigned same = moments_stand_same(stand, (enum moment_register)reg, phase);
        const bool good = moments_stand_agrees(delay, same);
        *unknown += !delay->known;
        wrong += delay->known && !good;
        if (!good) {
            show_delay(stand, reg, phase, delay, same);
        }
    }
    return wrong;
}

enum { ALL = (1 << MOMENT_REGISTERS) - 1 };

static void check_chip(const struct moments_stand *stand) {
    struct plan *plan;
    int unknown;
    struct judge *judge = moments_stand_run(stand, &plan);
    const struct result *result = judge_result(judge);
    assert_int_equal(wrong_delays(stand, result->moments, ALL, &unknown), 0);
    assert_int_equal(unknown, 0);
    if (result->verdict != VERDICT_PASS) {
        show_findings(result);
    }
    assert_int_equal(result->verdict, VERDICT_PASS);
    assert_int_equal(result->finding_count, 0);
    assert_int_equal(result->coverage.seen, MOMENT_VALUES);
    judge_free(judge);
    plan_free(plan);
}

static void test_random_chips(void **state) {
    (void)state;
    const char *wanted = getenv("CHIPS");
    const uint64_t chips = wanted != NULL ? strtoull(wanted, NULL, 10) : small() ? 1 : 3;
    for (uint64_t seed = 1; seed <= chips; seed++) {
        struct moments_stand stand;
        moments_stand_defaults(seed % 3 == 2 ? STANDARD_PAL : STANDARD_NTSC, &stand);
        moments_stand_random_chip(&stand, seed);
        stand.seed = seed;
        check_chip(&stand);
    }
}

/* ---- grabbers ---- */

static bool wanted_few(const struct moment *moment) {
    return (moment->reg == MOMENT_PF1 || moment->reg == MOMENT_COLUPF) && !moment->mirror;
}

static void check_set(const struct grabber_set *set, int *told) {
    struct virtual_options options;
    struct moments_stand stand;
    struct problem problem;
    struct plan *plan;
    int unknown;
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(virtual_use_set(&options, set->name, &problem));
    moments_stand_defaults(STANDARD_NTSC, &stand);
    moments_stand_random_chip(&stand, 77);
    stand.grabber = options.grabber;
    stand.wanted = wanted_few;
    stand.hold = 6;
    struct judge *judge = moments_stand_run(&stand, &plan);
    const struct result *result = judge_result(judge);
    if (result->verdict == VERDICT_FAIL || getenv("SHOW")) {
        show_findings(result);
    }
    assert_int_not_equal(result->verdict, VERDICT_FAIL);
    const int wrong = wrong_delays(&stand, result->moments, 1u << MOMENT_PF1 | 1u << MOMENT_COLUPF, &unknown);
    if (wrong > 0 || unknown > 0) {
        fprintf(stderr, "set %s: %d wrong, %d not known of 8; judged %llu of %llu\n", set->name, wrong,
                unknown, (unsigned long long)result->fields_judged, (unsigned long long)result->fields_seen);
    }
    assert_int_equal(wrong, 0);
    *told += unknown == 0;
    judge_free(judge);
    plan_free(plan);
}

static void test_grabbers(void **state) {
    (void)state;
    int told = 0, sets = 0;
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        if (!small() || sets % 4 == 0) {
            check_set(set, &told);
        }
        sets++;
    }
    fprintf(stderr, "%d of %d sets told all\n", told, sets);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random_chips),
        cmocka_unit_test(test_grabbers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
