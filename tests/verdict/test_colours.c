/* Every stuck bit of COLUPF and COLUBK named; grabbers that turn hues, cut off white or show no colour; and a
 * good console that never fails for its colours. */
#include "bits.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static struct fault stuck(enum reg reg, int bit, bool high) {
    struct fault fault = {0};
    uint8_t mask = (uint8_t)(1 << bit);
    uint8_t *field = reg == REG_COLUPF ? (high ? &fault.lit_high : &fault.lit_low)
                                       : (high ? &fault.dark_high : &fault.dark_low);
    *field = mask;
    return fault;
}

static bool names(const struct result *result, enum reg reg, int bit, const char *level) {
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        if (finding->kind == FINDING_COLOUR_WRONG && finding->reg == (int)reg && finding->bit == bit &&
            strstr(finding->text, level) != NULL) {
            return true;
        }
    }
    return false;
}

static void expect_bit(const struct plan *of, enum reg reg, int bit, bool high) {
    unsigned counter = 3;
    struct fault fault = stuck(reg, bit, high);
    struct judge *judge = judge_new(of, DRAW_HASH);
    draw_round(judge, of, &fault, 4, &counter);
    const struct result *result = judge_result(judge);
    if (result->verdict != VERDICT_FAIL || !names(result, reg, bit, high ? "stuck high" : "stuck low")) {
        draw_findings(result);
        fail_msg("%s D%d stuck %s: %s, %zu findings", reg_name(reg), bit, high ? "high" : "low",
                 verdict_name(result->verdict), result->finding_count);
    }
    for (size_t i = 0; i < result->finding_count; i++) {
        assert_int_equal(result->findings[i].kind, FINDING_COLOUR_WRONG);
        assert_true(strlen(result->findings[i].text) < sizeof result->findings[i].text - 1);
        assert_true(strlen(result->findings[i].next) > 40);
    }
    judge_free(judge);
}

/* COLUPF is $0E throughout, COLUBK $00 and in the slate $0E too: bits that are as they should be show
 * nothing.
 */
static void test_every_bit(void **state) {
    (void)state;
    for (int bit = 1; bit < 8; bit++) {
        if (bit >= 4) {
            expect_bit(plan, REG_COLUPF, bit, true);
        } else {
            expect_bit(plan, REG_COLUPF, bit, false);
            expect_bit(plan, REG_COLUBK, bit, false);
        }
        expect_bit(plan, REG_COLUBK, bit, true);
    }
}

static void expect_pass(const struct plan *of, const struct fault *fault) {
    unsigned counter = 3;
    struct judge *judge = judge_new(of, DRAW_HASH);
    draw_round(judge, of, fault, 4, &counter);
    const struct result *result = judge_result(judge);
    if (result->verdict != VERDICT_PASS || result->finding_count != 0) {
        draw_findings(result);
        fail_msg("%s, %zu findings", verdict_name(result->verdict), result->finding_count);
    }
    judge_free(judge);
}

static void test_nothing_to_see(void **state) {
    (void)state;
    for (int bit = 4; bit < 8; bit++) {
        struct fault lit = stuck(REG_COLUPF, bit, false), dark = stuck(REG_COLUBK, bit, false);
        expect_pass(plan, &lit);
        expect_pass(plan, &dark);
    }
}

/* Without the blank beside the picture black and grey are the slate's own: COLUPF is still judged. */
static void test_cropped(void **state) {
    (void)state;
    unsigned counter = 0;
    struct fault good = {.cropped = true}, fault = stuck(REG_COLUPF, 2, false);
    expect_pass(plan, &good);
    fault.cropped = true;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    draw_round(judge, plan, &fault, 4, &counter);
    assert_true(names(judge_result(judge), REG_COLUPF, 2, "seen luminance 5.0 of 7"));
    judge_free(judge);
}

/* Hues of every sort, on black and on dark grey. */
static struct plan *coloured(enum standard standard) {
    struct problem problem = {0};
    struct plan *made = plan_new("coloured", standard);
    for (unsigned hue = 0; hue < 16; hue++) {
        char name[20];
        struct band band = {.lines = (uint16_t)standard_plan_lines(standard),
                            .count = 4,
                            .writes = {{REG_PF1, 0xFF, WRITE_BEFORE},
                                       {REG_PF2, 0xFF, WRITE_BEFORE},
                                       {REG_COLUPF, (uint8_t)(hue << 4 | 0x0A), WRITE_BEFORE},
                                       {REG_COLUBK, (uint8_t)((15 - hue) << 4 | 0x02), WRITE_BEFORE}}};
        snprintf(name, sizeof name, "hue %u", hue);
        assert_true(plan_add_step(made, name, &band, 1, &problem));
    }
    return made;
}

/* A grabber's tint turns all hues alike: with many hues in the plan it is known, and no fault. */
static void test_tint(void **state) {
    (void)state;
    struct plan *hues = coloured(STANDARD_NTSC);
    for (int tint = -150; tint <= 150; tint += 50) {
        struct fault fault = {.tint = tint};
        expect_pass(hues, &fault);
    }
    for (int bit = 4; bit < 8; bit++) {
        expect_bit(hues, REG_COLUPF, bit, false);
        expect_bit(hues, REG_COLUPF, bit, true);
    }
    plan_free(hues);
}

static void feed_round(struct judge *judge, const struct plan *of, void (*change)(struct reading *reading)) {
    static const struct fault none;
    for (unsigned n = 0; n < of->step_count * 4; n++) {
        struct reading reading;
        draw_step(&none, of, n / 4, n, &reading);
        change(&reading);
        judge_reading(judge, &reading, 2);
    }
}

/* Hues of lit cells turned by a quarter, to one side and to the other in turn: in NTSC the angle is the hue,
 * in PAL and SECAM nothing is said of which hue it is. */
static void turn_to_and_fro(struct reading *reading) {
    struct cell_colour *colour = &reading->lit_colour;
    int side = reading->slate.value % 2 == 0 ? 1 : -1;
    double cb = colour->cb;
    colour->cb = side * colour->cr;
    colour->cr = -side * cb;
    for (int line = reading->lines; line < PICTURE_LINES_MAX; line++) {
        reading->lit[line] = reading->lit[0];
        reading->unclear[line] = reading->unclear[0];
    }
    reading->lines = PICTURE_LINES_MAX;
}

static void test_which_hue(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct plan *hues = coloured((enum standard)standard);
        struct judge *judge = judge_new(hues, DRAW_HASH);
        feed_round(judge, hues, turn_to_and_fro);
        const struct result *result = judge_result(judge);
        if (result->verdict != (standard == STANDARD_NTSC ? VERDICT_FAIL : VERDICT_PASS)) {
            draw_findings(result);
            fail_msg("%s: %s", standard_table[standard].name, verdict_name(result->verdict));
        }
        judge_free(judge);
        plan_free(hues);
    }
}

static void bleach(struct reading *reading) {
    reading->lit_colour.cb = reading->lit_colour.cr = 0;
    reading->dark_colour.cb = reading->dark_colour.cr = 0;
}

/* Hues in the plan and none on the screen: the grabber's, or the cable's, and told as such. */
static void test_no_colour(void **state) {
    (void)state;
    struct plan *hues = coloured(STANDARD_NTSC);
    struct judge *judge = judge_new(hues, DRAW_HASH);
    feed_round(judge, hues, bleach);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_PASS);
    assert_int_equal(result->finding_count, 0);
    assert_int_equal(result->trouble_count, 1);
    assert_int_equal(result->troubles[0].kind, FINDING_NO_COLOUR);
    judge_free(judge);
    plan_free(hues);
}

/* All lit cells grey and the dark ones not: that is COLUPF's, and no grabber's. */
static void bleach_lit(struct reading *reading) {
    reading->lit_colour.cb = reading->lit_colour.cr = 0;
}

static void test_one_register_grey(void **state) {
    (void)state;
    struct plan *hues = coloured(STANDARD_NTSC);
    struct judge *judge = judge_new(hues, DRAW_HASH);
    feed_round(judge, hues, bleach_lit);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->findings[0].kind, FINDING_COLOUR_WRONG);
    assert_int_equal(result->findings[0].reg, REG_COLUPF);
    assert_int_equal(result->trouble_count, 0);
    judge_free(judge);
    plan_free(hues);
}

/* White cut off at 0.9 of itself: a lit cell that seems 6/7 over 0.9 is still darker than white. */
static void cut_white(struct reading *reading) {
    reading->clips_white = true;
    reading->lit_colour.level = fmin(reading->lit_colour.level / 0.9, 1);
}

static void test_clipped(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    feed_round(judge, plan, cut_white);
    assert_int_equal(judge_result(judge)->verdict, VERDICT_PASS);
    judge_free(judge);
}

/* A gain that hunts: most steps are seen with white cut off alone, and only there the stuck bit shows. */
static void test_clipped_at_times(void **state) {
    (void)state;
    for (int broken = 0; broken < 2; broken++) {
        unsigned counter = 0;
        struct plan *hues = coloured(STANDARD_NTSC);
        struct fault fault = {.lit_low = broken ? 0x80 : 0};
        struct judge *judge = judge_new(hues, DRAW_HASH);
        for (uint32_t i = 0; i < 4 * hues->step_count; i++) {
            struct reading reading;
            draw_step(&fault, hues, i / 4, counter++, &reading);
            if (i / 4 >= 2) {
                cut_white(&reading);
            }
            judge_reading(judge, &reading, 2);
        }
        const struct result *result = judge_result(judge);
        assert_int_equal(result->verdict, broken ? VERDICT_FAIL : VERDICT_PASS);
        assert_true(!broken || names(result, REG_COLUPF, 7, "stuck low"));
        judge_free(judge);
        plan_free(hues);
    }
}

/* What a chain does to levels: neither some 5 % less on all, nor a fifth on one step, is the console's. */
static int fields_dimmed;
static double dimmed_by;
static void dim(struct reading *reading) {
    if (fields_dimmed == 0 || (int)reading->slate.value < fields_dimmed) {
        reading->lit_colour.level *= 1 - dimmed_by;
    }
}

static enum verdict verdict_dimmed(int steps, double by) {
    fields_dimmed = steps;
    dimmed_by = by;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    feed_round(judge, plan, dim);
    enum verdict verdict = judge_result(judge)->verdict;
    judge_free(judge);
    return verdict;
}

/* A cast over the lit cells, in shares of black to white: between grey and a hue for sure lies 0.06 to 0.08.
 */
static double cast_by;
static void cast(struct reading *reading) {
    reading->lit_colour.cb -= cast_by * 219;
}

static enum verdict verdict_cast(double by) {
    cast_by = by;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    feed_round(judge, plan, cast);
    enum verdict verdict = judge_result(judge)->verdict;
    judge_free(judge);
    return verdict;
}

static void test_bounds(void **state) {
    (void)state;
    assert_int_equal(verdict_cast(0.07), VERDICT_PASS);
    assert_int_equal(verdict_cast(0.09), VERDICT_FAIL);
    assert_int_equal(verdict_dimmed(0, 0.055), VERDICT_PASS);
    assert_int_equal(verdict_dimmed(0, 0.085), VERDICT_FAIL); /* nearer to a step of 1/7 than to none */
    assert_int_equal(verdict_dimmed(22, 0.2), VERDICT_PASS);  /* steps 20, 21 of the 42 with wide lit cells */
    assert_int_equal(verdict_dimmed(0, 1 / 7.0), VERDICT_FAIL);
    assert_int_equal(verdict_dimmed(0, 0.5),
                     VERDICT_FAIL); /* no stuck bit does that: still not what it should be */
}

/* Two of many steps that one stuck bit makes grey are that bit's; one alone may be the chain's, and so may
 * two that no bit makes what they are. */
static void test_few_of_many(void **state) {
    (void)state;
    for (int kind = 0; kind < 4; kind++) {
        unsigned counter = 0;
        struct problem problem = {0};
        struct plan *many = plan_new("many", STANDARD_NTSC);
        for (int i = 0; i < 24; i++) {
            char name[20];
            uint8_t hue = i == 20 || (i == 21 && kind != 1) ? 0x80 : i == 22 ? 0x10 : 0x00;
            struct band band = {
                .lines = 168,
                .count = 2,
                .writes = {{REG_PF1, 0xFF, WRITE_BEFORE}, {REG_COLUPF, (uint8_t)(hue | 0x0E), WRITE_BEFORE}}};
            snprintf(name, sizeof name, "step %d", i);
            assert_true(plan_add_step(many, name, &band, 1, &problem));
        }
        struct fault fault = {.lit_low = kind < 2 ? 0x80 : 0};
        struct judge *judge = judge_new(many, DRAW_HASH);
        for (uint32_t i = 0; i < 4 * many->step_count; i++) {
            struct reading reading;
            draw_step(&fault, many, i / 4, counter++, &reading);
            if (kind == 3 && (i / 4 == 3 || i / 4 == 4)) {
                reading.lit_colour.level *= 0.8;
            }
            judge_reading(judge, &reading, 2);
        }
        const struct result *result = judge_result(judge);
        assert_int_equal(result->verdict, kind == 0 ? VERDICT_FAIL : VERDICT_PASS);
        assert_true(kind != 0 || (result->finding_count == 1 && names(result, REG_COLUPF, 7, "stuck low")));
        judge_free(judge);
        plan_free(many);
    }
}

/* COLUPF too dark to be seen as lit: no cell of the playfield is at fault. */
static void test_too_dark(void **state) {
    (void)state;
    unsigned counter = 0;
    struct problem problem = {0};
    struct plan *grey = plan_new("grey", STANDARD_NTSC);
    for (int i = 0; i < 2; i++) {
        struct band band = {.lines = 168,
                            .count = 4,
                            .writes = {{REG_PF0, 0xF0, WRITE_BEFORE},
                                       {REG_PF1, 0xFF, WRITE_BEFORE},
                                       {REG_PF2, i == 0 ? 0xFF : 0x0F, WRITE_BEFORE},
                                       {REG_COLUPF, 0x0A, WRITE_BEFORE}}};
        assert_true(plan_add_step(grey, i == 0 ? "all" : "most", &band, 1, &problem));
    }
    struct fault fault = stuck(REG_COLUPF, 3, false);
    struct judge *judge = judge_new(grey, DRAW_HASH);
    draw_round(judge, grey, &fault, 4, &counter);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_true(names(result, REG_COLUPF, 3, "stuck low"));
    assert_int_equal(result->finding_count, 1);
    judge_free(judge);
    plan_free(grey);
}

/* Every step lights some cells and none all, so that nothing is measured of a COLUPF that is too dark. It is
 * less to assume than eight stuck bits; but where some step shows a cell, the bits it is. */
static void test_nothing_lit(void **state) {
    (void)state;
    for (int kind = 0; kind < 3; kind++) {
        unsigned counter = 0;
        struct problem problem = {0};
        struct plan *few = plan_new("few", STANDARD_NTSC);
        static const char *const names[] = {"a", "b", "c"};
        for (int i = 0; i < 3; i++) {
            assert_true(plan_add_hold(few, names[i], 0, kind == 1 ? 0x10 : 0, 0xF0, 0x0F, &problem));
        }
        struct fault dark = {.lit_low = 0x0C}, bits = {.low = 0xF << 4 | 0xF << 12};
        struct judge *judge = judge_new(few, DRAW_HASH);
        draw_round(judge, few, kind == 0 ? &dark : &bits, 4, &counter);
        const struct result *result = judge_result(judge);
        assert_int_equal(result->verdict, VERDICT_FAIL);
        if (kind == 1) {
            assert_int_equal(result->finding_count, 8);
            assert_int_equal(result->findings[0].kind, FINDING_BIT_STUCK_LOW);
        } else { /* the same pictures, and both are said */
            assert_int_equal(result->finding_count, 1);
            assert_int_equal(result->findings[0].kind, FINDING_COLOUR_WRONG);
            assert_int_equal(result->findings[0].reg, REG_COLUPF);
            assert_non_null(strstr(result->findings[0].text, "No cell is lit"));
            assert_non_null(strstr(result->findings[0].text, "stuck low at once, would look the same"));
        }
        judge_free(judge);
        plan_free(few);
    }
}

/* What a data line does to colours is the line's, and it alone is told. */
static void test_data_line(void **state) {
    (void)state;
    for (int line = 0; line < 8; line++) {
        unsigned counter = 0;
        struct fault fault = {.data_high = (uint8_t)(1 << line)};
        struct judge *judge = judge_new(plan, DRAW_HASH);
        if (line != 1) {
            draw_round(judge, plan, &fault, 4, &counter);
            assert_int_equal(judge_result(judge)->finding_count, 1);
            assert_int_equal(judge_result(judge)->findings[0].kind, FINDING_DATA_LINE_STUCK);
        }
        judge_free(judge);
    }
}

/* Without colour the line is found all the same: that no hue is seen says nothing. */
static void test_data_line_without_colour(void **state) {
    (void)state;
    struct fault fault = {.data_high = 1 << 5};
    struct judge *judge = judge_new(plan, DRAW_HASH);
    for (unsigned n = 0; n < plan->step_count * 4; n++) {
        struct reading reading;
        draw_step(&fault, plan, n / 4, n, &reading);
        bleach(&reading);
        reading.beside_picture.cb = reading.beside_picture.cr = 0;
        judge_reading(judge, &reading, 2);
    }
    assert_int_equal(judge_result(judge)->finding_count, 1);
    assert_int_equal(judge_result(judge)->findings[0].kind, FINDING_DATA_LINE_STUCK);
    judge_free(judge);
}

/* A picture of a codec's at the end of its rope: what makes most fields unclear makes levels wrong too. */
static void dim_and_blur(struct reading *reading) {
    reading->lit_colour.level -= 1.0 / 7;
    for (int line = 0; line < reading->lines && reading->slate.counter % 4 != 0; line++) {
        reading->unclear[line] = UINT64_C(1) << line % 40;
    }
}

static void test_spoilt(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    feed_round(judge, plan, dim_and_blur);
    const struct result *result = judge_result(judge);
    if (result->verdict != VERDICT_INCONCLUSIVE) {
        draw_findings(result);
        fail_msg("%s", verdict_name(result->verdict));
    }
    judge_free(judge);
}

static double echo;

static void leave_out_echo(struct reading *reading) {
    reading->echo = echo;
    reading->lit_colour.level -= echo;
}

/* The slate's white has all of an echo, narrow cells have nothing of it: no wrong colour, unless it is so by
 * more. */
static void test_echo(void **state) {
    (void)state;
    static const double echoes[] = {-0.2, -0.1, 0.1, 0.2};
    for (size_t i = 0; i < sizeof echoes / sizeof echoes[0]; i++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        echo = echoes[i];
        feed_round(judge, plan, leave_out_echo);
        const struct result *result = judge_result(judge);
        if (result->verdict != VERDICT_PASS) {
            draw_findings(result);
            fail_msg("echo %g: %s", echo, verdict_name(result->verdict));
        }
        judge_free(judge);
    }
}

static void dim_more(struct reading *reading) {
    leave_out_echo(reading);
    reading->lit_colour.level -= 1.0 / 7;
}

static void test_echo_and_a_wrong_colour(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    echo = 0.1;
    feed_round(judge, plan, dim_more);
    assert_int_equal(judge_result(judge)->verdict, VERDICT_FAIL);
    judge_free(judge);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_bit),
        cmocka_unit_test(test_spoilt),
        cmocka_unit_test(test_echo),
        cmocka_unit_test(test_echo_and_a_wrong_colour),
        cmocka_unit_test(test_nothing_to_see),
        cmocka_unit_test(test_cropped),
        cmocka_unit_test(test_tint),
        cmocka_unit_test(test_no_colour),
        cmocka_unit_test(test_one_register_grey),
        cmocka_unit_test(test_clipped),
        cmocka_unit_test(test_clipped_at_times),
        cmocka_unit_test(test_bounds),
        cmocka_unit_test(test_few_of_many),
        cmocka_unit_test(test_too_dark),
        cmocka_unit_test(test_nothing_lit),
        cmocka_unit_test(test_data_line),
        cmocka_unit_test(test_data_line_without_colour),
        cmocka_unit_test(test_which_hue),
    };
    return cmocka_run_group_tests(tests, open_plan, close_plan);
}
