#include "stats/stats.h"

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

struct welch welch_test(const struct sample *first, const struct sample *second, double quantum) {
    (void)first, (void)second, (void)quantum;
    return (struct welch){.known = false};
}

double student_two_sided(double t, double df) {
    (void)t, (void)df;
    return NAN;
}
