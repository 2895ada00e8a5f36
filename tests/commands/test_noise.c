/* No fault and noise at 30 dB (black-to-white over rms noise): no false alarm, whatever the seed. And what
 * noise nobody can read is never called a fault of the console. */
#include "commands/loop.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>

enum { SEEDS = 200, FIRST_SEED = 1000 };

static int seeds(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL ? SEEDS / 20 : SEEDS;
}

/* A different sub-sample origin with every seed. */
static enum verdict verdict_at(uint64_t seed, double noise_db) {
    struct loop loop;
    struct virtual_options options;
    virtual_defaults(STANDARD_NTSC, &options);
    options.seed = seed;
    options.grabber.noise_db = noise_db;
    options.grabber.left = 70.0 + (double)(seed % 97) / 10;
    if (!loop_run(&loop, "bits", &options, NULL, NULL)) {
        fail_msg("seed %llu: %s", (unsigned long long)seed, loop.problem.text);
    }
    enum verdict verdict = loop.session.result->verdict;
    if (verdict == VERDICT_FAIL) {
        fail_msg("seed %llu, %.0f dB: %s", (unsigned long long)seed, noise_db, loop_findings(&loop));
    }
    loop_end(&loop);
    return verdict;
}

static void test_no_false_alarm_at_30_db(void **state) {
    (void)state;
    for (int i = 0; i < seeds(); i++) {
        uint64_t seed = FIRST_SEED + (uint64_t)i;
        if (verdict_at(seed, 30) != VERDICT_PASS) {
            fail_msg("seed %llu at 30 dB is no pass", (unsigned long long)seed);
        }
    }
}

/* Whatever the noise, a good console does not fail: below what can be read the answer is inconclusive. */
static void test_noise_never_fails_a_good_console(void **state) {
    (void)state;
    for (int db = 24; db >= 0; db -= 3) {
        for (uint64_t seed = 1; seed <= 3; seed++) {
            enum verdict verdict = verdict_at(seed, db); /* fails the test on a fail */
            if (db >= 24) {
                assert_int_equal(verdict, VERDICT_PASS);
            } else if (db == 0) {
                assert_int_equal(verdict, VERDICT_INCONCLUSIVE);
            }
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_false_alarm_at_30_db),
        cmocka_unit_test(test_noise_never_fails_a_good_console),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
