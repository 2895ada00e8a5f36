/* No fault and noise at 30 dB (black-to-white over rms noise): no false alarm, whatever the seed. And what
 * noise nobody can read is never called a fault of the console. */
#include "commands/loop.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
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

static double margin_with(const char *impairment, uint64_t seed) {
    struct loop loop;
    struct problem problem = {0};
    struct virtual_options options;
    virtual_defaults(STANDARD_NTSC, &options);
    options.seed = seed;
    options.grabber.noise_db = 24;
    if ((impairment != NULL && !virtual_add_impairment(&options, impairment, &problem)) ||
        !loop_run(&loop, "bits", &options, NULL, NULL)) {
        fail_msg("%s: %s%s", impairment, problem.text, loop.problem.text);
    }
    double margin = loop.session.result->margin;
    loop_end(&loop);
    return margin;
}

/* A margin means the same whatever the grabber's width, levels and packing: the distance of the worst cell's
 * mean from the threshold over half of black to white, so that one less it is that cell's noise, which goes
 * as the root of the samples averaged [A]: 8 of 13.5 MHz, 7 of square ones. Extremes of seven million cells
 * differ by a few hundredths from run to run. */
static void test_margins_mean_the_same_on_every_grabber(void **state) {
    (void)state;
    static const struct {
        const char *impairment;
        int samples;
    } grabbers[] = {{NULL, 8},         {"width=704", 8},     {"width=640", 7},     {"gain=0.4", 8},
                    {"gain=0.7", 8},   {"offset=0.1", 8},    {"left=66.4", 8},     {"layout=stacked", 8},
                    {"older=top", 8},  {"layout=single", 8}, {"layout=bobbed", 8}, {"stale=top", 8},
                    {"chroma=420", 8}, {"mjpeg=98", 8},      {"slant=0.02", 8},    {"scale=0.98", 8}};
    const double usual = (1 - margin_with(NULL, 1)) * sqrt(8);
    for (size_t i = 0; i < sizeof grabbers / sizeof grabbers[0]; i++) {
        double noise = (1 - margin_with(grabbers[i].impairment, 2 + i)) * sqrt(grabbers[i].samples);
        if (!(fabs(noise / usual - 1) < 0.15)) {
            fail_msg("%s: %.3f of the usual distance", grabbers[i].impairment, noise / usual);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_false_alarm_at_30_db),
        cmocka_unit_test(test_noise_never_fails_a_good_console),
        cmocka_unit_test(test_margins_mean_the_same_on_every_grabber),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
