/*
 * Rounds of plan `cartridge` on the console model with a good cartridge: every item, in the order of
 * plan/check.h, in how many fields. Arithmetic [A]: the six seconds in fields, 3579545 / (228 * 262) a second
 * and 3546894 / (228 * 312).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "rom/check_rounds.h"

enum { SECONDS = 6, ROUNDS = 2, RAM_ROUNDS_AT = 0xD3 - 0x80 };

static double rate(enum standard standard) {
    const double clock = standard == STANDARD_NTSC ? 3579545.0 : 3546894.0;
    return clock / (228.0 * standard_lines(standard));
}

static int fields_in(enum standard standard, int seconds) {
    return (int)(rate(standard) * seconds);
}

static void same_items(const struct plan *plan, const struct round_seen *seen, int home, int round) {
    static struct check_item wanted[CHECK_ITEMS_MAX];
    const size_t count = check_items(&plan->check, wanted);
    assert_int_equal(wanted[0].kind, CHECK_START);
    wanted[0].place = (uint8_t)home;
    for (size_t i = 0; i < count && i < seen->count; i++) {
        const bool rounds = wanted[i].kind == CHECK_ROUND;
        const uint8_t place = (uint8_t)(rounds ? round >> 8 : wanted[i].place);
        const uint8_t what = (uint8_t)(rounds ? round : wanted[i].what);
        if (seen->item[i].kind != wanted[i].kind || seen->item[i].place != place ||
            seen->item[i].what != what) {
            fail_msg("%s%s: item %zu is %05X, not %05X", scheme_name(plan->check.scheme),
                     plan->check.ram ? " with RAM" : "", i, check_pack(seen->item[i]),
                     check_pack((struct check_item){wanted[i].kind, place, what}));
        }
    }
    assert_int_equal(seen->count, count);
}

static void rounds_are_good(int scheme, bool ram, enum standard standard, int hold, int home) {
    static struct round_seen seen;
    struct plan *plan = check_plan_of(scheme, ram, standard);
    struct image *image = check_image_of(plan, hold, 0);
    check_power_on(plan, image, home, (uint64_t)home + 3);
    assert_true(round_begin(plan));
    int fields = 0;
    /* The very first START may pass while the console starts. */
    const int first = check_console.riot.ram[RAM_ROUNDS_AT] + 1;
    for (int round = first; round < first + ROUNDS; round++) {
        if (!round_watch(plan, &seen, 4000 * hold)) {
            fail_msg("%s: round %d ends after %d fields, %zu items, the last %05X", scheme_name(scheme),
                     round, seen.fields, seen.count, check_pack(seen.item[seen.count - 1]));
        }
        same_items(plan, &seen, home, round);
        assert_int_equal(round_odd, 0);
        fields = seen.fields;
    }
    printf("%s%s %s, hold %d: %d fields a round, %.2f s\n", scheme_name(scheme), ram ? " with RAM" : "",
           standard_table[standard].name, hold, fields, fields / rate(standard));
    assert_true(hold > 1 || fields <= fields_in(standard, SECONDS));
    rom_free(image);
    plan_free(plan);
}

static void test_good(void **state) {
    (void)state;
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int standard = 0; standard < STANDARD_COUNT; standard++) {
            if (standard == STANDARD_SECAM && scheme != WIRE_F8) {
                continue; /* its frames are PAL's */
            }
            for (int ram = 0; ram < 2 - (scheme == WIRE_2K); ram++) {
                rounds_are_good(scheme, ram, (enum standard)standard, 1, scheme_banks(scheme) - 1);
            }
        }
    }
}

static void test_each_bank(void **state) {
    (void)state;
    for (int bank = 0; bank < SCHEME_BANKS_MAX; bank++) {
        rounds_are_good(WIRE_F4, bank % 2, STANDARD_NTSC, 1, bank);
    }
    rounds_are_good(WIRE_F8, true, STANDARD_NTSC, 3, 0);
}

static void test_seconds(void **state) {
    (void)state;
    assert_int_equal(fields_in(STANDARD_NTSC, SECONDS), 359);
    assert_int_equal(fields_in(STANDARD_PAL, SECONDS), 299);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_seconds),
        cmocka_unit_test(test_good),
        cmocka_unit_test(test_each_bank),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
