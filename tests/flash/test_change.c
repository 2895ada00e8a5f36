/*
 * What counts as a change: the figures of WCAG 2.3.1 and ITU-R BT.1702 (host/flash/flash.h says where each is
 * from), and relative luminance by WCAG's formula.
 */
#include "flash/change.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const double peak = 200;

static void near(double value, double wanted, double tolerance) {
    if (fabs(value - wanted) > tolerance) {
        fail_msg("%.6f, wanted %.6f", value, wanted);
    }
}

static int count(enum change_rule rule, double white, const struct shade *shades, int number) {
    struct change change = {0};
    int changes = 0;
    for (int i = 0; i < number; i++) {
        changes += change_step(&change, rule, white, &shades[i]);
    }
    return changes;
}

/* Of luminances, from black on. */
static int changes(enum change_rule rule, double white, const float *luminance, int number) {
    struct shade shades[32] = {{0}};
    for (int i = 0; i < number; i++) {
        shades[i].luminance = luminance[i];
    }
    return count(rule, white, shades, number);
}

#define CHANGES(rule, white, ...)                                                                            \
    changes(rule, white, (const float[]){__VA_ARGS__},                                                       \
            (int)(sizeof((const float[]){__VA_ARGS__}) / sizeof(float)))

/* WCAG: 10 % of the maximum. 9 % is none, 11 % is one. */
static void a_tenth_of_the_maximum_counts(void **unused) {
    (void)unused;
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0, 0.09F, 0, 0.09F, 0), 0);
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0, 0.11F, 0, 0.11F, 0), 4);
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0, 0.1F, 0), 2);
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0.2F, 0.3F, 0.2F, 0.3F), 3); /* the first one from black */
}

/* WCAG: the darker state below 0.80. */
static void bright_states_do_not_count(void **unused) {
    (void)unused;
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0.81F, 1, 0.81F, 1, 0.81F), 1); /* from black */
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0.79F, 1, 0.79F, 1, 0.79F), 4);
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0.80F, 1, 0.80F, 1), 1);
}

/* WCAG: between adjacent peaks and valleys. */
static void steps_the_same_way_are_one_change(void **unused) {
    (void)unused;
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0, 0.2F, 0.4F, 0.6F, 0.8F, 1), 1);
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0, 0.04F, 0.08F, 0.12F, 0.16F), 1);
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0, 0.5F, 0.45F, 0.55F, 0.5F, 0.6F), 1);
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0, 0.5F, 0.45F, 0.39F, 0.5F), 3);
    /* the peak is 0.6: from 0.55 it is not far enough down yet */
    assert_int_equal(CHANGES(CHANGE_GENERAL, peak, 0, 0.3F, 0.6F, 0.55F, 0.51F, 0.49F), 2);
}

/* BT.1702: 20 cd/m2, the darker state below 160; from 160 on a contrast of 1/17, (180 - 160) / (180 + 160)
 * [A]. */
static void television_counts_by_its_screen(void **unused) {
    (void)unused;
    assert_int_equal(CHANGES(CHANGE_LUMINANCE, 200, 0, 0.095F, 0, 0.095F), 0);
    assert_int_equal(CHANGES(CHANGE_LUMINANCE, 200, 0, 0.105F, 0, 0.105F), 3);
    assert_int_equal(CHANGES(CHANGE_LUMINANCE, 100, 0, 0.19F, 0, 0.19F), 0);
    assert_int_equal(CHANGES(CHANGE_LUMINANCE, 100, 0, 0.21F, 0, 0.21F), 3);
    assert_int_equal(CHANGES(CHANGE_LUMINANCE, 1000, 0, 0.2F, 0.22F, 0.2F, 0.22F), 1); /* 10/210 < 1/17 */
    assert_int_equal(CHANGES(CHANGE_LUMINANCE, 1000, 0, 0.2F, 0.23F, 0.2F, 0.23F), 3); /* 30/430 > 1/17 */
}

/* From [A]: 0.2126, 0.7152 and 0.0722 of the linear parts; #808080 is 0.2159 (128/255 = 0.50196;
 * 0.55696/1.055 to the power of 2.4). */
static void luminance_is_wcags(void **unused) {
    (void)unused;
    near(shade_of(0, 0, 0).luminance, 0, 1e-6);
    near(shade_of(1, 1, 1).luminance, 1, 1e-6);
    near(shade_of(1, 0, 0).luminance, 0.2126, 1e-5);
    near(shade_of(0, 1, 0).luminance, 0.7152, 1e-5);
    near(shade_of(128 / 255.0, 128 / 255.0, 128 / 255.0).luminance, 0.2159, 1e-4);
    near(shade_of(0.03, 0.03, 0.03).luminance, 0.03 / 12.92, 1e-6);
    near(shade_of(1.3, -0.2, 0).luminance, 0.2126, 1e-5); /* no screen shows more */
}

static struct shade red_of(double coded) {
    return shade_of(coded, 0, 0);
}

/* WCAG: R/(R+G+B) >= 0.8 in either state, and (R-G-B)*320 changes by more than 20. */
static void red_counts_where_it_is_saturated(void **unused) {
    (void)unused;
    const struct shade black = {0}, red = red_of(1), grey = shade_of(0.5, 0.5, 0.5);
    near(red.red, 320, 1e-3);
    assert_true(red.saturated);
    assert_false(grey.saturated);
    near(grey.red, 0, 1e-6);
    const struct shade flash[] = {black, red, black, red, grey, red};
    assert_int_equal(count(CHANGE_RED, peak, flash, 6), 5);
    /* linear 0.05: 16 is no change, 0.07: 22.4 is one [A] */
    const struct shade weak[] = {black, red_of(0.2478), black}, enough[] = {black, red_of(0.2931), black};
    near(weak[1].red, 16, 0.1);
    near(enough[1].red, 22.4, 0.1);
    assert_int_equal(count(CHANGE_RED, peak, weak, 3), 0);
    assert_int_equal(count(CHANGE_RED, peak, enough, 3), 2);
    /* Not saturated: linear 1 against 0.2 and 0.15 is 0.74, though (R-G-B)*320 is 208. */
    const struct shade pale = shade_of(1, 0.4845, 0.4248), pales[] = {black, pale, black};
    assert_true(pale.red > 200);
    assert_int_equal(count(CHANGE_RED, peak, pales, 3), 0);
}

static void greys_of_the_console_are_its_levels(void **unused) {
    (void)unused;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct shade shades[SHADES];
        shades_of((enum standard)standard, shades);
        near(shades[0].luminance, 0, 1e-6);
        near(shades[7].luminance, 1, 1e-6);
        for (int level = 1; level < 8; level++) {
            assert_true(shades[level].luminance > shades[level - 1].luminance);
        }
        assert_false(shades[0].saturated || shades[7].saturated);
    }
}

/* Where the order of hues is not known, red must be feared everywhere it could be: of PAL in each hue, of
 * SECAM in each level that is neither black nor white. */
static void unknown_hues_may_be_red(void **unused) {
    (void)unused;
    struct shade ntsc[SHADES], pal[SHADES], secam[SHADES];
    int reds = 0;
    shades_of(STANDARD_NTSC, ntsc);
    shades_of(STANDARD_PAL, pal);
    shades_of(STANDARD_SECAM, secam);
    for (int i = 8; i < SHADES; i++) {
        reds += ntsc[i].saturated && ntsc[i].red > 20;
        assert_true(pal[i].red >= ntsc[i].red - 1 && pal[i].luminance >= ntsc[i].luminance - 0.01F);
        assert_int_equal(secam[i].saturated, (i & 7) != 0 && (i & 7) != 7);
    }
    assert_true(reds > 0 && reds < 30); /* some hues, not most */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tenth_of_the_maximum_counts),
        cmocka_unit_test(bright_states_do_not_count),
        cmocka_unit_test(steps_the_same_way_are_one_change),
        cmocka_unit_test(television_counts_by_its_screen),
        cmocka_unit_test(luminance_is_wcags),
        cmocka_unit_test(red_counts_where_it_is_saturated),
        cmocka_unit_test(greys_of_the_console_are_its_levels),
        cmocka_unit_test(unknown_hues_may_be_red),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
