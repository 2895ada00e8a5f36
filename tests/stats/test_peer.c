/* Student's distribution against the GNU Scientific Library's. */
#include "stats/stats.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#if __has_include(<gsl/gsl_cdf.h>)
#include <gsl/gsl_cdf.h>

/* The peer takes an expansion of its own above 30 degrees of freedom (cdf/tdist.c: Cornish and Fisher's),
 * which is good to some 1e-7; test_stats.c has closed forms for those. */
static double bound_of(double df) {
    return df > 30 ? 1e-6 : 1e-11;
}

static void student_is_the_peers(void **state) {
    double worst[2] = {0, 0};
    (void)state;
    for (double df = 0.7; df < 3e6; df *= 1.37) {
        for (double t = 1e-4; t < 60; t *= 1.31) {
            const double peer = 2 * gsl_cdf_tdist_Q(t, df);
            const double off = fabs(student_two_sided(t, df) - peer) / fmax(peer, 1e-280);
            worst[df > 30] = fmax(worst[df > 30], off);
            if (peer > 1e-280 && off > bound_of(df)) {
                fail_msg("t %.6g, df %.6g: %.15g, the peer %.15g", t, df, student_two_sided(t, df), peer);
            }
        }
    }
    print_message("farthest from the peer: %.2g of the value up to 30 degrees of freedom, %.2g above\n",
                  worst[0], worst[1]);
}
#else
static void student_is_the_peers(void **state) {
    (void)state;
    print_message("libgsl-dev is not there\n");
    skip();
}
#endif

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(student_is_the_peers)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
