#include "stats/stats.h"

#include <math.h>

struct interval wilson_interval(long hits, long tries) {
    const double z = 1.959963984540054; /* 97.5 % point of the normal distribution */
    if (tries <= 0) {
        return (struct interval){0, 1};
    }
    double n = (double)tries, p = (double)hits / n;
    double centre = p + z * z / (2 * n);
    double reach = z * sqrt(p * (1 - p) / n + z * z / (4 * n * n));
    double scale = 1 + z * z / n;
    /* The ends are exact, whatever is rounded. */
    return (struct interval){hits <= 0 ? 0 : fmax(0, (centre - reach) / scale),
                             hits >= tries ? 1 : fmin(1, (centre + reach) / scale)};
}
