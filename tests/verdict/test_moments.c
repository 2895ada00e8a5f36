/*
 * Plan moments on the chip model, through grabber and reader: the delays are the model's own settings, and
 * what the pictures can tell of them is tried out on the model delay by delay. Figures marked [A] are
 * arithmetic, [M] the model's alone.
 */
#include "verdict/moments_differ.h"
#include "verdict/moments_stand.h"
#include "verdict/slot.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool small(void) {
    const char *wanted = getenv("SLOTJIG_TEST_SMALL");
    return wanted != NULL && strcmp(wanted, "1") == 0;
}

static void show_delay(const struct moments_stand *stand, int reg, int phase,
                       const struct moment_delay *delay, unsigned same) {
    fprintf(stderr, "seed %llu: %s phase %d: %s, %s, %g..%g, clocks %.3f, %d against; the same are %04x\n",
            (unsigned long long)stand->seed, moment_name((enum moment_register)reg), phase,
            delay->known ? "known" : "not known", delay->exact ? "exact" : "latched", delay->low, delay->high,
            delay->clocks, delay->against, same);
}

static void show_findings(const struct result *result) {
    fprintf(stderr, "verdict %s\n", verdict_name(result->verdict));
    for (size_t i = 0; i < result->finding_count; i++) {
        fprintf(stderr, "  %s: %s\n", finding_name(result->findings[i].kind), result->findings[i].text);
    }
}

/* How many delays are told that are not what the pictures tell. those: registers looked at. */
static int wrong_delays(const struct moments_stand *stand, const struct moments *moments, unsigned those,
                        int *unknown) {
    int wrong = 0;
    *unknown = 0;
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        const int reg = i / MOMENT_PHASES, phase = i % MOMENT_PHASES;
        const struct moment_delay *delay = &moments->delay[reg][phase];
        if ((those >> reg & 1) == 0) {
            continue;
        }
        const unsigned same = moments_stand_same(stand, (enum moment_register)reg, phase);
        const bool good = moments_stand_agrees(delay, same);
        *unknown += !delay->known;
        wrong += delay->known && !good;
        if (!good) {
            show_delay(stand, reg, phase, delay, same);
        }
    }
    return wrong;
}

enum { ALL = (1 << MOMENT_REGISTERS) - 1 };

static void check_chip(const struct moments_stand *stand) {
    struct plan *plan;
    int unknown;
    struct judge *judge = moments_stand_run(stand, &plan);
    const struct result *result = judge_result(judge);
    assert_int_equal(wrong_delays(stand, result->moments, ALL, &unknown), 0);
    assert_int_equal(unknown, 0);
    if (result->verdict != VERDICT_PASS) {
        show_findings(result);
    }
    assert_int_equal(result->verdict, VERDICT_PASS);
    assert_int_equal(result->finding_count, 0);
    assert_int_equal(result->coverage.seen, MOMENT_VALUES);
    judge_free(judge);
    plan_free(plan);
}

static void test_random_chips(void **state) {
    (void)state;
    const char *wanted = getenv("CHIPS");
    const uint64_t chips = wanted != NULL ? strtoull(wanted, NULL, 10) : small() ? 1 : 2;
    for (uint64_t seed = 1; seed <= chips; seed++) {
        struct moments_stand stand;
        moments_stand_defaults(seed % 2 == 0 ? STANDARD_PAL : STANDARD_NTSC, &stand);
        moments_stand_random_chip(&stand, seed);
        stand.seed = seed;
        check_chip(&stand);
    }
}

/* ---- grabbers ---- */

/* Round PF1's left cells, cycles 28 to 38.67 [A]: all phases. */
static bool wanted_few(const struct moment *moment) {
    return (moment->reg == MOMENT_PF1 || moment->reg == MOMENT_COLUPF) && !moment->mirror &&
           moment->cycle >= 24 && moment->cycle < 40;
}

static void check_set(const struct grabber_set *set, int *told) {
    struct virtual_options options;
    struct moments_stand stand;
    struct problem problem;
    struct plan *plan;
    int unknown;
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(virtual_use_set(&options, set->name, &problem));
    moments_stand_defaults(STANDARD_NTSC, &stand);
    moments_stand_random_chip(&stand, 77);
    stand.grabber = options.grabber;
    stand.wanted = wanted_few;
    stand.hold = 6; /* a blend of two shows each value in two frames alone */
    struct judge *judge = moments_stand_run(&stand, &plan);
    const struct result *result = judge_result(judge);
    if (result->verdict == VERDICT_FAIL || getenv("SHOW")) {
        show_findings(result);
    }
    assert_int_not_equal(result->verdict, VERDICT_FAIL);
    const int wrong = wrong_delays(&stand, result->moments, 1u << MOMENT_PF1 | 1u << MOMENT_COLUPF, &unknown);
    if (wrong > 0 || unknown > 0) {
        fprintf(stderr, "set %s: %d wrong, %d not known of 8; judged %llu of %llu\n", set->name, wrong,
                unknown, (unsigned long long)result->fields_judged, (unsigned long long)result->fields_seen);
    }
    assert_int_equal(wrong, 0);
    *told += unknown == 0;
    judge_free(judge);
    plan_free(plan);
}

static void test_grabbers(void **state) {
    (void)state;
    int told = 0, sets = 0, tried = 0;
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        if (!small() || sets % 4 == 0) {
            check_set(set, &told);
            tried++;
        }
        sets++;
    }
    assert_int_equal(told, tried);
}

/* ---- broken chips ---- */

/* A fifth of the cycles, of all phases. */
static bool wanted_faults(const struct moment *moment) {
    return moment->cycle % 5 == 0;
}

struct broken {
    const char *fault;
    enum finding_kind kind; /* that must be among the findings */
    int reg, bit;           /* -1: any */
};

static const struct finding *find(const struct result *result, const struct broken *broken) {
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        if (finding->kind == broken->kind && (broken->reg < 0 || finding->reg == broken->reg) &&
            (broken->bit < 0 || finding->bit == broken->bit)) {
            return finding;
        }
    }
    return NULL;
}

static void check_broken(const struct broken *broken) {
    struct virtual_options options;
    struct moments_stand stand;
    struct problem problem;
    struct plan *plan;
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(virtual_add_fault(&options, broken->fault, &problem));
    moments_stand_defaults(STANDARD_NTSC, &stand);
    stand.chip = options.faults.chip;
    stand.wanted = wanted_faults;
    stand.hold = 3;
    struct judge *judge = moments_stand_run(&stand, &plan);
    const struct result *result = judge_result(judge);
    const struct finding *finding = find(result, broken);
    if (result->verdict != VERDICT_FAIL || finding == NULL || getenv("SHOW")) {
        fprintf(stderr, "fault %s: ", broken->fault);
        show_findings(result);
    }
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_non_null(finding);
    assert_in_range(result->finding_count, 1, broken->kind == FINDING_MOMENT_MISSING ? 4 : 1);
    for (int phase = 0; phase < MOMENT_PHASES && broken->kind == FINDING_BIT_STUCK_LOW; phase++) {
        assert_false(result->moments->delay[broken->reg - REG_PF0 + MOMENT_PF0][phase].known);
    }
    assert_true(strlen(finding->text) > 20 && strlen(finding->text) < sizeof finding->text - 1);
    assert_true(strlen(finding->next) > 20 && strlen(finding->next) < sizeof finding->next - 1);
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        const struct moment_delay *delay = &result->moments->delay[i / MOMENT_PHASES][i % MOMENT_PHASES];
        if (!delay->known) {
            continue;
        }
        const unsigned same =
            moments_stand_same(&stand, (enum moment_register)(i / MOMENT_PHASES), i % MOMENT_PHASES);
        if (!moments_stand_agrees(delay, same)) {
            show_delay(&stand, i / MOMENT_PHASES, i % MOMENT_PHASES, delay, same);
            fail_msg("fault %s: a delay is told that is not the chip's", broken->fault);
        }
    }
    judge_free(judge);
    plan_free(plan);
}

static void test_broken_chips(void **state) {
    (void)state;
    static const struct broken chips[] = {
        {"bit-low=PF1.3", FINDING_BIT_STUCK_LOW, REG_PF1, 3},
        {"bit-high=PF0.4", FINDING_BIT_STUCK_HIGH, REG_PF0, 4},
        {"bit-high=PF2.7", FINDING_BIT_STUCK_HIGH, REG_PF2, 7},
        {"mirror-ignored", FINDING_MIRROR_IGNORED, -1, -1},
        {"copy-ignored", FINDING_COPY_IGNORED, -1, -1},
        {"late=1", FINDING_SHIFTED, -1, -1},
        {"late=3", FINDING_SHIFTED, -1, -1},
        {"late=8", FINDING_SHIFTED, -1, -1},
        {"swap=PF0,PF1", FINDING_REGISTERS_SWAPPED, REG_PF0, -1},
        {"flaky=PF1.3:low:0.2", FINDING_INTERMITTENT, REG_PF1, 3},
        {"late=2", FINDING_SHIFTED, -1, -1},
        {"order=PF1", FINDING_REGISTER_ORDER_REVERSED, -1, -1},
        {"tia-data=0:high", FINDING_DATA_LINE_STUCK, -1, 0},
        {"tia-data=6:low", FINDING_DATA_LINE_STUCK, -1, 6},
        {"tia-data=1:low", FINDING_MOMENT_MISSING, REG_CTRLPF, -1}, /* score is never on [A] */
    };
    for (size_t i = 0; i < sizeof chips / sizeof chips[0]; i++) {
        if (!small() || i % 4 == 0) {
            check_broken(&chips[i]);
        }
    }
}

/* ---- two consoles ---- */

static struct moments measure(const struct moments_stand *stand) {
    struct plan *plan;
    struct judge *judge = moments_stand_run(stand, &plan);
    const struct moments moments = *judge_result(judge)->moments;
    judge_free(judge);
    plan_free(plan);
    return moments;
}

/* The same chip with other noise; then with another delay in one phase of one register. */
static void test_two_consoles(void **state) {
    (void)state;
    static struct moments first, second;
    static struct moments_difference difference;
    struct moments_stand stand;
    moments_stand_defaults(STANDARD_NTSC, &stand);
    moments_stand_random_chip(&stand, 5);
    stand.wanted = wanted_few;
    stand.seed = 1;
    first = measure(&stand);
    stand.seed = 2;
    second = measure(&stand);
    moments_differ(&first, &second, &difference);
    assert_int_equal(difference.compared, 2 * MOMENT_PHASES);
    assert_int_equal(difference.delays + difference.windows + difference.moments, 0);
    for (int i = 0; i < 2 * MOMENT_PHASES; i++) {
        const int reg = i < MOMENT_PHASES ? MOMENT_PF1 : MOMENT_COLUPF, phase = i % MOMENT_PHASES;
        struct moments_stand other = stand;
        uint8_t *delay = &other.chip.delay[reg == MOMENT_PF1 ? TIA_PF1 : TIA_COLUPF][phase];
        *delay = *delay > 6 ? (uint8_t)(*delay - (reg == MOMENT_PF1 ? 4 : 1))
                            : (uint8_t)(*delay + (reg == MOMENT_PF1 ? 4 : 1));
        other.seed = 3;
        second = measure(&other);
        moments_differ(&first, &second, &difference);
        assert_int_equal(difference.delays, 1);
        assert_true(difference.delay[reg][phase]);
    }
}

static bool is_of_pf1_or_colupf(const struct moment *moment) {
    return !moment->mirror && (moment->reg == MOMENT_PF1 || moment->reg == MOMENT_COLUPF);
}

/* COLUPF shows in cells that begin later then [A: a write that ends with clock 69 is in time for a cell at
 * 69]. */
static void test_late_cells_blame_no_colour(void **state) {
    (void)state;
    struct moments_stand stand;
    struct plan *plan;
    moments_stand_defaults(STANDARD_NTSC, &stand);
    stand.chip.late = 1;
    stand.wanted = is_of_pf1_or_colupf;
    struct judge *judge = moments_stand_run(&stand, &plan);
    const struct result *result = judge_result(judge);
    if (result->finding_count != 1) {
        show_findings(result);
    }
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->finding_count, 1);
    assert_int_equal(result->findings[0].kind, FINDING_SHIFTED);
    judge_free(judge);
    plan_free(plan);
}

static bool is_of_colupf(const struct moment *moment) {
    return moment->reg == MOMENT_COLUPF;
}

/* White at half its level is no white that a delay could be measured with: fields of this image all the same,
 * and no other one's. */
static void test_dim_white_is_not_called_another_image(void **state) {
    (void)state;
    struct moments_stand stand;
    struct plan *plan;
    moments_stand_defaults(STANDARD_NTSC, &stand);
    stand.chip.colour_low[0] = 1 << 3; /* COLUPF: $0E is $06 [A] */
    stand.wanted = is_of_colupf;
    struct judge *judge = moments_stand_run(&stand, &plan);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(result->fields_judged, 0);
    assert_int_equal(result->finding_count, 1);
    assert_int_equal(result->findings[0].kind, FINDING_UNEXPLAINED);
    assert_non_null(strstr(result->findings[0].text, " fields of this image came"));
    assert_int_equal(slot_video_of(result), SLOT_VIDEO_UNKNOWN);
    judge_free(judge);
    plan_free(plan);
}

static bool is_of_reflect_or_score(const struct moment *moment) {
    return moment->reg == MOMENT_REFLECT || moment->reg == MOMENT_SCORE;
}

/* An echo as strong as half the picture, before or after it in sign, moves one edge or another. */
static void test_echo_is_no_fault(void **state) {
    (void)state;
    static const double ghosts[][2] = {{0.5, 3}, {-0.5, 2}};
    for (int i = 0; i < (small() ? 1 : 2); i++) {
        struct moments_stand stand;
        struct plan *plan;
        moments_stand_defaults(STANDARD_NTSC, &stand);
        stand.grabber.noise_db = HUGE_VAL;
        stand.grabber.ghost = ghosts[i][0];
        stand.grabber.ghost_us = ghosts[i][1];
        stand.wanted = is_of_reflect_or_score;
        struct judge *judge = moments_stand_run(&stand, &plan);
        const struct result *result = judge_result(judge);
        if (result->verdict != VERDICT_INCONCLUSIVE) {
            show_findings(result);
        }
        assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
        judge_free(judge);
        plan_free(plan);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_random_chips),
        cmocka_unit_test(test_grabbers),
        cmocka_unit_test(test_broken_chips),
        cmocka_unit_test(test_late_cells_blame_no_colour),
        cmocka_unit_test(test_dim_white_is_not_called_another_image),
        cmocka_unit_test(test_two_consoles),
        cmocka_unit_test(test_echo_is_no_fault),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
