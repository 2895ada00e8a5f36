/*
 * A dark start: so many fields that show nothing, sync and mailbox as ever, then the first value. 262 and 312
 * lines and 3 of sync [H].
 */
#include "plan/every.h"
#include "plan/moments.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "rom/counted.h"

enum { SEED = 3, HOLD = 3, KINDS = 4 };

static struct plan *open_kind(int kind, enum standard standard) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    const struct band bands[] = {{.lines = 20, .count = 1, .writes = {{REG_PF1, 0x55, WRITE_BEFORE}}},
                                 {.lines = (uint16_t)(standard_plan_lines(standard) - 20),
                                  .count = 1,
                                  .writes = {{REG_PF2, 0xAA, 40}}}};
    bool opened = false;
    switch (kind) {
    case 0:
        opened = plan_open("bits", standard, &plan, &problem);
        break;
    case 1:
        opened = every_plan(2 * EVERY_VALUES, 1, standard, &plan, &problem);
        break;
    case 2:
        opened = moments_plan(standard, &plan, &problem);
        break;
    default:
        plan = plan_new("bands", standard);
        opened = plan != NULL && plan_add_step(plan, "bands", bands, 2, &problem) &&
                 plan_add_hold(plan, "hold", 0, 0xF0, 1, 2, &problem);
    }
    if (!opened) {
        fail_msg("%s", problem.text);
    }
    return plan;
}

static bool is_dark(void) {
    const struct tia_field *field = &counted_console.tia.field;
    for (int line = 0; line < field->lines; line++) {
        for (int x = 0; x < TIA_VISIBLE; x++) {
            if (field->pixel[line][x] != TIA_BLANKED) {
                return false;
            }
        }
    }
    return true;
}

/* Fields of darkness, each with its frame, echo and look at the mailbox. The model's set does not follow a
 * vertical sync so soon after power-on as the program's first one, so that the first field has lines too
 * many. */
static int dark_fields(enum standard standard, int most) {
    int dark = 0;
    for (;; dark++) {
        counted.modes = 0;
        assert_true(console_run_field(&counted_console, TIA_LINES_MAX));
        if (dark > 0) {
            assert_int_equal(counted_console.tia.field.lines, standard_lines(standard));
            assert_int_equal(counted_console.tia.field.sync_lines, 3);
            assert_int_equal(counted.modes, 1);
            assert_int_equal(counted.echo, 0);
        }
        if (dark > most || !is_dark()) {
            return dark;
        }
    }
}

/* The first value has its hold in the light, but for the field that the kernel's first step of all lacks. */
static void one_start(int kind, enum standard standard, int dark) {
    struct plan *plan = open_kind(kind, standard);
    struct image *light = counted_build(plan, HOLD, 0), *image = counted_build(plan, HOLD, dark);
    assert_int_equal(image->hash, light->hash);
    counted_power_on(image, 2, SEED);
    assert_int_equal(dark_fields(standard, dark + 5), dark);
    struct slate slate = {0};
    assert_true(field_slate(&counted_console.tia.field, standard, &slate));
    assert_int_equal(slate.counter, (dark + 1) % 64);
    assert_int_equal(slate.hash, image->hash);
    assert_int_equal(slate.value, 0);
    for (int field = 1; field < (plan_counts(plan) ? HOLD : HOLD - 1); field++) {
        assert_int_equal(counted_field(standard).value, 0);
    }
    assert_int_not_equal(counted_field(standard).value, 0);
    for (int field = 0; field < 300; field++) {
        counted_field(standard);
        assert_false(is_dark());
    }
    rom_free(image);
    rom_free(light);
    plan_free(plan);
}

static void test_dark(void **state) {
    (void)state;
    static const int fields[] = {1, 2, 180, DARK_MAX};
    for (int kind = 0; kind < KINDS; kind++) {
        for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
            one_start(kind, i % 2 == 0 ? STANDARD_NTSC : STANDARD_PAL, fields[i]);
        }
    }
}

/* A value that is given meanwhile waits for the light. */
static void test_given_in_the_dark(void **state) {
    (void)state;
    struct plan *plan = open_kind(1, STANDARD_NTSC);
    struct image *image = counted_build(plan, 1, 10);
    counted_power_on(image, 2, SEED);
    counted.mode = MAILBOX_GIVEN;
    counted.value = 0x12344;
    assert_int_equal(dark_fields(STANDARD_NTSC, 20), 10);
    assert_int_equal(counted.reads[0], 0);
    assert_int_equal(counted_field(STANDARD_NTSC).value, 0x12344);
    assert_int_equal(counted.reads[0], 1);
    rom_free(image);
    plan_free(plan);
}

static void test_refused(void **state) {
    (void)state;
    struct plan *plan = open_kind(1, STANDARD_NTSC);
    static const struct rom_options options[] = {{.hold = 1, .dark = -1}, {.hold = 1, .dark = DARK_MAX + 1}};
    for (int i = 0; i < 2; i++) {
        struct problem problem = {0};
        struct image *image = NULL;
        assert_false(rom_build(plan, &options[i], &image, &problem));
        assert_non_null(strstr(problem.text, "give 0 to 255"));
    }
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dark),
        cmocka_unit_test(test_given_in_the_dark),
        cmocka_unit_test(test_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
