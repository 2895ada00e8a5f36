#include "stats/stats.h"

#include <float.h>
#include <math.h>

struct sample sample_of(const double *values, size_t count) {
    struct sample sample = {.count = count};
    for (size_t i = 0; i < count; i++) {
        const double off = values[i] - sample.mean;
        sample.mean += off / (double)(i + 1);
        sample.variance += off * (values[i] - sample.mean);
    }
    sample.variance = count > 1 ? sample.variance / (double)(count - 1) : 0;
    return sample;
}

/* What a mean's variance is taken to be. */
static double of_mean(const struct sample *sample, double quantum) {
    return fmax(sample->variance, quantum * quantum / 12) / (double)sample->count;
}

/* off: of the means; variance: of that. Where nothing varies and nothing is rounded they are alike, or
 * certainly not. */
static struct welch told(double off, double variance, double df) {
    if (!(variance > 0)) {
        return off == 0 ? (struct welch){true, 0, df, 1}
                        : (struct welch){true, copysign(INFINITY, off), df, 0};
    }
    const double t = off / sqrt(variance);
    return (struct welch){true, t, df, student_two_sided(t, df)};
}

struct welch welch_test(const struct sample *first, const struct sample *second, double quantum) {
    if (first->count < 2 || second->count < 2) {
        return (struct welch){.known = false};
    }
    const double n = (double)first->count, m = (double)second->count;
    const double a = of_mean(first, quantum), b = of_mean(second, quantum);
    double df = n + m - 2;
    if (a + b > 0) {
        const double share = a / (a + b); /* keeps tiny variances from vanishing when squared */
        df = 1 / (share * share / (n - 1) + (1 - share) * (1 - share) / (m - 1));
    }
    return told(first->mean - second->mean, a + b, df);
}

struct welch student_test(const struct sample *first, const struct sample *second, double quantum) {
    if (first->count < 2 || second->count < 2) {
        return (struct welch){.known = false};
    }
    const double n = (double)first->count, m = (double)second->count, df = n + m - 2;
    struct sample a = *first, b = *second;
    a.variance = b.variance = ((n - 1) * first->variance + (m - 1) * second->variance) / df;
    return told(first->mean - second->mean, of_mean(&a, quantum) + of_mean(&b, quantum), df);
}

struct welch careful_test(const struct sample *first, const struct sample *second, double quantum) {
    const struct welch welch = welch_test(first, second, quantum);
    const struct welch student = student_test(first, second, quantum);
    return welch.known && student.p > welch.p ? student : welch;
}

/* The regularised incomplete beta function by its continued fraction [DLMF 8.17.22], evaluated forwards by
 * Lentz's method. Good where x < (a + 1) / (a + b + 2): there it needs some sqrt(max(a, b)) terms. */
static double incomplete_beta(double x, double a, double b) {
    enum { TERMS_MOST = 20000 };
    const double least = DBL_MIN / DBL_EPSILON;
    if (x <= 0) {
        return 0;
    }
    int sign;
    const double front =
        exp(lgamma_r(a + b, &sign) - lgamma_r(a, &sign) - lgamma_r(b, &sign) + a * log(x) + b * log1p(-x)) /
        a;
    double above = 1, below = 0, value = 1;
    for (int n = 1; n < TERMS_MOST; n++) {
        const int half = n / 2;
        const double m = half;
        const double term = n % 2 == 0 ? m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
                                       : -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
        below = 1 + term * below;
        below = 1 / (fabs(below) < least ? least : below);
        above = 1 + term / above;
        above = fabs(above) < least ? least : above;
        value *= above * below;
        if (fabs(above * below - 1) < 4 * DBL_EPSILON) {
            break;
        }
    }
    return front / value;
}

double student_two_sided(double t, double df) {
    const double normal_from = 1e9; /* degrees of freedom: from there on nobody can tell */
    if (isnan(t) || !(df > 0)) {
        return NAN;
    }
    if (isinf(t)) {
        return 0;
    }
    if (df >= normal_from) {
        return erfc(fabs(t) * M_SQRT1_2);
    }
    /* P(|T| > t) = I_x(df/2, 1/2) with x = df / (df + t^2) [DLMF 8.17; Abramowitz and Stegun 26.7.1]. */
    const double x = df / (df + t * t), rest = t * t / (df + t * t);
    const double a = df / 2, b = 0.5;
    return x < (a + 1) / (a + b + 2) ? incomplete_beta(x, a, b) : 1 - incomplete_beta(rest, b, a);
}
