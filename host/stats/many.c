#include "stats/stats.h"

#include <math.h>
#include <stdlib.h>

struct ranked {
    double p;
    size_t at;
};

static int by_p(const void *first, const void *second) {
    const double a = ((const struct ranked *)first)->p, b = ((const struct ranked *)second)->p;
    return (a > b) - (a < b);
}

bool benjamini_hochberg(const double *p, size_t count, double *adjusted) {
    struct ranked *ranked = malloc((count > 0 ? count : 1) * sizeof *ranked);
    size_t known = 0;
    if (ranked == NULL) {
        return false;
    }
    for (size_t i = 0; i < count; i++) {
        if (isnan(p[i])) {
            adjusted[i] = p[i];
        } else {
            ranked[known++] = (struct ranked){p[i], i};
        }
    }
    qsort(ranked, known, sizeof *ranked, by_p);
    double least = 1;
    for (size_t rank = known; rank > 0; rank--) {
        least = fmin(least, ranked[rank - 1].p * (double)known / (double)rank);
        adjusted[ranked[rank - 1].at] = least;
    }
    free(ranked);
    return true;
}

static int by_size(const void *first, const void *second) {
    const double a = *(const double *)first, b = *(const double *)second;
    return (a > b) - (a < b);
}

double pairs_larger(double *first, size_t first_count, double *second, size_t second_count) {
    double larger = 0;
    size_t below = 0, not_above = 0; /* of the second, the value at hand */
    if (first_count == 0 || second_count == 0) {
        return NAN;
    }
    qsort(first, first_count, sizeof *first, by_size);
    qsort(second, second_count, sizeof *second, by_size);
    for (size_t i = 0; i < first_count; i++) {
        while (below < second_count && second[below] < first[i]) {
            below++;
        }
        while (not_above < second_count && second[not_above] <= first[i]) {
            not_above++;
        }
        larger += 0.5 * (double)(below + not_above);
    }
    return larger / ((double)first_count * (double)second_count);
}
