/* Two groups of runs held side by side: what is new, gone and drifting, and what is not. All runs are
 * invented from seeds that are printed here. */
#include "record/differ.h"
#include "record/invented.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { STEPS = 98, RUNS = 20 };

/* A console's runs, the first `before` of them against the rest. What a test changes in them it may: they are
 * made anew for each. */
struct pair {
    struct invented *invented;
    struct record_list before, now;
};

static struct pair pair_of(uint64_t seed, int before, int now) {
    struct pair pair = {.invented = invented_new(seed, 1, STEPS, before + now)};
    struct record_run **runs = pair.invented->runs.runs;
    pair.before = (struct record_list){(size_t)before, runs};
    pair.now = (struct record_list){(size_t)now, runs + before};
    return pair;
}

static struct step_result *step_of(const struct record_list *list, int run, int step) {
    return (struct step_result *)&list->runs[run]->steps[step];
}

/* The step shows other cells than it should, and the run fails. */
static void break_step(const struct record_list *list, int run, int step, uint64_t cells) {
    struct step_result *result = step_of(list, run, step);
    result->seen = result->expected ^ cells;
    result->sure |= cells;
    result->verdict = VERDICT_FAIL;
    result->failed = result->fields;
    list->runs[run]->end = RECORD_FAIL;
}

static void add_finding(const struct record_list *list, int run, const struct finding *finding) {
    list->runs[run]->findings = finding;
    list->runs[run]->finding_count = 1;
}

/* Steps whose rows are all lit or all dark: no edge of theirs is the playfield's. */
static int flat_steps(const struct pair *pair) {
    int flat = 0;
    for (int step = 0; step < STEPS; step++) {
        const uint64_t expected = pair->invented->plan.steps[step].expected;
        flat += expected == 0 || expected == (UINT64_C(1) << CELLS) - 1;
    }
    return flat;
}

static struct differ *held(const struct pair *pair, const struct series *more, size_t more_count) {
    struct differ *differ = NULL;
    struct problem problem = {0};
    if (!differ_runs(&pair->before, &pair->now, more, more_count, &differ, &problem)) {
        fail_msg("%s", problem.text);
    }
    return differ;
}

static void done(struct pair *pair, struct differ *differ) {
    differ_free(differ);
    invented_free(pair->invented);
}

static size_t called(const struct differ *differ) {
    size_t count = 0;
    for (size_t i = 0; i < differ->drift_count; i++) {
        count += differ->drifts[i].called;
    }
    return count;
}

static void nothing_differs_where_nothing_does(void **state) {
    struct pair pair = pair_of(1, 5, 10);
    struct differ *differ = held(&pair, NULL, 0);
    (void)state;
    assert_int_equal(differ->before_count, 5);
    assert_int_equal(differ->now_count, 10);
    assert_int_equal(differ->change_count, 0);
    assert_true(flat_steps(&pair) > 0);
    assert_int_equal(differ->tested, 4 * STEPS - flat_steps(&pair));
    assert_int_equal(called(differ), 0);
    assert_false(differ->regression || differ->doubt || differ->warm_up);
    assert_int_equal(differ_verdict(differ), DIFFER_NOT_WORSE);
    done(&pair, differ);
}

static void new_cells_are_named(void **state) {
    struct pair pair = pair_of(2, 5, 5);
    (void)state;
    break_step(&pair.now, 1, 7, 1ull << 3 | 1ull << 23);
    break_step(&pair.now, 4, 7, 1ull << 5);
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(differ->change_count, 1);
    const struct change *change = &differ->changes[0];
    assert_int_equal(change->kind, CHANGE_NEW);
    assert_int_equal(change->step, 7);
    assert_true(change->cells == (1ull << 3 | 1ull << 5 | 1ull << 23));
    assert_string_equal(change->name, pair.invented->plan.steps[7].name);
    assert_int_equal(change->before_hits, 0);
    assert_int_equal(change->before_runs, 5);
    assert_int_equal(change->now_hits, 2);
    assert_int_equal(change->now_runs, 5);
    assert_true(change->worse && differ->regression);
    assert_int_equal(differ_verdict(differ), DIFFER_WORSE);
    done(&pair, differ);
}

/* A fault that moved: some cells are new and others gone, in one step. */
static void gone_cells_are_no_regression(void **state) {
    struct pair pair = pair_of(3, 5, 5);
    (void)state;
    break_step(&pair.before, 0, 7, 1ull << 3);
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(differ->change_count, 1);
    assert_int_equal(differ->changes[0].kind, CHANGE_GONE);
    assert_false(differ->regression || differ->doubt);
    differ_free(differ);
    break_step(&pair.now, 0, 7, 1ull << 4);
    differ = held(&pair, NULL, 0);
    assert_int_equal(differ->change_count, 2);
    assert_int_equal(differ->changes[0].kind, CHANGE_NEW);
    assert_true(differ->changes[0].cells == 1ull << 4);
    assert_int_equal(differ->changes[1].kind, CHANGE_GONE);
    assert_true(differ->changes[1].cells == 1ull << 3);
    assert_true(differ->regression);
    done(&pair, differ);
}

/* Unclear cells and such as are not judged are never wrong; a step that is wrong without any cell (a
 * playfield that is late) is new all the same. */
static void only_sure_cells_are_wrong(void **state) {
    struct pair pair = pair_of(4, 3, 3);
    (void)state;
    break_step(&pair.now, 0, 1, 1ull << 3 | 1ull << 4 | 1ull << 5);
    step_of(&pair.now, 0, 1)->unclear = 1ull << 4;
    step_of(&pair.now, 0, 1)->sure &= ~(1ull << 5);
    break_step(&pair.now, 0, 2, 0);
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(differ->change_count, 2);
    assert_true(differ->changes[0].cells == 1ull << 3);
    assert_true(differ->changes[1].cells == 0 && differ->changes[1].step == 2);
    done(&pair, differ);
}

/* [A] Wilson's 95 % intervals: 1 of 10 is 0.02 to 0.40, 9 of 10 0.60 to 0.98: apart; 4 of 10 is 0.17 to 0.69,
 * 6 of 10 0.31 to 0.83: not. */
static void shares_differ_only_where_their_intervals_do(void **state) {
    static const struct {
        int before, now;
        int changes;
        enum change_kind kind;
    } rows[] = {{1, 9, 1, CHANGE_MORE}, {9, 1, 1, CHANGE_LESS}, {4, 6, 0, CHANGE_NEW}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct pair pair = pair_of(5 + i, 10, 10);
        for (int run = 0; run < 10; run++) {
            if (run < rows[i].before) {
                break_step(&pair.before, run, 9, 1);
            }
            if (run < rows[i].now) {
                break_step(&pair.now, run, 9, 1);
            }
        }
        struct differ *differ = held(&pair, NULL, 0);
        assert_int_equal(differ->change_count, rows[i].changes);
        if (rows[i].changes > 0) {
            assert_int_equal(differ->changes[0].kind, rows[i].kind);
            assert_true(differ->changes[0].cells == 1);
        }
        assert_int_equal(differ->regression, rows[i].changes > 0 && rows[i].kind == CHANGE_MORE);
        done(&pair, differ);
    }
}

static void findings_are_told_by_kind_register_and_bit(void **state) {
    const struct finding low3 = {.kind = FINDING_BIT_STUCK_LOW, .reg = REG_PF1, .bit = 3};
    const struct finding low4 = {.kind = FINDING_BIT_STUCK_LOW, .reg = REG_PF1, .bit = 4};
    const struct finding either = {.kind = FINDING_SHIFTED, .reg = -1, .bit = -1, .alternative = true};
    struct pair pair = pair_of(8, 3, 3);
    (void)state;
    add_finding(&pair.before, 0, &low3);
    pair.before.runs[0]->end = RECORD_FAIL;
    add_finding(&pair.now, 0, &low3);
    pair.now.runs[0]->end = RECORD_FAIL;
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(differ->change_count, 0);
    differ_free(differ);
    add_finding(&pair.now, 0, &low4);
    add_finding(&pair.now, 1, &either);
    pair.now.runs[1]->end = RECORD_FAIL;
    differ = held(&pair, NULL, 0);
    assert_int_equal(differ->change_count, 3);
    assert_string_equal(differ->changes[0].name, "bit_stuck_low PF1 D3");
    assert_int_equal(differ->changes[0].kind, CHANGE_GONE);
    assert_string_equal(differ->changes[1].name, "bit_stuck_low PF1 D4");
    assert_int_equal(differ->changes[1].kind, CHANGE_NEW);
    assert_string_equal(differ->changes[2].name, "shifted (an alternative)");
    assert_true(differ->changes[2].step == -1 && differ->regression);
    done(&pair, differ);
}

/* A run without video has no cells and no margins to count, but what it says is new. It is no regression: it
 * may be the bench. */
static void what_could_not_be_judged_is_a_doubt(void **state) {
    const struct finding none = {.kind = FINDING_NO_VIDEO, .reg = -1, .bit = -1};
    struct pair pair = pair_of(9, 5, 5);
    (void)state;
    struct record_run *run = pair.now.runs[2];
    run->end = RECORD_INCONCLUSIVE;
    run->fields_judged = 0;
    for (int step = 0; step < STEPS; step++) {
        *step_of(&pair.now, 2, step) =
            (struct step_result){.verdict = VERDICT_INCONCLUSIVE, .wrong_line = -1};
    }
    add_finding(&pair.now, 2, &none);
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(differ->now_count, 4);
    assert_int_equal(differ->now_unjudged, 1);
    assert_int_equal(differ->change_count, 1);
    assert_string_equal(differ->changes[0].name, "no_video");
    assert_true(differ->doubt && !differ->regression && !differ->changes[0].worse);
    assert_int_equal(differ_verdict(differ), DIFFER_NOT_KNOWN);
    assert_int_equal(called(differ), 0);
    for (size_t i = 0; i < differ->drift_count; i++) {
        assert_int_equal(differ->drifts[i].now_runs, 4);
    }
    differ_free(differ);
    /* A run that the bench broke off says nothing at all. */
    run->end = RECORD_TROUBLE;
    differ = held(&pair, NULL, 0);
    assert_int_equal(differ->now_unjudged, 0);
    assert_int_equal(differ->now_count, 4);
    assert_int_equal(differ->change_count, 0);
    done(&pair, differ);
}

static void move_margins(const struct record_list *list, int step, double by) {
    for (size_t run = 0; run < list->count; run++) {
        step_of(list, (int)run, step)->margin += by;
    }
}

/* Ten deviations, but less than what is worth a word; then more, down and up. */
static void a_drift_is_certain_and_large(void **state) {
    static const struct {
        double by;
        bool called, worse;
    } rows[] = {{-0.03, false, false}, {-0.12, true, true}, {0.12, true, false}};
    (void)state;
    for (size_t i = 0; i < 3; i++) {
        struct pair pair = pair_of(10 + i, 8, 8);
        for (size_t run = 0; run < 8; run++) {
            step_of(&pair.before, (int)run, 20)->margin = 0.8 + 0.001 * (double)run;
            step_of(&pair.now, (int)run, 20)->margin = 0.8 + 0.001 * (double)run;
        }
        move_margins(&pair.now, 20, rows[i].by);
        struct differ *differ = held(&pair, NULL, 0);
        const struct drift *first = &differ->drifts[0];
        assert_int_equal(first->step, 20);
        assert_int_equal(first->quantity, QUANTITY_MARGIN);
        assert_true(first->adjusted < 1e-6);
        assert_true(fabs(first->now - first->before - rows[i].by) < 1e-9);
        assert_int_equal(called(differ), rows[i].called);
        assert_int_equal(first->called, rows[i].called);
        assert_int_equal(first->worse, rows[i].worse);
        assert_int_equal(differ->regression, rows[i].worse);
        done(&pair, differ);
    }
}

/* Twice the least effect, but no farther than the runs of one side lie apart. */
static void a_large_drift_may_be_chance(void **state) {
    struct pair pair = pair_of(24, 4, 4);
    (void)state;
    for (int run = 0; run < 4; run++) {
        step_of(&pair.before, run, 20)->margin = 0.7 + 0.1 * run;
        step_of(&pair.now, run, 20)->margin = 0.6 + 0.1 * run;
    }
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(called(differ), 0);
    done(&pair, differ);
}

/* A drift of 0.2 whose p is 0.0047 [A: t = 4.38 at 6 degrees of freedom; a table has 3.707 for 0.01]: enough
 * where one step's few quantities are tested, and what chance brings along among hundreds. */
static void what_many_tests_bring_by_chance_is_no_drift(void **state) {
    static const int steps[] = {1, STEPS};
    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct pair pair = {.invented = invented_new(25, 1, steps[i], 8)};
        pair.before = (struct record_list){4, pair.invented->runs.runs};
        pair.now = (struct record_list){4, pair.invented->runs.runs + 4};
        for (int run = 0; run < 4; run++) {
            step_of(&pair.before, run, 0)->margin = 0.75 + 0.05 * run;
            step_of(&pair.now, run, 0)->margin = 0.55 + 0.05 * run;
        }
        struct differ *differ = held(&pair, NULL, 0);
        const struct drift *first = NULL;
        for (size_t j = 0; j < differ->drift_count; j++) {
            const struct drift *drift = &differ->drifts[j];
            first = drift->step == 0 && drift->quantity == QUANTITY_MARGIN ? drift : first;
        }
        assert_non_null(first);
        assert_true(fabs(first->p - 0.0047) < 0.0002);
        assert_true(fabs(first->now - first->before + 0.2) < 1e-9);
        assert_int_equal(first->called, steps[i] == 1);
        assert_int_equal(differ->regression, steps[i] == 1);
        done(&pair, differ);
    }
}

/* Any other quantity may not move at all. */
static void offsets_and_levels_may_not_move(void **state) {
    (void)state;
    for (int up = 0; up < 2; up++) {
        struct pair pair = pair_of(14, 8, 8);
        for (int run = 0; run < 8; run++) {
            step_of(&pair.now, run, 30)->offset += up ? 0.3 : -0.3;
            step_of(&pair.now, run, 31)->lit_colour.level += up ? 0.05 : -0.05;
        }
        struct differ *differ = held(&pair, NULL, 0);
        assert_int_equal(called(differ), 2);
        assert_true(differ->drifts[0].worse && differ->drifts[1].worse && differ->regression);
        done(&pair, differ);
    }
}

static void a_step_in_error_has_no_margin(void **state) {
    struct pair pair = pair_of(15, 6, 6);
    (void)state;
    for (int run = 0; run < 3; run++) {
        break_step(&pair.before, run, 40, 1);
        break_step(&pair.now, run, 40, 1);
        step_of(&pair.now, run, 40)->margin = 0.01;
    }
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(differ->change_count, 0);
    assert_int_equal(called(differ), 0);
    for (size_t i = 0; i < differ->drift_count; i++) {
        assert_int_equal(differ->drifts[i].now_runs, differ->drifts[i].step == 40 ? 3 : 6);
    }
    done(&pair, differ);
}

/* Too few runs on one side: changes are told, and no drift is tested. */
static void few_runs_have_no_drift(void **state) {
    struct pair pair = pair_of(16, 5, 2);
    (void)state;
    move_margins(&pair.now, 3, -0.5);
    break_step(&pair.now, 0, 50, 1);
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(differ->tested, 0);
    assert_int_equal(differ->drift_count, 0);
    assert_int_equal(differ->change_count, 1);
    done(&pair, differ);
}

/* What no run knows (no edges, no colour) is not tested, and so not corrected for. A playfield that lies
 * exactly where it should is known. */
static void unknown_quantities_are_not_tested(void **state) {
    struct pair pair = pair_of(17, 4, 4);
    (void)state;
    for (int run = 0; run < 8; run++) {
        struct step_result *step = (struct step_result *)&pair.invented->runs.runs[run]->steps[5];
        step->expected = step->seen = run % 2 == 0 ? 0 : (UINT64_C(1) << CELLS) - 1;
        step->offset = run - 4;
        step->lit_colour.count = 0;
        ((struct step_result *)&pair.invented->runs.runs[run]->steps[6])->offset = run < 4 ? 0 : 0.5;
    }
    assert_true(pair.invented->plan.steps[5].expected != 0); /* not one of the flat ones already */
    struct differ *differ = held(&pair, NULL, 0);
    assert_int_equal(differ->tested, 4 * STEPS - flat_steps(&pair) - 2);
    assert_int_equal(called(differ), 1);
    assert_int_equal(differ->drifts[0].quantity, QUANTITY_OFFSET);
    assert_int_equal(differ->drifts[0].step, 6);
    done(&pair, differ);
}

/* A bit that comes and goes hits other steps each time: no regression, until it does so more often than
 * chance, or where other cells go with it. */
static void one_fault_in_other_steps_is_known(void **state) {
    static const struct {
        int now;
        uint64_t cells;
        bool known;
    } rows[] = {
        {1, 1ull << 8, true},
        {3, 1ull << 8 | 1ull << 28, true},
        {9, 1ull << 8, false}, /* 0 of 10 against 9 of 10: Wilson's ends are 0.28 and 0.60 */
        {1, 1ull << 8 | 1ull << 9, false},
        {1, 0, false},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct pair pair = pair_of(30 + i, 10, 10);
        break_step(&pair.before, 0, 7, 1ull << 8);
        break_step(&pair.before, 4, 9, 1ull << 28);
        break_step(&pair.now, 2, 7, 1ull << 8);
        break_step(&pair.now, 2, 9, 1ull << 28);
        for (int run = 0; run < rows[i].now; run++) {
            break_step(&pair.now, run, 20, rows[i].cells);
        }
        struct differ *differ = held(&pair, NULL, 0);
        assert_int_equal(differ->change_count, 1);
        assert_int_equal(differ->changes[0].kind, CHANGE_NEW);
        assert_int_equal(differ->changes[0].known, rows[i].known);
        assert_int_equal(differ->changes[0].worse, !rows[i].known);
        assert_int_equal(differ_verdict(differ), rows[i].known ? DIFFER_NOT_WORSE : DIFFER_WORSE);
        done(&pair, differ);
    }
}

static void warming_up_is_said(void **state) {
    struct pair pair = pair_of(18, 4, 4);
    (void)state;
    for (int run = 0; run < 4; run++) {
        pair.before.runs[run]->minutes_on = 5;
        pair.now.runs[run]->minutes_on = run < 2 ? -1 : 15 + run;
    }
    struct differ *differ = held(&pair, NULL, 0);
    assert_true(differ->before_minutes == 5 && differ->now_minutes == 17.5 && differ->warm_up);
    differ_free(differ);
    for (int run = 0; run < 4; run++) {
        pair.now.runs[run]->minutes_on = -1;
    }
    differ = held(&pair, NULL, 0);
    assert_true(isnan(differ->now_minutes) && !differ->warm_up);
    done(&pair, differ);
}

/* Another bench, other noise, or new trouble of the video, may be all that moved: nothing is called worse of
 * the console then, but what is wrong is. */
static void the_benchs_drift_is_not_the_consoles(void **state) {
    const struct finding clipping = {.kind = FINDING_CLIPPING, .reg = -1, .bit = -1};
    (void)state;
    for (int how = 0; how < 6; how++) {
        struct pair pair = pair_of(23, 6, 6);
        const bool noise = how == 1 || how == 5;
        move_margins(&pair.now, 12, -0.2);
        for (int run = 0; run < 6; run++) {
            step_of(&pair.now, run, 13)->lit_colour.level -= 0.1;
            pair.now.runs[run]->noise_db = how == 1 ? 30.5 : 34;
            /* 0: there was none to be measured */
            pair.before.runs[run]->noise_db = how == 5 ? 0 : 34;
        }
        pair.now.runs[3]->bench = how == 2 ? "another table" : "table";
        for (int run = how == 4 ? 0 : 9; (how == 3 || how == 4) && run < 12; run++) { /* now, or all along */
            pair.invented->runs.runs[run]->troubles = &clipping;
            pair.invented->runs.runs[run]->trouble_count = 1;
        }
        struct differ *differ = held(&pair, NULL, 0);
        assert_int_equal(called(differ), 2);
        for (size_t i = 0; i < 2; i++) {
            const struct drift *drift = &differ->drifts[i];
            const bool spared = how == 2 || how == 3 || (noise && drift->quantity == QUANTITY_MARGIN);
            assert_int_equal(drift->perhaps_bench, spared);
            assert_int_equal(drift->worse, !spared);
        }
        assert_int_equal(differ->other_noise, noise);
        assert_int_equal(differ->other_bench, how == 2 || how == 3);
        assert_int_equal(differ->doubt, how != 0 && how != 4);
        assert_int_equal(differ->regression, how != 2 && how != 3);
        differ_free(differ);
        break_step(&pair.now, 0, 14, 1);
        differ = held(&pair, NULL, 0);
        assert_true(differ->regression);
        done(&pair, differ);
    }
}

/* What a person saw has no noise to be compared. */
static void by_eye_is_no_other_noise(void **state) {
    struct pair pair = pair_of(60, 4, 4);
    (void)state;
    for (int run = 0; run < 4; run++) {
        pair.now.runs[run]->seen_by_eye = true;
        pair.now.runs[run]->noise_db = 0;
    }
    struct differ *differ = held(&pair, NULL, 0);
    assert_false(differ->other_noise);
    assert_int_equal(differ->tested, 0);
    done(&pair, differ);
}

static void plans_are_not_mixed(void **state) {
    struct invented *first = invented_new(1, 1, 98, 3), *second = invented_new(1, 1, 97, 3);
    struct differ *differ = NULL;
    struct problem problem = {0};
    (void)state;
    assert_false(differ_runs(&first->runs, &second->runs, NULL, 0, &differ, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_null(differ);
    const struct record_list none = {0, NULL};
    assert_true(differ_runs(&none, &none, NULL, 0, &differ, &problem));
    assert_int_equal(differ->before_count, 0);
    assert_int_equal(differ_verdict(differ), DIFFER_NOT_KNOWN); /* of nothing nothing is known */
    differ_free(differ);
    assert_true(differ_runs(&first->runs, &none, NULL, 0, &differ, &problem));
    assert_int_equal(differ->change_count, 0);
    assert_false(differ->other_noise); /* of no run there is none */
    assert_int_equal(differ_verdict(differ), DIFFER_NOT_KNOWN);
    differ_free(differ);
    invented_free(first);
    invented_free(second);
}

/* Few fields of a bit that comes and goes fit a data line as well: no regression where the bit was known. */
static void an_alternative_to_what_was_there_is_known(void **state) {
    const struct finding bit = {.kind = FINDING_INTERMITTENT, .reg = REG_PF1, .bit = 3};
    const struct finding line = {.kind = FINDING_INTERMITTENT, .reg = -1, .bit = 3, .alternative = true};
    const struct finding both[] = {bit, line}, sure[] = {bit, {FINDING_INTERMITTENT, .reg = -1, .bit = 3}};
    static const struct {
        int known_before, now;
        bool alternative, spared;
    } rows[] = {{5, 2, true, true}, {0, 2, true, false}, {5, 2, false, false}, {5, 10, true, false}};
    (void)state;
    for (size_t row = 0; row < sizeof rows / sizeof rows[0]; row++) {
        struct pair pair = pair_of(50 + row, 10, 10);
        for (int run = 0; run < rows[row].known_before; run++) {
            add_finding(&pair.before, run, &bit);
            pair.before.runs[run]->end = RECORD_FAIL;
        }
        for (int run = 0; run < rows[row].now; run++) {
            add_finding(&pair.now, run, rows[row].alternative ? both : sure);
            pair.now.runs[run]->finding_count = 2;
            pair.now.runs[run]->end = RECORD_FAIL;
        }
        struct differ *differ = held(&pair, NULL, 0);
        const struct change *last = &differ->changes[differ->change_count - 1];
        assert_int_equal(last->kind, CHANGE_NEW);
        assert_true(strncmp(last->name, "intermittent 3", 14) == 0);
        assert_int_equal(last->known, rows[row].spared);
        assert_int_equal(last->worse, !rows[row].spared);
        assert_int_equal(differ_verdict(differ), rows[row].spared ? DIFFER_NOT_WORSE : DIFFER_WORSE);
        done(&pair, differ);
    }
}

/* A turn of all hues alike is the grabber's tint, as far as anybody can tell; a hue that moves beside the
 * others is the console's. */
static void a_turn_of_all_hues_is_perhaps_the_benchs(void **state) {
    enum { HUES = 15, EACH = 4 };
    static const struct {
        double turn, own; /* of all, of the fourth beside */
        size_t called, worse;
    } rows[] = {{0, 0, 0, 0}, {2.5, 0, 0, 0},  {5, 0, HUES, 0},
                {0, 4, 1, 1}, {5, 4, HUES, 1}, {-5, 4, HUES - 1, 0}};
    (void)state;
    for (size_t row = 0; row < sizeof rows / sizeof rows[0]; row++) {
        double before[HUES][EACH], now[HUES][EACH];
        struct series series[HUES];
        struct pair pair = pair_of(40 + row, EACH, EACH);
        for (int hue = 0; hue < HUES; hue++) {
            series[hue] = (struct series){QUANTITY_COLOUR_HUE, "", EACH, EACH, before[hue], now[hue]};
            snprintf(series[hue].name, sizeof series[hue].name, "COLUPF $%X4", hue + 1);
            for (int run = 0; run < EACH; run++) {
                before[hue][run] = 24 * hue + 0.1 * run;
                now[hue][run] = before[hue][run] + rows[row].turn + (hue == 3 ? rows[row].own : 0);
            }
        }
        struct differ *differ = held(&pair, series, HUES);
        size_t worse = 0;
        for (size_t i = 0; i < differ->drift_count; i++) {
            worse += differ->drifts[i].worse;
        }
        assert_int_equal(called(differ), rows[row].called);
        assert_int_equal(worse, rows[row].worse);
        assert_true(fabs(differ->hue_turn - rows[row].turn) < 1e-9);
        assert_int_equal(differ_turned(differ), rows[row].turn != 0);
        assert_int_equal(differ_verdict(differ), rows[row].worse > 0    ? DIFFER_WORSE
                                                 : rows[row].called > 0 ? DIFFER_NOT_KNOWN
                                                                        : DIFFER_NOT_WORSE);
        done(&pair, differ);
    }
}

static void series_drift_like_steps(void **state) {
    double before[] = {2.001, 1.999, 2.0, 2.002, NAN}, now[] = {2.501, 2.499, 2.5, NAN, 2.502};
    const struct series delay = {QUANTITY_DELAY, "PF1, phase 0", 5, 5, before, now};
    const struct series few = {QUANTITY_DELAY, "PF2, phase 0", 2, 5, before, now};
    const struct series both[] = {delay, few};
    struct pair pair = pair_of(19, 5, 5);
    (void)state;
    struct differ *differ = held(&pair, both, 2);
    /* The steps' levels are not tested twice. */
    assert_int_equal(differ->tested, 2 * STEPS - flat_steps(&pair) + 1);
    assert_string_equal(differ->drifts[0].name, "PF1, phase 0");
    assert_int_equal(differ->drifts[0].step, -1);
    assert_int_equal(differ->drifts[0].before_runs, 4);
    assert_true(differ->drifts[0].called && differ->drifts[0].worse && differ->regression);
    done(&pair, differ);
}

/* Consoles 0, 2, 4 ... against 1, 3, 5 ...: of the first a step's offset is moved. */
static void the_moved_step_separates_best(void **state) {
    struct invented *invented = invented_new(20, 12, STEPS, 4);
    struct record_run *runs[2][48];
    struct record_list lists[2] = {{0, runs[0]}, {0, runs[1]}};
    struct separations *found = NULL;
    struct problem problem = {0};
    (void)state;
    for (size_t i = 0; i < invented->runs.count; i++) {
        const size_t group = i / 4 % 2;
        struct record_run *run = invented->runs.runs[i];
        runs[group][lists[group].count++] = run;
        if (group == 0) {
            ((struct step_result *)&run->steps[61])->offset += 0.2;
        }
    }
    assert_true(differ_separate(&lists[0], &lists[1], NULL, 0, &found, &problem));
    const struct separation *best = &found->list[0];
    assert_int_equal(best->step, 61);
    assert_int_equal(best->quantity, QUANTITY_OFFSET);
    assert_int_equal(best->first_consoles, 6); /* consoles, not their 24 runs */
    assert_int_equal(best->second_consoles, 6);
    assert_true(best->larger == 1 && best->adjusted < 0.05 && best->df <= 10);
    assert_true(fabs(best->first - best->second - 0.2) < 0.05);
    assert_true(found->count > 1 && found->list[1].adjusted > 0.05);
    separations_free(found);
    invented_free(invented);
}

/* [A] Six consoles of which the step is wrong in each run against six where it never is: the share is 1 and
 * 0, and only the resolution of a share, here of one run, keeps p from 0: variance 1/12, t = 1 / sqrt(2/72)
 * = 6.
 */
static void wrong_steps_separate_too(void **state) {
    struct invented *invented = invented_new(21, 12, STEPS, 1);
    struct record_list lists[2] = {{6, invented->runs.runs}, {6, invented->runs.runs + 6}};
    struct separations *found = NULL;
    struct problem problem = {0};
    (void)state;
    for (int run = 0; run < 12; run++) {
        for (int step = 0; step < STEPS; step++) { /* the seventh console has a fault of its own */
            ((struct step_result *)&invented->runs.runs[run]->steps[step])->verdict = VERDICT_PASS;
        }
        if (run < 6) {
            break_step(&lists[0], run, 8, 1);
        }
    }
    assert_true(differ_separate(&lists[0], &lists[1], NULL, 0, &found, &problem));
    assert_true(found->list[0].wrong && found->list[0].step == 8);
    assert_true(found->list[0].first == 1 && found->list[0].second == 0 && found->list[0].larger == 1);
    assert_true(fabs(found->list[0].t - 6) < 1e-9);
    separations_free(found);
    invented_free(invented);
}

/* One console a side: nothing can be tested, and that is what it says. */
/* Consoles whose runs have the same values in another order have one mean, whatever adding rounds. */
static void equal_means_are_ties(void **state) {
    static const double values[2][3] = {{0.001, 0.002, 0.007}, {0.007, 0.002, 0.001}};
    struct invented *invented = invented_new(22, 4, STEPS, 3);
    struct record_list lists[2] = {{6, invented->runs.runs}, {6, invented->runs.runs + 6}};
    struct separations *found = NULL;
    struct problem problem = {0};
    bool seen = false;
    (void)state;
    assert_true((0.001 + 0.002) + 0.007 != (0.007 + 0.002) + 0.001); /* it rounds */
    for (int run = 0; run < 12; run++) {
        step_of(&invented->runs, run, 8)->offset = values[run / 6][run % 3];
    }
    assert_true(differ_separate(&lists[0], &lists[1], NULL, 0, &found, &problem));
    for (size_t i = 0; i < found->count; i++) {
        if (found->list[i].step == 8 && found->list[i].quantity == QUANTITY_OFFSET) {
            seen = true;
            assert_true(found->list[i].larger == 0.5);
        }
    }
    assert_true(seen);
    separations_free(found);
    invented_free(invented);
}

static void one_console_a_side_is_not_tested(void **state) {
    struct invented *invented = invented_new(22, 2, 10, 5);
    struct record_list lists[2] = {{5, invented->runs.runs}, {5, invented->runs.runs + 5}};
    struct separations *found = NULL;
    struct problem problem = {0};
    (void)state;
    assert_true(differ_separate(&lists[0], &lists[1], NULL, 0, &found, &problem));
    assert_int_equal(found->count, 40);
    for (size_t i = 0; i < found->count; i++) {
        assert_true(isnan(found->list[i].p) && isnan(found->list[i].adjusted));
        assert_int_equal(found->list[i].first_consoles, 1);
    }
    separations_free(found);
    invented_free(invented);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_differs_where_nothing_does),
                                       cmocka_unit_test(new_cells_are_named),
                                       cmocka_unit_test(gone_cells_are_no_regression),
                                       cmocka_unit_test(only_sure_cells_are_wrong),
                                       cmocka_unit_test(shares_differ_only_where_their_intervals_do),
                                       cmocka_unit_test(findings_are_told_by_kind_register_and_bit),
                                       cmocka_unit_test(what_could_not_be_judged_is_a_doubt),
                                       cmocka_unit_test(a_drift_is_certain_and_large),
                                       cmocka_unit_test(a_large_drift_may_be_chance),
                                       cmocka_unit_test(what_many_tests_bring_by_chance_is_no_drift),
                                       cmocka_unit_test(offsets_and_levels_may_not_move),
                                       cmocka_unit_test(a_step_in_error_has_no_margin),
                                       cmocka_unit_test(few_runs_have_no_drift),
                                       cmocka_unit_test(unknown_quantities_are_not_tested),
                                       cmocka_unit_test(one_fault_in_other_steps_is_known),
                                       cmocka_unit_test(warming_up_is_said),
                                       cmocka_unit_test(the_benchs_drift_is_not_the_consoles),
                                       cmocka_unit_test(by_eye_is_no_other_noise),
                                       cmocka_unit_test(plans_are_not_mixed),
                                       cmocka_unit_test(series_drift_like_steps),
                                       cmocka_unit_test(an_alternative_to_what_was_there_is_known),
                                       cmocka_unit_test(a_turn_of_all_hues_is_perhaps_the_benchs),
                                       cmocka_unit_test(the_moved_step_separates_best),
                                       cmocka_unit_test(wrong_steps_separate_too),
                                       cmocka_unit_test(equal_means_are_ties),
                                       cmocka_unit_test(one_console_a_side_is_not_tested)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
