/*
 * The few statistics that runs are told apart by. Pure functions; sources at each.
 */
#ifndef SLOTJIG_STATS_STATS_H
#define SLOTJIG_STATS_STATS_H

#include <stdbool.h>
#include <stddef.h>

struct interval {
    double low, high;
};

/* Wilson's interval of a share, 95 % [NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1]. 0..1 of no
 * tries. */
struct interval wilson_interval(long hits, long tries);

struct sample {
    size_t count;
    double mean, variance; /* of count - 1; 0 of fewer than two */
};
struct sample sample_of(const double *values, size_t count);

/* Welch's test of two means whose variances may differ [NIST/SEMATECH e-Handbook, 1.3.5.3]. quantum: the
 * values' resolution, whose variance (quantum^2 / 12) is the least that either side is taken to have. known:
 * both sides have two values at least. */
struct welch {
    bool known;
    double t, df, p; /* two-sided */
};
struct welch welch_test(const struct sample *first, const struct sample *second, double quantum);
/* Student's test, of variances that do not differ [the same section]. */
struct welch student_test(const struct sample *first, const struct sample *second, double quantum);
/* That of the two which is less sure. Welch's degrees of freedom are an approximation that calls too much far
 * out in the tails, where many tests at once look, when the sides are of unequal size (of the same spread, 3
 * against 10 at p = 1.3e-4: 6.7 times too often; 5 against 100: 13 times); Student's is exact then, but wrong
 * where the spread differs. */
struct welch careful_test(const struct sample *first, const struct sample *second, double quantum);
/* Share of Student's t beyond +-t: 0..1; df > 0, not necessarily whole. */
double student_two_sided(double t, double df);

/* Adjusted p-values for many tests at once, by Benjamini and Hochberg 1995 (JRSS B 57:289): those of at most
 * q are called at a false discovery rate of q. p and adjusted may be the same array; NaN stays and does not
 * count. False: out of memory. */
bool benjamini_hochberg(const double *p, size_t count, double *adjusted);

/* Share of pairs in which the first is larger, ties half: 0.5 tells nothing apart, 0 and 1 everything (the
 * Mann-Whitney statistic over the number of pairs). NaN of an empty side. Puts both in order. */
double pairs_larger(double *first, size_t first_count, double *second, size_t second_count);

#endif
