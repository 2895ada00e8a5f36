/*
 * A store whose bytes were changed or cut by something else: each answer is a problem in one line or what was
 * put, and no reader dies of it. `make proof PROOF=records` does so with more of them.
 *
 * SLOTJIG_SEED: the first seed.
 */
#include "record/damage.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

enum { EACH = 16, EACH_SMALL = 8 };

static void damaged_files_say_so(void **state) {
    (void)state;
    const char *told = getenv("SLOTJIG_SEED");
    const uint64_t seed = told != NULL ? strtoull(told, NULL, 10) : 1;
    const uint64_t each = getenv("SLOTJIG_TEST_SMALL") != NULL ? EACH_SMALL : EACH;
    struct filling *filling = filling_new(1);
    struct folder folder;
    folder_make(&folder, "slotjig-damage");
    struct damage *damage = damage_new(filling, &folder);
    size_t bad = 0, problems = 0, right = 0;
    assert_non_null(damage);
    for (int kind = 0; kind < DAMAGE_KINDS; kind++) {
        for (uint64_t i = 0; i < each; i++) {
            struct damage_answer answer;
            damage_at(damage, (enum damage_kind)kind, seed + i, &answer);
            problems += answer.problems;
            right += answer.right;
            if (!answer.good) {
                bad++;
                print_error("%s, SLOTJIG_SEED=%llu: %s\n", damage_kind_names[kind],
                            (unsigned long long)(seed + i), answer.why);
            }
        }
    }
    print_message("seeds from %llu: %zu problems, %zu runs read right\n", (unsigned long long)seed, problems,
                  right);
    damage_free(damage);
    filling_free(filling);
    folder_remove(&folder);
    assert_int_equal(bad, 0);
    assert_true(problems > 0 && right > 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(damaged_files_say_so)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
