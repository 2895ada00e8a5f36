/* Every fault of the virtual bench, at every position it can have: right exit status, right finding. */
#include "commands/promise.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>

static void check_fault(const char *fault, enum standard standard, uint64_t seed, double noise_db) {
    struct loop loop;
    struct virtual_options options;
    struct promise promise = promise_of(fault);
    virtual_defaults(standard, &options);
    options.seed = seed;
    options.grabber.noise_db = noise_db;
    if (!loop_run(&loop, "bits", &options, fault, NULL)) {
        fail_msg("fault %s: %s", fault, loop.problem.text);
    }
    int exit = verdict_exit(loop.session.result->verdict);
    if (!promise_kept(&promise, &loop)) {
        fail_msg("fault %s, %s, seed %llu: exit %d (wanted %d), wanted %s, got %s", fault,
                 standard_table[standard].name, (unsigned long long)seed, exit, promise.exit,
                 finding_name(promise.kind), loop_findings(&loop));
    }
    loop_end(&loop);
}

static void test_every_fault(void **state) {
    (void)state;
    char fault[64];
    size_t count = 0;
    while (virtual_fault_text(count, fault, sizeof fault)) {
        check_fault(fault, STANDARD_NTSC, 1 + count, 40);
        count++;
    }
    assert_true(count >= 2 * 20 + 3 + 3 + 2 + 8 + 2 * 20 + 16 + 16 + 25 + 2 + 4 + 2);
    printf("%zu faults\n", count);
}

static void test_some_on_pal_and_secam(void **state) {
    (void)state;
    static const char *const faults[] = {
        "bit-low=PF2.7", "bit-high=PF0.4", "order=PF1", "mirror-ignored",
        "late=2",        "tia-data=0:low", "frozen=10", "flaky=PF1.0:high:0.2"};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        check_fault(faults[i], STANDARD_PAL, 300 + i, 30);
        check_fault(faults[i], STANDARD_SECAM, 400 + i, 30);
    }
}

static void test_no_fault_passes_on_every_standard(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct loop loop;
        struct virtual_options options;
        virtual_defaults((enum standard)standard, &options);
        if (!loop_run(&loop, "bits", &options, NULL, NULL)) {
            fail_msg("%s: %s", standard_table[standard].name, loop.problem.text);
        }
        if (loop.session.result->verdict != VERDICT_PASS || loop.session.result->finding_count != 0) {
            fail_msg("%s: %s", standard_table[standard].name, loop_findings(&loop));
        }
        assert_true(loop.session.result->margin > 0.8);
        loop_end(&loop);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_fault_passes_on_every_standard),
        cmocka_unit_test(test_every_fault),
        cmocka_unit_test(test_some_on_pal_and_secam),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
