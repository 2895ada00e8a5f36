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

double pairs_larger(const double *first, size_t first_count, const double *second, size_t second_count) {
    double larger = 0;
    for (size_t i = 0; i < first_count; i++) {
        for (size_t j = 0; j < second_count; j++) {
            larger += first[i] > second[j] ? 1 : first[i] == second[j] ? 0.5 : 0;
        }
    }
    return first_count > 0 && second_count > 0 ? larger / ((double)first_count * (double)second_count) : NAN;
}
