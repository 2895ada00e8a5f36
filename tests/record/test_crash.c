/*
 * Killed at moments spread over everything a writer does, a store loses nothing of what it acknowledged, and
 * holds each run whole or not at all. `make proof PROOF=records` does so at 1,000 moments.
 *
 * SLOTJIG_SEED (or --seed): the series; SLOTJIG_MOMENT: that one alone.
 */
#include "record/crash.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { MOMENTS = 48, MOMENTS_SMALL = 24 };
static uint64_t seed = 1;

static void nothing_acknowledged_is_lost(void **state) {
    (void)state;
    const char *one = getenv("SLOTJIG_MOMENT");
    const uint64_t first = one != NULL ? strtoull(one, NULL, 10) : 0;
    const uint64_t count = one != NULL ? 1 : getenv("SLOTJIG_TEST_SMALL") != NULL ? MOMENTS_SMALL : MOMENTS;
    struct crash *crash = crash_new(1, SOURCE_DIR "/tests/record/old");
    size_t bad = 0, killed = 0, acknowledged = 0;
    assert_non_null(crash);
    for (uint64_t number = first; number < first + count; number++) {
        const struct crash_moment moment = crash_moment_of(seed, number);
        struct crash_answer answer;
        crash_at(crash, &moment, &answer);
        killed += answer.killed;
        acknowledged += answer.acknowledged;
        if (!answer.good) {
            bad++;
            print_error("SLOTJIG_SEED=%llu SLOTJIG_MOMENT=%llu (%s, %s): %s\n", (unsigned long long)seed,
                        (unsigned long long)number, crash_scene_names[moment.scene],
                        crash_manner_names[moment.manner], answer.why);
        }
    }
    print_message("seed %llu: %zu of %llu killed before they were done, %zu runs acknowledged\n",
                  (unsigned long long)seed, killed, (unsigned long long)count, acknowledged);
    crash_free(crash);
    assert_int_equal(bad, 0);
    assert_true(one != NULL || (killed >= count / 2 && acknowledged > 0)); /* or nothing was tried */
}

int main(int count, char **arguments) {
    const char *told = getenv("SLOTJIG_SEED");
    if (count > 2 && strcmp(arguments[1], "--seed") == 0) {
        told = arguments[2];
    }
    seed = told != NULL ? strtoull(told, NULL, 10) : seed;
    const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_acknowledged_is_lost)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
