/* A small lot of virtual cartridges with planted faults (make proof PROOF=lot has 500): every fault caught,
 * no good one, and the lot's page holds the planted numbers. SLOTJIG_SEED: another one. */
#include "commands/lots.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <unistd.h>

#include <cmocka.h>

static void a_small_lot(void **state) {
    (void)state;
    char folder[] = "/tmp/slotjig-lot-XXXXXX", line[100];
    const char *seed = getenv("SLOTJIG_SEED");
    const bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    assert_non_null(mkdtemp(folder));
    const struct lots_order order = {.folder = folder,
                                     .count = small ? 4 : 25,
                                     .faulty = small ? 1 : 4,
                                     .seed = seed != NULL ? strtoull(seed, NULL, 10) : 1,
                                     .jobs = 2};
    const int wrong = lots_test(&order, stderr);
    snprintf(line, sizeof line, "rm -r '%s'", folder);
    assert_int_equal(system(line), 0); /* NOLINT(cert-env33-c): the test's own words */
    assert_int_equal(wrong, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_small_lot)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
