/*
 * Plan `cartridge` on the console model: the frame keeps its lines whatever the work takes. Handbook [H]: 262
 * and 312 lines, 3 of sync.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "rom/check_console.h"

enum { FIELDS = 600, SETTLE = 2 };

static void keeps_lines(const struct plan *plan, const struct image *image, int first) {
    struct slate slate = {0};
    check_power_on(plan, image, first, (uint64_t)first + 3);
    int counter = -1;
    for (int field = 0; field < FIELDS; field++) {
        if (!console_run_field(&check_console, TIA_LINES_MAX)) {
            fail_msg("%s: no field %d", scheme_name(plan->check.scheme), field);
        }
        if (field < SETTLE) {
            continue;
        }
        if (check_console.tia.field.lines != standard_lines(plan->standard)) {
            fail_msg("%s: field %d has %d lines", scheme_name(plan->check.scheme), field,
                     check_console.tia.field.lines);
        }
        if (!field_slate(&check_console.tia.field, plan->standard, &slate) || slate.hash != image->hash) {
            fail_msg("%s: field %d: no slate of this image", scheme_name(plan->check.scheme), field);
        }
        assert_true(counter < 0 || slate.counter == (counter + 1) % 64);
        counter = slate.counter;
    }
}

static void test_frames(void **state) {
    (void)state;
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int standard = 0; standard < STANDARD_COUNT; standard++) {
            for (int ram = 0; ram < 2; ram++) {
                struct plan *plan = check_plan_of(scheme, ram, (enum standard)standard);
                struct image *image = check_image_of(plan, 1, 0);
                keeps_lines(plan, image, scheme_banks(scheme) - 1);
                rom_free(image);
                plan_free(plan);
            }
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_frames),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
