/* Delays, windows and differences from what moments showed, by arithmetic alone; and the judge's
 * book-keeping. */
#include "moments_ideal.h"
#include "picture/picture.h"
#include "report/moments_words.h"
#include "verdict/moments_differ.h"
#include "verdict/verdict.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>

static struct moments moments, others; /* large: kept off the stack */
static struct moments_difference difference;

static struct half_seen *half_of(struct moments *of, int reg, int cycle, int edge, int half) {
    return &of->seen[reg * 152 + cycle].half[edge][half];
}

/* ---- delays ---- */

/* Of writes at clocks 68 + p + 4k the next edge at or after 68 + p + 4k + d is the same for all d with the
 * same ceil((p + d) / 4) [A]. */
static void check_interval(int phase, int delay, const struct moment_delay *found) {
    int low = 99, high = -1;
    for (int same = 0; same <= MOMENT_DELAY_MOST; same++) {
        if ((phase + same + 3) / 4 == (phase + delay + 3) / 4) {
            low = same < low ? same : low;
            high = same;
        }
    }
    if (!found->known || found->exact || (int)found->low != low || (int)found->high != high) {
        fail_msg("phase %d delay %d: found %g..%g, known %d exact %d; arithmetic: %d..%d", phase, delay,
                 found->low, found->high, found->known, found->exact, low, high);
    }
    assert_true(fabs(found->clocks - (low + high) / 2.0) < 1e-9);
}

static void latched_delays_are_intervals(void **state) {
    (void)state;
    for (int delay = 0; delay <= MOMENT_DELAY_MOST; delay++) {
        struct ideal ideal = {0};
        for (int reg = MOMENT_PF0; reg <= MOMENT_REFLECT; reg++) {
            for (int phase = 0; phase < MOMENT_PHASES; phase++) {
                ideal.delay[reg][phase] = (delay + 5 * phase + 3 * reg) % (MOMENT_DELAY_MOST + 1);
            }
        }
        ideal_seen(&ideal, &moments);
        for (int reg = MOMENT_PF0; reg <= MOMENT_REFLECT; reg++) {
            for (int phase = 0; phase < MOMENT_PHASES; phase++) {
                check_interval(phase, (int)ideal.delay[reg][phase], &moments.delay[reg][phase]);
            }
        }
    }
}

static void delays_at_once_are_measured(void **state) {
    (void)state;
    struct ideal ideal = {.at_once = {[MOMENT_PF1] = true}};
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        ideal.delay[MOMENT_COLUPF][phase] = 1.37 * phase;
        ideal.delay[MOMENT_SCORE][phase] = 4 - phase; /* on the cells' grid, and yet no latch */
        ideal.delay[MOMENT_PF1][phase] = 0.7 + phase;
    }
    ideal_seen(&ideal, &moments);
    static const int regs[] = {MOMENT_COLUPF, MOMENT_SCORE, MOMENT_PF1};
    for (int i = 0; i < 3 * MOMENT_PHASES; i++) {
        const struct moment_delay *found = &moments.delay[regs[i / 4]][i % 4];
        assert_true(found->known && found->exact && found->against == 0);
        assert_true(fabs(found->clocks - ideal.delay[regs[i / 4]][i % 4]) < 1e-9);
        assert_true(fabs(found->low - found->high) < 1e-9);
        assert_true(found->spread < 1e-6);
    }
    assert_false(moments.delay[MOMENT_PF2][0].exact);
}

static void a_change_before_its_write_is_told_as_it_is(void **state) {
    (void)state;
    struct ideal ideal = {0};
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        ideal.delay[MOMENT_COLUBK][phase] = -2;
        ideal.delay[MOMENT_PF2][phase] = -6;
    }
    ideal_seen(&ideal, &moments);
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        assert_true(moments.delay[MOMENT_COLUBK][phase].known);
        assert_true(fabs(moments.delay[MOMENT_COLUBK][phase].clocks + 2) < 1e-9);
        assert_true(moments.delay[MOMENT_PF2][phase].known && moments.delay[MOMENT_PF2][phase].high < 0);
    }
}

/* One change a cell late, of one phase: that phase's delay alone is not known, and the cycle is named. */
static void a_delay_that_varies_is_not_known(void **state) {
    (void)state;
    const struct ideal ideal = {0};
    ideal_seen(&ideal, &moments);
    half_of(&moments, MOMENT_PF1, 32, EDGE_RISING, HALF_LEFT)->clock +=
        4; /* cycle 32 is clock 96: phase 0 [A] */
    half_of(&moments, MOMENT_COLUPF, 33, EDGE_FALLING, HALF_LEFT)->clock += 1; /* 99: phase 3 */
    moments_conclude(&moments);
    assert_false(moments.delay[MOMENT_PF1][0].known);
    assert_int_equal(moments.delay[MOMENT_PF1][0].against, 1);
    assert_int_equal(moments.delay[MOMENT_PF1][0].example, MOMENT_PF1 * 152 + 32);
    assert_false(moments.delay[MOMENT_COLUPF][3].known);
    assert_int_equal(moments.delay[MOMENT_COLUPF][3].example, MOMENT_COLUPF * 152 + 33);
    for (int phase = 1; phase < MOMENT_PHASES; phase++) {
        assert_true(moments.delay[MOMENT_PF1][phase].known && moments.delay[MOMENT_COLUPF][phase - 1].known);
    }
}

static void halves_old_or_new_all_along_count_too(void **state) {
    (void)state;
    const struct ideal ideal = {0};
    ideal_seen(&ideal, &moments);
    half_of(&moments, MOMENT_PF0, 4, EDGE_RISING, HALF_LEFT)->state = HALF_OLD;     /* it comes at clock 12 */
    half_of(&moments, MOMENT_COLUBK, 60, EDGE_RISING, HALF_LEFT)->state = HALF_NEW; /* at clock 180 */
    moments_conclude(&moments);
    assert_false(moments.delay[MOMENT_PF0][0].known);
    assert_false(moments.delay[MOMENT_COLUBK][0].known);
}

static void what_was_not_seen_is_not_known(void **state) {
    (void)state;
    memset(&moments, 0, sizeof moments);
    moments_conclude(&moments);
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        assert_false(moments.delay[i / MOMENT_PHASES][i % MOMENT_PHASES].known);
    }
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        assert_false(moments.windows.window[i / 4][i / 2 % 2][i % 2].exists);
        assert_true(moments.windows.window[i / 4][i / 2 % 2][i % 2].open);
    }
}

/* A cycle that was not seen leaves open how far the window beside it goes, and no other one: those of PF1 in
 * copy for a delay of 0 end with cycles 28 and 54 [A: 84 / 3, 164 / 3]. */
static void what_was_not_seen_leaves_windows_open(void **state) {
    (void)state;
    const struct ideal ideal = {0};
    struct write_window window[HALVES];
    char text[MOMENTS_TEXT];
    ideal_seen(&ideal, &moments);
    assert_false(moments.windows.window[MOMENT_PF1][0][HALF_LEFT].open);
    const struct moment end = {MOMENT_PF1, false, 28};
    memset(&moments.seen[moment_value(&end)], 0, sizeof moments.seen[0]);
    moments_conclude(&moments);
    memcpy(window, moments.windows.window[MOMENT_PF1][0], sizeof window);
    assert_true(window[HALF_LEFT].exists && window[HALF_LEFT].open);
    assert_int_equal(window[HALF_LEFT].last, 27);
    assert_true(window[HALF_RIGHT].exists);
    assert_false(window[HALF_RIGHT].open);
    assert_false(moments.windows.window[MOMENT_PF1][1][HALF_LEFT].open);
    moments_window_text(&window[HALF_LEFT], text);
    assert_non_null(strstr(text, "27 or more"));
}

/* ---- windows ---- */

/* For a chip without delays: at least as wide as by arithmetic, where a write must wait for the whole of the
 * last cell; at most by that cell, 4 clocks, and what is left to the next cycle: 2 cycles [A]. */
static void windows_hold_the_arithmetic_ones(void **state) {
    (void)state;
    const struct ideal ideal = {0};
    ideal_seen(&ideal, &moments);
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        const struct write_window *seen = &moments.windows.window[i / 4][i / 2 % 2][i % 2];
        const struct write_window *derived = &moments.arithmetic.window[i / 4][i / 2 % 2][i % 2];
        assert_false(seen->open || derived->open);
        if (derived->exists) {
            assert_true(seen->exists);
            assert_in_range(derived->first - seen->first, 0, 2);
            assert_in_range(seen->last - derived->last, 0, 2);
        } else if (seen->exists) {
            assert_true(seen->last - seen->first < 2);
        }
    }
}

static void expect_window(int reg, int mode, int half, int first, int last) {
    const struct write_window *window = &moments.windows.window[reg][mode][half];
    if (!window->exists || window->first != first || window->last != last) {
        fail_msg("%s %s %s: %d %d..%d, by arithmetic %d..%d", moment_name((enum moment_register)reg),
                 mode ? "mirror" : "copy", half ? "right" : "left", window->exists, window->first,
                 window->last, first, last);
    }
}

/* With a delay of 2 clocks, latched: a cell at clock x is new when 3c + 2 <= x, old when 3c + 2 > x [A].
 * PF1 in copy: left cells 84 to 112, right cells 164 to 192: left is new up to cycle 27, and the line before
 * old from cycle 64, which is -12; right is new up to cycle 54, and left old from cycle 37. */
static void windows_follow_the_delay(void **state) {
    (void)state;
    struct ideal ideal;
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        ideal.delay[i / MOMENT_PHASES][i % MOMENT_PHASES] = 2;
    }
    memset(ideal.at_once, 0, sizeof ideal.at_once);
    ideal_seen(&ideal, &moments);
    expect_window(MOMENT_PF1, 0, HALF_LEFT, -12, 27);
    expect_window(MOMENT_PF1, 0, HALF_RIGHT, 37, 54);
    /* Reflect changes cells 20 to 39, clocks 148 to 224: new up to cycle 48, old from cycle 75, which is -1.
     */
    expect_window(MOMENT_REFLECT, 0, HALF_LEFT, -1, 48);
    expect_window(MOMENT_REFLECT, 1, HALF_RIGHT, -1, 48);
    /* A colour changes at once: left from clock 68 on, 3c + 2 <= 68 + 0.5; the line before is old to its end
     * at 228 - 0.5 when 3c + 2 >= 227.5, which no cycle up to 75 makes: 227. */
    expect_window(MOMENT_COLUPF, 0, HALF_LEFT, 0, 22);
    /* Right from clock 148: 3c + 2 within half a clock of 148 is none (146, 149). */
    assert_false(moments.windows.window[MOMENT_COLUPF][0][HALF_RIGHT].exists);
}

static void a_moment_that_is_not_clean_ends_a_window(void **state) {
    (void)state;
    const struct ideal ideal = {0};
    ideal_seen(&ideal, &moments);
    const struct write_window before = moments.windows.window[MOMENT_PF1][0][HALF_RIGHT];
    half_of(&moments, MOMENT_PF1, 45, EDGE_FALLING, HALF_RIGHT)->state = HALF_MIXED;
    moments_conclude(&moments);
    expect_window(MOMENT_PF1, 0, HALF_RIGHT, 46, before.last); /* the longer part */
    assert_true(before.last - 46 > 44 - before.first);
    half_of(&moments, MOMENT_PF1, 45, EDGE_FALLING, HALF_RIGHT)->state = HALF_NEW;
    half_of(&moments, MOMENT_PF1, 52, EDGE_FALLING, HALF_RIGHT)->state = HALF_MIXED;
    moments_conclude(&moments);
    expect_window(MOMENT_PF1, 0, HALF_RIGHT, before.first, 51);
    assert_true(51 - before.first > before.last - 53);
}

/* ---- two consoles ---- */

static void equal_consoles_do_not_differ(void **state) {
    (void)state;
    const struct ideal ideal = {0};
    ideal_seen(&ideal, &moments);
    ideal_seen(&ideal, &others);
    for (int cycle = 0; cycle < LINE_CYCLES; cycle++) {
        half_of(&others, MOMENT_COLUPF, cycle, EDGE_RISING, HALF_LEFT)->clock += 0.1;
    }
    moments_conclude(&others);
    others.windows.window[MOMENT_COLUPF][0][HALF_LEFT].last--; /* and no moment says so */
    moments_differ(&moments, &others, &difference);
    assert_int_equal(difference.delays + difference.windows + difference.moments, 0);
    assert_int_equal(difference.compared, MOMENT_REGISTERS * MOMENT_PHASES);
}

static void one_phase_of_one_register_is_found(void **state) {
    (void)state;
    for (int reg = 0; reg < MOMENT_REGISTERS; reg++) {
        struct ideal ideal = {0}, other = {0};
        const int phase = (reg + 1) % MOMENT_PHASES;
        other.delay[reg][phase] = reg < MOMENT_SCORE ? 5 : 1;
        ideal_seen(&ideal, &moments);
        ideal_seen(&other, &others);
        moments_differ(&moments, &others, &difference);
        assert_int_equal(difference.delays, 1);
        assert_true(difference.delay[reg][phase]);
        assert_true(difference.moments > 0);
        for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
            const struct moment moment = moment_of(value);
            const bool any = difference.moment[value][0][0] || difference.moment[value][0][1];
            assert_true(!any || ((int)moment.reg == reg && (3 * moment.cycle + 160) % 4 == phase));
        }
    }
}

/* 0.3 clocks count, but not where they spread by a clock: 4 sigma of the mean of n are 4 / sqrt(n) [A]. */
static void what_spreads_must_lie_farther_apart(void **state) {
    (void)state;
    struct ideal ideal = {0}, other = {0};
    for (int phase = 0; phase < MOMENT_PHASES; phase++) {
        other.delay[MOMENT_COLUPF][phase] = 0.3;
    }
    ideal_seen(&ideal, &moments);
    ideal_seen(&other, &others);
    moments_differ(&moments, &others, &difference);
    assert_int_equal(difference.delays, MOMENT_PHASES);
    moments.delay[MOMENT_COLUPF][0].spread = 1;
    moments.delay[MOMENT_COLUPF][0].observations = 52;
    moments_differ(&moments, &others, &difference);
    assert_int_equal(difference.delays, MOMENT_PHASES - 1);
    others.delay[MOMENT_COLUPF][1].known = false;
    moments_differ(&moments, &others, &difference);
    assert_int_equal(difference.delays, MOMENT_PHASES - 2);
    assert_int_equal(difference.missing, 1);
}

/* ---- the judge ---- */

static struct detail detail;

/* Lines of COLUPF's picture: white from the change on, on the rising line; black on the falling one. */
static void draw_colupf(double change) {
    for (int i = 0; i < PROFILE_POINTS; i++) {
        const double share = fmin(fmax((68 + (i + 0.5) / PROFILE_FINE - change) * PROFILE_FINE + 0.5, 0), 1);
        detail.profile[0][i] = 0;
        detail.profile[1][i] = (float)share;
        detail.profile[2][i] = 1;
        detail.profile[3][i] = (float)(1 - share);
    }
    for (int kind = 0; kind < PROFILE_PERIOD; kind++) {
        detail.lines[kind] = 41;
    }
    detail.placed = true;
}

enum { HASH = 0x1234 };

static struct reading reading_of(uint32_t value, unsigned counter) {
    return (struct reading){.state = FIELD_READ,
                            .slate = {HASH, value, counter & 63},
                            .raster = {60, 20, 3.7714, 16, 235, 0},
                            .lines = 168,
                            .noise = 2,
                            .detail = &detail};
}

struct bench {
    struct plan *plan;
    struct judge *judge;
    unsigned counter;
};

static struct bench bench_new(void) {
    struct problem problem;
    struct bench bench = {.counter = 1};
    assert_true(moments_plan(STANDARD_NTSC, &bench.plan, &problem));
    bench.judge = judge_new(bench.plan, HASH);
    assert_non_null(bench.judge);
    return bench;
}

static void bench_free(struct bench *bench) {
    judge_free(bench->judge);
    plan_free(bench->plan);
}

static enum judged show(struct bench *bench, uint32_t value) {
    const struct reading reading = reading_of(value, bench->counter++);
    return judge_reading(bench->judge, &reading, 2);
}

enum { COLUPF_30 = MOMENT_COLUPF * 152 + 30 };

static void the_first_field_settles(void **state) {
    (void)state;
    struct bench bench = bench_new();
    draw_colupf(91.25);
    assert_int_equal(judge_owed(bench.judge), MOMENT_VALUES);
    assert_int_equal(show(&bench, COLUPF_30), JUDGED_NOT);
    assert_int_equal(show(&bench, COLUPF_30), JUDGED_PASS);
    bench.counter--; /* the same field again */
    assert_int_equal(show(&bench, COLUPF_30), JUDGED_NOT);
    assert_int_equal(judge_owed(bench.judge), MOMENT_VALUES);
    assert_int_equal(show(&bench, COLUPF_30), JUDGED_PASS);
    assert_int_equal(judge_owed(bench.judge), MOMENT_VALUES - 1);
    const struct result *result = judge_result(bench.judge);
    const struct moment_seen *seen = &result->moments->seen[COLUPF_30];
    assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(seen->fields, 2);
    for (int edge = 0; edge < MOMENT_EDGES; edge++) {
        assert_int_equal(seen->half[edge][HALF_LEFT].state, HALF_CHANGES);
        assert_true(fabs(seen->half[edge][HALF_LEFT].clock - 91.25) < 0.05);
        assert_int_equal(seen->half[edge][HALF_RIGHT].state, HALF_NEW);
    }
    bench_free(&bench);
}

/* A field whose lines may lie anywhere, or drowned in noise, or with no picture of its own, says nothing. */
static void doubtful_fields_are_not_used(void **state) {
    (void)state;
    struct bench bench = bench_new();
    draw_colupf(91.25);
    show(&bench, COLUPF_30);
    struct reading doubtful[4];
    for (int i = 0; i < 4; i++) {
        doubtful[i] = reading_of(COLUPF_30, bench.counter++);
    }
    doubtful[0].unsettled = true;
    doubtful[1].noise = 40;
    doubtful[2].detail = NULL;
    for (int i = 0; i < 3; i++) {
        assert_int_equal(judge_reading(bench.judge, &doubtful[i], 2), JUDGED_NOT);
    }
    detail.placed = false;
    assert_int_equal(judge_reading(bench.judge, &doubtful[3], 2), JUDGED_NOT);
    draw_colupf(91.25);
    for (int i = 0; i < PROFILE_POINTS; i++) {
        detail.profile[2][i] = 0.5F; /* two fields in one */
    }
    assert_int_equal(show(&bench, COLUPF_30), JUDGED_NOT);
    draw_colupf(91.25);
    struct reading half_black = reading_of(COLUPF_30, bench.counter++);
    for (int line = 2; line < 62; line += 4) { /* the rest is black, or what else there is */
        half_black.lit[line] = CELLS_ALL;
    }
    assert_int_equal(judge_reading(bench.judge, &half_black, 2), JUDGED_NOT);
    assert_int_equal(judge_result(bench.judge)->moments->seen[COLUPF_30].fields, 0);
    assert_int_equal(judge_result(bench.judge)->verdict, VERDICT_INCONCLUSIVE);
    bench_free(&bench);
}

static void expect_state(double first, double second, enum half_state left, enum half_state right) {
    struct bench bench = bench_new();
    draw_colupf(first);
    show(&bench, COLUPF_30);
    show(&bench, COLUPF_30);
    draw_colupf(second);
    show(&bench, COLUPF_30);
    const struct moment_seen *seen = &judge_result(bench.judge)->moments->seen[COLUPF_30];
    for (int edge = 0; edge < MOMENT_EDGES; edge++) {
        if (seen->half[edge][HALF_LEFT].state != left || seen->half[edge][HALF_RIGHT].state != right) {
            fail_msg("change at %.2f and %.2f: states %d %d, wanted %d %d", first, second,
                     seen->half[edge][HALF_LEFT].state, seen->half[edge][HALF_RIGHT].state, left, right);
        }
    }
    bench_free(&bench);
}

static void halves_by_where_the_change_lies(void **state) {
    (void)state;
    expect_state(60, 60, HALF_NEW, HALF_NEW);
    expect_state(68.3, 68.3, HALF_NEW, HALF_NEW);
    expect_state(69, 69, HALF_CHANGES, HALF_NEW);
    expect_state(147, 147, HALF_CHANGES, HALF_NEW);
    expect_state(147.8, 147.8, HALF_OLD, HALF_NEW);
    expect_state(148.2, 148.2, HALF_OLD, HALF_NEW);
    expect_state(149, 149, HALF_OLD, HALF_CHANGES);
    expect_state(227, 227, HALF_OLD, HALF_CHANGES);
    expect_state(240, 240, HALF_OLD, HALF_OLD);
    expect_state(90, 95, HALF_MIXED, HALF_NEW);    /* fields that disagree by more than a clock */
    expect_state(90, 160, HALF_MIXED, HALF_MIXED); /* and in kind */
}

/* Two changes in a half, or back to the old value: no one clock is told. */
static void two_changes_are_mixed(void **state) {
    (void)state;
    struct bench bench = bench_new();
    draw_colupf(91.25);
    for (int i = 40 * PROFILE_FINE; i < 44 * PROFILE_FINE; i++) {
        detail.profile[1][i] = 0;
    }
    for (int i = 0; i < 3; i++) {
        show(&bench, COLUPF_30);
    }
    const struct moment_seen *seen = &judge_result(bench.judge)->moments->seen[COLUPF_30];
    assert_int_equal(seen->half[EDGE_RISING][HALF_LEFT].state, HALF_MIXED);
    assert_int_equal(seen->half[EDGE_FALLING][HALF_LEFT].state, HALF_CHANGES);
    bench_free(&bench);
}

/* Half way between old and new over more than an edge can be wide. */
static void what_is_neither_is_mixed(void **state) {
    (void)state;
    struct bench bench = bench_new();
    draw_colupf(91.25);
    for (int i = 24 * PROFILE_FINE; i < 30 * PROFILE_FINE; i++) {
        detail.profile[1][i] = 0.5F;
    }
    for (int i = 0; i < 3; i++) {
        show(&bench, COLUPF_30);
    }
    const struct moment_seen *seen = &judge_result(bench.judge)->moments->seen[COLUPF_30];
    assert_int_equal(seen->half[EDGE_RISING][HALF_LEFT].state, HALF_MIXED);
    assert_int_equal(seen->half[EDGE_RISING][HALF_RIGHT].state, HALF_NEW);
    bench_free(&bench);
}

/* New in the left half and old again in the right one. */
static void a_right_half_that_is_old_again_is_mixed(void **state) {
    (void)state;
    struct bench bench = bench_new();
    draw_colupf(91.25);
    for (int i = PROFILE_POINTS / 2; i < PROFILE_POINTS; i++) {
        detail.profile[1][i] = 0;
    }
    for (int i = 0; i < 3; i++) {
        show(&bench, COLUPF_30);
    }
    const struct moment_seen *seen = &judge_result(bench.judge)->moments->seen[COLUPF_30];
    assert_int_equal(seen->half[EDGE_RISING][HALF_LEFT].state, HALF_MIXED);
    assert_int_equal(seen->half[EDGE_RISING][HALF_RIGHT].state, HALF_MIXED);
    assert_int_equal(seen->half[EDGE_FALLING][HALF_LEFT].state, HALF_CHANGES);
    bench_free(&bench);
}

/* What a grabber mixes of the neighbours into each line: the four kinds are each other's [A]. */
static void mixed_lines_change_nothing(void **state) {
    (void)state;
    struct bench bench = bench_new();
    struct detail plain;
    draw_colupf(101.5);
    plain = detail;
    for (int kind = 0; kind < PROFILE_PERIOD; kind++) {
        for (int i = 0; i < PROFILE_POINTS; i++) {
            detail.profile[kind][i] = 0.5F * plain.profile[kind][i] +
                                      0.25F * plain.profile[(kind + 1) % 4][i] +
                                      0.25F * plain.profile[(kind + 3) % 4][i];
        }
    }
    for (int i = 0; i < 3; i++) {
        show(&bench, COLUPF_30);
    }
    const struct moment_seen *seen = &judge_result(bench.judge)->moments->seen[COLUPF_30];
    for (int edge = 0; edge < MOMENT_EDGES; edge++) {
        assert_int_equal(seen->half[edge][HALF_LEFT].state, HALF_CHANGES);
        assert_true(fabs(seen->half[edge][HALF_LEFT].clock - 101.5) < 0.05);
    }
    bench_free(&bench);
}

/* A background that begins half a clock from where the slate's does, at either end: no clock is believed, and
 * no console is blamed. */
static void a_picture_beside_its_slate_tells_nothing(void **state) {
    (void)state;
    static const double beside[] = {0, 0.5, -0.5};
    for (int i = 0; i < 3; i++) {
        struct bench bench = bench_new();
        const uint32_t first = MOMENT_COLUBK * 152;
        for (uint32_t cycle = 22; cycle < 62; cycle++) {
            draw_colupf(3 * cycle + 2 + beside[i]);
            const int points = (int)(fabs(beside[i]) * PROFILE_FINE);
            for (int p = 0; p < points; p++) {
                const int at = beside[i] > 0 ? p : PROFILE_POINTS - 1 - p;
                detail.profile[2][at] = detail.profile[1][at] = detail.profile[3][at] = 0;
            }
            for (int field = 0; field < 3; field++) {
                show(&bench, first + cycle);
            }
        }
        const struct result *result = judge_result(bench.judge);
        assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
        for (int phase = 0; phase < MOMENT_PHASES; phase++) {
            assert_int_equal(result->moments->delay[MOMENT_COLUBK][phase].known, i == 0);
        }
        assert_int_equal(result->findings[0].kind == FINDING_UNEXPLAINED, i > 0);
        bench_free(&bench);
    }
}

/* A soft edge of 3 clocks, and three tenths of the line that shows the new value in the one that is
 * rewritten: its middle is no longer where f is one half, but where it is half way between 0.3 and 1 [A]. */
static void uneven_mixing_moves_no_edge(void **state) {
    (void)state;
    struct bench bench = bench_new();
    draw_colupf(101.5);
    for (int i = 0; i < PROFILE_POINTS; i++) {
        const double share = fmin(fmax((68 + (i + 0.5) / PROFILE_FINE - 101.5) / 3 + 0.5, 0), 1);
        detail.profile[1][i] = (float)(0.3 + 0.7 * share);
        detail.profile[3][i] = (float)(0.7 - 0.7 * share);
    }
    for (int i = 0; i < 3; i++) {
        show(&bench, COLUPF_30);
    }
    const struct moment_seen *seen = &judge_result(bench.judge)->moments->seen[COLUPF_30];
    for (int edge = 0; edge < MOMENT_EDGES; edge++) {
        assert_int_equal(seen->half[edge][HALF_LEFT].state, HALF_CHANGES);
        assert_true(fabs(seen->half[edge][HALF_LEFT].clock - 101.5) < 0.05);
    }
    bench_free(&bench);
}

static void values_owed_are_asked_for_in_order(void **state) {
    (void)state;
    struct bench bench = bench_new();
    uint32_t values[8];
    draw_colupf(91.25);
    assert_int_equal(judge_ask(bench.judge, values, 4), 4);
    for (uint32_t i = 0; i < 4; i++) {
        assert_int_equal(values[i], i);
    }
    assert_int_equal(judge_ask(bench.judge, values, 1), 1);
    assert_int_equal(values[0], 4);
    /* 0 and 1 never came: 2 was asked for after them, so they are owed anew, and 2 to 4 are under way. */
    show(&bench, 2);
    assert_int_equal(judge_ask(bench.judge, values, 3), 3);
    assert_int_equal(values[0], 0);
    assert_int_equal(values[1], 1);
    assert_int_equal(values[2], 5);
    bench_free(&bench);
}

static void all_under_way_are_asked_for_once(void **state) {
    (void)state;
    static uint32_t values[MOMENT_VALUES];
    struct bench bench = bench_new();
    draw_colupf(91.25);
    for (int i = 0; i < 6; i++) {
        show(&bench, (uint32_t)(i / 3));
    }
    assert_int_equal(judge_ask(bench.judge, values, MOMENT_VALUES), MOMENT_VALUES - 2);
    assert_int_equal(values[0], 2);
    /* What should have come long ago is asked for again, whatever comes meanwhile. */
    for (int i = 0; i < 200; i++) {
        show(&bench, (uint32_t)(i % 2));
        assert_int_equal(judge_ask(bench.judge, values, MOMENT_VALUES), 0);
    }
    for (int i = 0; i < 100; i++) {
        show(&bench, (uint32_t)(i % 2));
    }
    assert_int_equal(judge_ask(bench.judge, values, MOMENT_VALUES), MOMENT_VALUES - 2);
    bench_free(&bench);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(latched_delays_are_intervals),
        cmocka_unit_test(delays_at_once_are_measured),
        cmocka_unit_test(a_change_before_its_write_is_told_as_it_is),
        cmocka_unit_test(a_delay_that_varies_is_not_known),
        cmocka_unit_test(halves_old_or_new_all_along_count_too),
        cmocka_unit_test(what_was_not_seen_is_not_known),
        cmocka_unit_test(what_was_not_seen_leaves_windows_open),
        cmocka_unit_test(windows_hold_the_arithmetic_ones),
        cmocka_unit_test(windows_follow_the_delay),
        cmocka_unit_test(a_moment_that_is_not_clean_ends_a_window),
        cmocka_unit_test(equal_consoles_do_not_differ),
        cmocka_unit_test(one_phase_of_one_register_is_found),
        cmocka_unit_test(what_spreads_must_lie_farther_apart),
        cmocka_unit_test(the_first_field_settles),
        cmocka_unit_test(doubtful_fields_are_not_used),
        cmocka_unit_test(halves_by_where_the_change_lies),
        cmocka_unit_test(two_changes_are_mixed),
        cmocka_unit_test(what_is_neither_is_mixed),
        cmocka_unit_test(a_right_half_that_is_old_again_is_mixed),
        cmocka_unit_test(mixed_lines_change_nothing),
        cmocka_unit_test(a_picture_beside_its_slate_tells_nothing),
        cmocka_unit_test(uneven_mixing_moves_no_edge),
        cmocka_unit_test(values_owed_are_asked_for_in_order),
        cmocka_unit_test(all_under_way_are_asked_for_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
