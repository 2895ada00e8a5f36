/* Every named set of impairments: a good console passes with nothing found, and a part of all faults, another
 * part on each set, is named as on a clean picture. The whole of both is `make proof`. */
#include "commands/promise.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>

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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_console),
        cmocka_unit_test(test_some_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
