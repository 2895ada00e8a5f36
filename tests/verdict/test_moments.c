#include "verdict/moments_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>

static void check_chip(const struct moments_stand *stand) {
    struct plan *plan;
    struct judge *judge = moments_stand_run(stand, &plan);
    const struct result *result = judge_result(judge);
    int wrong = 0;
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        for (int phase = 0; phase < MOMENT_PHASES; phase++) {
            const struct moment_delay *delay = &result->moments->delay[reg][phase];
            const unsigned same = moments_stand_same(stand, (enum moment_register)reg, phase);
            const bool good = moments_stand_agrees(delay, same);
            wrong += !good;
            if (!good || getenv("SHOW"))
                fprintf(stderr,
                        "%s phase %d: %s %s %g..%g clocks %.3f spread %.3f n %d against %d (value %u); same "
                        "%04x\n",
                        moment_name((enum moment_register)reg), phase, delay->known ? "known" : "unknown",
                        delay->exact ? "exact" : "latched", delay->low, delay->high, delay->clocks,
                        delay->spread, delay->observations, delay->against, delay->example, same);
        }
    }
    fprintf(stderr, "verdict %d owed %zu fields seen %llu judged %llu unreadable %llu\n", result->verdict,
            judge_owed(judge), (unsigned long long)result->fields_seen,
            (unsigned long long)result->fields_judged, (unsigned long long)result->fields_unreadable);
    for (size_t i = 0; i < result->finding_count; i++)
        fprintf(stderr, "  %s\n", result->findings[i].text);
    assert_int_equal(wrong, 0);
    judge_free(judge);
    plan_free(plan);
}

static void test_default_chip(void **state) {
    (void)state;
    struct moments_stand stand;
    moments_stand_defaults(STANDARD_NTSC, &stand);
    check_chip(&stand);
}

static void test_random_chips(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        struct moments_stand stand;
        moments_stand_defaults(seed == 2 ? STANDARD_PAL : STANDARD_NTSC, &stand);
        moments_stand_random_chip(&stand, seed);
        stand.seed = seed;
        check_chip(&stand);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_default_chip),
        cmocka_unit_test(test_random_chips),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
