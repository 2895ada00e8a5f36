/* Every named set of impairments: a good console passes with nothing found, and a part of all faults, another
 * part on each set, is named as on a clean picture. The whole of both is `make proof`. */
#include "commands/promise.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

enum { EVERY = 32 }; /* one fault in so many on each set */

static void run_on(const struct grabber_set *set, const char *fault, uint64_t seed) {
    struct loop loop;
    struct virtual_options options;
    struct problem problem;
    virtual_defaults(STANDARD_NTSC, &options);
    options.seed = seed;
    assert_true(virtual_use_set(&options, set->name, &problem));
    if (!loop_run(&loop, "bits", &options, fault, NULL)) {
        fail_msg("set %s, fault %s: %s", set->name, fault == NULL ? "none" : fault, loop.problem.text);
    }
    struct promise promise = {0};
    if (fault != NULL) {
        promise = promise_on(fault, set->name);
    }
    if (!promise_kept(&promise, &loop)) {
        fail_msg("set %s, fault %s, seed %llu: %s (wanted exit %d): %s", set->name,
                 fault == NULL ? "none" : fault, (unsigned long long)seed,
                 verdict_name(loop.session.result->verdict), promise.exit, loop_findings(&loop));
    }
    loop_end(&loop);
}

static void test_good_console(void **state) {
    (void)state;
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        run_on(set, NULL, 500 + (uint64_t)(set - virtual_sets));
    }
}

static void test_some_faults(void **state) {
    (void)state;
    size_t every = getenv("SLOTJIG_TEST_SMALL") != NULL ? 6 * EVERY : EVERY;
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        size_t number = (size_t)(set - virtual_sets);
        char fault[64];
        for (size_t i = number * 5 % every; virtual_fault_text(i, fault, sizeof fault); i += every) {
            run_on(set, fault, 600 + 200 * number + i);
        }
    }
}

/* A grabber that gives black from the middle of the picture on: no console does that, and no colour is wrong
 * for it. */
static void test_half_a_picture(void **state) {
    (void)state;
    struct loop loop;
    struct virtual_options options;
    struct problem problem;
    virtual_defaults(STANDARD_PAL, &options);
    options.seed = 6;
    static const char *const texts[] = {"ghost=0.15:2.76", "half-black=lower", "noise=25.5"};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        assert_true(virtual_add_impairment(&options, texts[i], &problem));
    }
    assert_true(loop_run(&loop, "bits", &options, NULL, NULL));
    if (loop.session.result->verdict != VERDICT_INCONCLUSIVE) {
        fail_msg("%s: %s", verdict_name(loop.session.result->verdict), loop_findings(&loop));
    }
    assert_non_null(strstr(loop_findings(&loop), "capture chain's doing"));
    assert_null(strstr(loop.session.result->findings[0].next, "cartridge"));
    loop_end(&loop);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_console),
        cmocka_unit_test(test_some_faults),
        cmocka_unit_test(test_half_a_picture),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
