/* The statistics against published figures. */
#include "stats/stats.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static void near(double seen, double wanted, double off, const char *what) {
    if (!(fabs(seen - wanted) <= off)) {
        fail_msg("%s: %.12g, published %.12g", what, seen, wanted);
    }
}

/* R. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17 (1998)
 * 857-872, table I, method 3 (Wilson's score, no continuity correction), 95 %. */
static void wilson_is_the_published_table(void **state) {
    static const struct {
        long hits, tries;
        double low, high;
    } rows[] = {
        {81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}};
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        const struct interval interval = wilson_interval(rows[i].hits, rows[i].tries);
        near(interval.low, rows[i].low, 0.5e-4, "low");
        near(interval.high, rows[i].high, 0.5e-4, "high");
    }
}

/* NIST/SEMATECH e-Handbook 7.2.4.1: the two limits are the shares p0 at which the test of 7.2.4, z = (p - p0)
 * / sqrt(p0 (1 - p0) / n), gives exactly the normal distribution's 97.5 % point; 4 of 20 is the case that its
 * section 7.2.4.2 works on. */
static void wilson_inverts_the_handbooks_test(void **state) {
    (void)state;
    for (long tries = 1; tries <= 60; tries++) {
        for (long hits = 0; hits <= tries; hits++) {
            const double p = (double)hits / (double)tries;
            const struct interval limits = wilson_interval(hits, tries);
            const double low = limits.low, high = limits.high;
            assert_true(low >= 0 && low <= p && p <= high && high <= 1);
            if (hits > 0) {
                near((p - low) / sqrt(low * (1 - low) / (double)tries), 1.959963985, 1e-6,
                     "z at the lower limit");
            }
            if (hits < tries) {
                near((high - p) / sqrt(high * (1 - high) / (double)tries), 1.959963985, 1e-6,
                     "z at the upper limit");
            }
        }
    }
    /* The same by hand for 4 of 20 [A]: centre (0.2 + 0.096036) / 1.192073, reach 1.959964 * sqrt(0.008 +
     * 0.0024009) / 1.192073. */
    near(wilson_interval(4, 20).low, 0.080658, 2e-6, "4 of 20");
    near(wilson_interval(4, 20).high, 0.416017, 2e-6, "4 of 20");
}

/* Of no tries nothing is known. */
static void wilson_of_nothing(void **state) {
    (void)state;
    assert_true(wilson_interval(0, 0).low == 0 && wilson_interval(0, 0).high == 1);
}

/* NIST/SEMATECH e-Handbook 1.3.5.3, data AUTO83B: miles per gallon of 249 cars of the one and 79 of the other
 * country; counts, means and deviations as printed there. That page prints the pooled test (-12.62059, 326);
 * t and degrees of freedom without pooling are those that NIST's Dataplot printed with it before
 * (-12.94627, 136.8750), which the Boost.Math manual ("Comparing the means of two samples with the Students-t
 * test", on the same data) repeats with a p of 1.571e-25. */
static void welch_is_the_handbooks(void **state) {
    const struct sample us = {.count = 249, .mean = 20.14458, .variance = 6.41470 * 6.41470};
    const struct sample japan = {.count = 79, .mean = 30.48101, .variance = 6.10771 * 6.10771};
    const struct welch welch = welch_test(&us, &japan, 0);
    (void)state;
    assert_true(welch.known);
    near(welch.t, -12.94627, 1e-5, "t");
    near(welch.df, 136.8750, 2e-4, "df");
    near(welch.p, 1.571e-25, 0.002e-25, "p");
    const struct welch pooled = student_test(&us, &japan, 0);
    near(pooled.t, -12.62059, 1e-5, "pooled t");
    near(pooled.df, 326, 0, "pooled df");
    near(pooled.p, 5.273e-30, 0.002e-30, "pooled p"); /* the Boost.Math manual again */
    near(careful_test(&us, &japan, 0).p, welch.p, 0, "the less sure of the two");
}

/* Three values against ten that vary alike, with a small side that happens to vary little: Student's is the
 * less sure. */
static void the_less_sure_test_counts(void **state) {
    const struct sample few = {.count = 3, .mean = 0, .variance = 0.01};
    const struct sample many = {.count = 10, .mean = 1.2, .variance = 1};
    const struct welch welch = welch_test(&few, &many, 0), student = student_test(&few, &many, 0);
    (void)state;
    assert_true(student.p > welch.p);
    assert_true(careful_test(&few, &many, 0).p == student.p && careful_test(&few, &many, 0).t == student.t);
    assert_false(careful_test(&(struct sample){.count = 1}, &many, 0).known);
    assert_false(student_test(&(struct sample){.count = 1}, &many, 0).known);
}

/* Mean and variance of the ten values of NIST/SEMATECH e-Handbook 1.3.5.6's kind, by hand [A]: 1..5 have mean
 * 3 and variance 2.5; an offset of 1e9 must not spoil it. */
static void sample_is_arithmetic(void **state) {
    const double near_zero[] = {1, 2, 3, 4, 5}, far[] = {1e9 + 1, 1e9 + 2, 1e9 + 3, 1e9 + 4, 1e9 + 5};
    const struct sample first = sample_of(near_zero, 5), second = sample_of(far, 5);
    (void)state;
    assert_true(first.count == 5 && first.mean == 3);
    near(first.variance, 2.5, 1e-12, "variance");
    near(second.variance, 2.5, 1e-6, "variance far from 0");
    assert_true(sample_of(near_zero, 1).variance == 0 && sample_of(near_zero, 0).count == 0);
}

/* Values that do not vary at all are only as good as their resolution. */
static void resolution_bounds_the_variance(void **state) {
    const double before[] = {0.5, 0.5, 0.5}, now[] = {0.6, 0.6, 0.6};
    const struct sample first = sample_of(before, 3), second = sample_of(now, 3);
    const struct welch welch = welch_test(&second, &first, 0.12);
    (void)state;
    /* [A] both means' variance 0.12^2 / 12 / 3 = 0.0004: t = 0.1 / sqrt(0.0008), df = 4. */
    near(welch.t, 0.1 / sqrt(0.0008), 1e-9, "t");
    near(welch.df, 4, 1e-9, "df");
    assert_true(!welch_test(&(struct sample){.count = 1}, &second, 0.1).known);
    assert_true(welch_test(&first, &first, 0).p == 1 && welch_test(&first, &second, 0).p == 0);
}

/* NIST/SEMATECH e-Handbook 1.3.6.7.2, upper critical values of Student's t: by degrees of freedom, the points
 * that 0.10, 0.05, 0.025, 0.01, 0.005 and 0.001 exceed; printed to three decimals. */
static void student_is_the_published_table(void **state) {
    static const double upper[] = {0.10, 0.05, 0.025, 0.01, 0.005, 0.001};
    static const struct {
        double df, t[6];
    } rows[] = {{1, {3.078, 6.314, 12.706, 31.821, 63.657, 318.313}},
                {2, {1.886, 2.920, 4.303, 6.965, 9.925, 22.327}},
                {3, {1.638, 2.353, 3.182, 4.541, 5.841, 10.215}},
                {4, {1.533, 2.132, 2.776, 3.747, 4.604, 7.173}},
                {5, {1.476, 2.015, 2.571, 3.365, 4.032, 5.893}},
                {6, {1.440, 1.943, 2.447, 3.143, 3.707, 5.208}},
                {8, {1.397, 1.860, 2.306, 2.896, 3.355, 4.499}},
                {10, {1.372, 1.812, 2.228, 2.764, 3.169, 4.143}},
                {20, {1.325, 1.725, 2.086, 2.528, 2.845, 3.552}},
                {30, {1.310, 1.697, 2.042, 2.457, 2.750, 3.385}},
                {60, {1.296, 1.671, 2.000, 2.390, 2.660, 3.232}},
                {100, {1.290, 1.660, 1.984, 2.364, 2.626, 3.174}},
                {1e12, {1.282, 1.645, 1.960, 2.326, 2.576, 3.090}}};
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        for (size_t k = 0; k < COUNT(upper); k++) {
            /* Within what three decimals of t leave open; the table's last column is off by up to 0.004. */
            const double slack = k == 5 ? 0.0045 : 0.00051;
            const double t = rows[i].t[k];
            assert_true(student_two_sided(t - slack, rows[i].df) >= 2 * upper[k]);
            assert_true(student_two_sided(t + slack, rows[i].df) <= 2 * upper[k]);
            assert_true(student_two_sided(-t, rows[i].df) == student_two_sided(t, rows[i].df));
        }
    }
}

/* Closed forms [A]: of one degree of freedom it is Cauchy's, 1 - 2/pi atan t; of two 1 - t / sqrt(2 + t^2).
 */
static void student_is_its_closed_forms(void **state) {
    (void)state;
    for (double t = 0; t < 50; t += 0.01) {
        near(student_two_sided(t, 1), 1 - 2 / M_PI * atan(t), 1e-14, "one degree of freedom");
        near(student_two_sided(t, 2), 1 - t / sqrt(2 + t * t), 1e-14, "two degrees of freedom");
    }
    /* Of an even number n: sin a (1 + 1/2 cos^2 a + 1*3/(2*4) cos^4 a + ... to cos^(n-2)), tan a = t / sqrt n
     * [Abramowitz and Stegun 26.7.4]. */
    for (int n = 2; n <= 400; n += 2) {
        for (double t = 0.05; t < 12; t += 0.31) {
            const double square = n / (n + t * t);
            double sum = 1, term = 1;
            for (int k = 1; k < n / 2; k++) {
                term *= (2 * k - 1) * square / (2 * k);
                sum += term;
            }
            near(student_two_sided(t, n), 1 - t / sqrt(n + t * t) * sum, 2e-14 * n, "an even number");
        }
    }
    assert_true(student_two_sided(0, 7.5) == 1 && student_two_sided(INFINITY, 7.5) == 0);
    assert_true(isnan(student_two_sided(1, 0)) && isnan(student_two_sided(NAN, 3)));
}

/* Y. Benjamini and Y. Hochberg, "Controlling the false discovery rate", JRSS B 57 (1995) 289-300, section
 * 3.2: the fifteen p-values of a trial of thrombolysis; at a rate of 0.05 the paper calls the first four,
 * since p(4) = 0.0095 <= 4/15 0.05 is the last that meets its bound. */
static void fifteen_values_of_the_paper(void **state) {
    static const double p[] = {0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
                               0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.000};
    double adjusted[15];
    (void)state;
    assert_true(benjamini_hochberg(p, 15, adjusted));
    for (int i = 0; i < 15; i++) {
        assert_true((adjusted[i] <= 0.05) == (i < 4));
    }
    /* [A] adjusted p of the k-th is the least of p(j) 15 / j for j from k on. */
    near(adjusted[0], 0.0001 * 15, 1e-12, "first");
    near(adjusted[3], 0.0095 * 15 / 4, 1e-12, "fourth");
    near(adjusted[5], 0.0298 * 15 / 7, 1e-12, "sixth, of the seventh's");
    near(adjusted[14], 1, 0, "last");
}

/* The paper's own words [section 3.1] as a second road: the largest k with p(k) <= k/m q, and all below it.
 */
static void step_up_as_the_paper_words_it(void **state) {
    enum { MOST = 40 };
    uint64_t seed = 20261126;
    (void)state;
    for (int round = 0; round < 500; round++) {
        double p[MOST], sorted[MOST], adjusted[MOST];
        const int count = 1 + round % MOST;
        for (int i = 0; i < count; i++) {
            seed = seed * 6364136223846793005u + 1442695040888963407u;
            p[i] = sorted[i] = pow((double)(seed >> 40) / (1 << 24), 3);
        }
        for (int i = 1; i < count; i++) {
            for (int j = i; j > 0 && sorted[j] < sorted[j - 1]; j--) {
                const double other = sorted[j];
                sorted[j] = sorted[j - 1];
                sorted[j - 1] = other;
            }
        }
        double bound = -1;
        for (int k = 1; k <= count; k++) {
            bound = sorted[k - 1] <= k * 0.1 / count ? sorted[k - 1] : bound;
        }
        assert_true(benjamini_hochberg(p, (size_t)count, adjusted));
        for (int i = 0; i < count; i++) {
            /* A hair from the bound either may be right: p m / k against k q / m is rounded differently. */
            if (fabs(adjusted[i] - 0.1) > 1e-12 && (adjusted[i] <= 0.1) != (p[i] <= bound)) {
                fail_msg("round %d, value %d: p %.17g, bound %.17g", round, i, p[i], bound);
            }
        }
    }
}

/* What was not tested does not count among the tests, and one array may be both. */
static void untested_values_do_not_count(void **state) {
    double p[] = {NAN, 0.04, NAN, 0.01};
    (void)state;
    assert_true(benjamini_hochberg(p, 4, p));
    assert_true(isnan(p[0]) && isnan(p[2]));
    near(p[1], 0.04, 1e-15, "larger of two");
    near(p[3], 0.02, 1e-15, "smaller of two");
    assert_true(benjamini_hochberg(NULL, 0, NULL));
}

/* R. Shier, "Statistics: 2.3 The Mann-Whitney U test", Mathematics Learning Support Centre, 2004 (worked on
 * in SciPy's manual of mannwhitneyu): ages at diagnosis of five men and four women; U is 17 for the men, 3
 * for the women, of 20 pairs. */
static void mann_whitney_is_the_worked_example(void **state) {
    double men[] = {19, 22, 16, 29, 24}, women[] = {20, 11, 17, 12};
    (void)state;
    near(pairs_larger(men, 5, women, 4), 17.0 / 20, 1e-15, "men");
    near(pairs_larger(women, 4, men, 5), 3.0 / 20, 1e-15, "women");
    /* Ties count half [A]. */
    near(pairs_larger(men, 5, men, 5), 0.5, 1e-15, "with itself");
    assert_true(isnan(pairs_larger(men, 0, women, 4)) && isnan(pairs_larger(men, 5, women, 0)));
}

/* Many values, many of them alike, as its definition has it: pair by pair [A]. */
static void pairs_are_counted_one_by_one(void **state) {
    double first[23], second[31];
    uint64_t random = 5;
    (void)state;
    for (int round = 0; round < 200; round++) {
        double larger = 0;
        for (size_t i = 0; i < COUNT(first) + COUNT(second); i++) {
            random = random * 6364136223846793005u + 1442695040888963407u; /* Knuth's MMIX */
            *(i < COUNT(first) ? &first[i] : &second[i - COUNT(first)]) = (double)(random >> 60);
        }
        for (size_t i = 0; i < COUNT(first) * COUNT(second); i++) {
            const double a = first[i / COUNT(second)], b = second[i % COUNT(second)];
            larger += a > b ? 1 : a == b ? 0.5 : 0;
        }
        near(pairs_larger(first, COUNT(first), second, COUNT(second)),
             larger / (double)(COUNT(first) * COUNT(second)), 1e-15, "pair by pair");
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(wilson_is_the_published_table),
                                       cmocka_unit_test(wilson_inverts_the_handbooks_test),
                                       cmocka_unit_test(wilson_of_nothing),
                                       cmocka_unit_test(welch_is_the_handbooks),
                                       cmocka_unit_test(the_less_sure_test_counts),
                                       cmocka_unit_test(sample_is_arithmetic),
                                       cmocka_unit_test(resolution_bounds_the_variance),
                                       cmocka_unit_test(student_is_the_published_table),
                                       cmocka_unit_test(student_is_its_closed_forms),
                                       cmocka_unit_test(fifteen_values_of_the_paper),
                                       cmocka_unit_test(step_up_as_the_paper_words_it),
                                       cmocka_unit_test(untested_values_do_not_count),
                                       cmocka_unit_test(mann_whitney_is_the_worked_example),
                                       cmocka_unit_test(pairs_are_counted_one_by_one)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
