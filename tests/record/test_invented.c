/* The invented shelf is what its header says. */
#include "record/invented.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>

#include <cmocka.h>

static void shelf_is_as_asked(void **state) {
    (void)state;
    struct invented *invented = invented_new(1, 14, 98, 2);
    size_t failed = 0;
    assert_int_equal(invented->runs.count, 28);
    for (size_t i = 0; i < invented->runs.count; i++) {
        const struct record_run *run = invented->runs.runs[i];
        assert_int_equal(run->step_count, 98);
        failed += run->end == RECORD_FAIL;
        assert_int_equal(run->finding_count, run->end == RECORD_FAIL);
    }
    assert_int_equal(failed, 4); /* two consoles of fourteen, twice */
    invented_free(invented);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(shelf_is_as_asked)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
