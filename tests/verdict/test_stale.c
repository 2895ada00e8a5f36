/* A field that comes again and again between the others, as a grabber does that weaves each with an old one.
 */
#include "draw.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

enum { HOLD = 6, OLD_STEP = 90, OLD_COUNTER = 17 };

static enum judged feed(struct judge *judge, const struct plan *plan, uint32_t step, unsigned counter,
                        const struct fault *fault) {
    struct reading reading;
    draw_step(fault, plan, step, counter, &reading);
    return judge_reading(judge, &reading, 2);
}

/* The old one is wrong, so that it would show if it were ever judged; all others are judged as if it were not
 * there. */
static void test_stale(void **state) {
    (void)state;
    static const struct fault none, wrong = {.low = 0xFFFFF};
    struct problem problem = {0};
    struct plan *plan = NULL;
    assert_true(plan_open("bits", STANDARD_NTSC, &plan, &problem));
    struct judge *judge = judge_new(plan, DRAW_HASH);
    unsigned counter = 20;
    for (uint32_t step = 0; step < 40; step++) {
        for (int i = 0; i < HOLD; i++, counter++) {
            enum judged judged = feed(judge, plan, step, counter, &none);
            if (judged != (i == 0 ? JUDGED_NOT : JUDGED_PASS) && step > 0) {
                fail_msg("step %u, field %d: judged %d", step, i, judged);
            }
            assert_int_equal(feed(judge, plan, OLD_STEP, OLD_COUNTER, &wrong), JUDGED_NOT);
        }
    }
    assert_int_equal(judge_result(judge)->steps[OLD_STEP].fields, 0);
    judge_free(judge);
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_stale)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
