/* What is counted, what is not, and what a run without an answer says. */
#include "bits.h"
#include "verdict/advice.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static void assert_near(double value, double wanted, double within) {
    if (fabs(value - wanted) > within) {
        fail_msg("%.9g, wanted %.9g within %.3g", value, wanted, within);
    }
}
static const struct fault none;

static enum judged feed(struct judge *judge, const struct fault *fault, uint32_t step, unsigned counter) {
    struct reading reading;
    draw_step(fault, plan, step, counter, &reading);
    return judge_reading(judge, &reading, 2);
}

static const struct finding *only_finding(const struct result *result, enum finding_kind kind) {
    if (result->finding_count != 1 || result->findings[0].kind != kind) {
        draw_findings(result);
        fail_msg("%zu findings, wanted only %s", result->finding_count, finding_name(kind));
    }
    return &result->findings[0];
}

static void test_pass(void **state) {
    (void)state;
    unsigned counter = 60;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    assert_int_equal(judge_owed(judge), plan->step_count);
    assert_int_equal(judge_last_step(judge), -1);
    draw_round(judge, plan, &none, 3, &counter);
    assert_true(judge_complete(judge));
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_PASS);
    assert_int_equal(result->finding_count, 0);
    assert_int_equal(result->fields_seen, 3 * plan->step_count);
    assert_int_equal(result->fields_judged, 2 * plan->step_count);
    assert_near(result->margin, 0.9, 1e-9);
    assert_near(result->raster.left, 60, 1e-9);
    assert_near(result->raster.clock_width, 3.7714, 1e-9);
    assert_int_equal(result->frame_lines, 2);
    judge_free(judge);
}

static void test_settle_and_double(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    assert_int_equal(feed(judge, &none, 4, 1), JUDGED_NOT); /* settles */
    assert_int_equal(feed(judge, &none, 4, 1), JUDGED_NOT); /* doubled */
    assert_int_equal(feed(judge, &none, 4, 2), JUDGED_PASS);
    assert_int_equal(feed(judge, &none, 4, 2), JUDGED_NOT);
    assert_int_equal(feed(judge, &none, 5, 3), JUDGED_NOT);
    assert_int_equal(feed(judge, &none, 4, 1), JUDGED_NOT); /* an old one, swapped */
    assert_int_equal(feed(judge, &none, 5, 4), JUDGED_PASS);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->steps[4].fields, 1);
    assert_int_equal(result->steps[4].verdict, VERDICT_INCONCLUSIVE);
    judge_free(judge);
}

/* Every field twice, every fifth lost, neighbours swapped: still a pass, and no field counted twice. */
static void test_rough_capture(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    const unsigned hold = 8;
    unsigned fields = (unsigned)plan->step_count * hold;
    for (unsigned i = 0; i + 1 < fields; i++) {
        unsigned n = i ^ 1;
        if (n % 5 != 0) {
            feed(judge, &none, n / hold, n);
            feed(judge, &none, n / hold, n);
        }
    }
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_PASS);
    for (size_t i = 0; i < result->step_count; i++) {
        assert_true(result->steps[i].fields >= JUDGE_GOOD_FIELDS && result->steps[i].fields < (int)hold);
    }
    judge_free(judge);
}

/* A grabber that loses every other field, and a step shown for long: counters come round after 32 fields. */
static void test_half_rate(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    for (unsigned n = 0; n < 400; n += 2) {
        assert_int_equal(feed(judge, &none, 0, n), n == 0 ? JUDGED_NOT : JUDGED_PASS);
    }
    judge_free(judge);
}

static void test_flaky(void **state) {
    (void)state;
    struct fault low = {.low = 1u << 8}; /* PF1 D3 */
    for (uint32_t seed = 1; seed <= 20; seed++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        uint32_t random = seed * 2654435761u;
        int wrong = 0, shown = 0;
        for (unsigned n = 0; n < plan->step_count * 6; n++) {
            random = random * 1664525u + 1013904223u;
            bool fails = random >> 24 < 51; /* one in five */
            enum judged judged = feed(judge, fails ? &low : &none, n / 6, n);
            uint8_t registers[REG_COUNT];
            step_registers(&plan->steps[n / 6], registers);
            shown += judged != JUDGED_NOT && (registers[REG_PF1] & 0x08) != 0;
            wrong += judged == JUDGED_FAIL;
        }
        const struct result *result = judge_result(judge);
        assert_int_equal(result->verdict, VERDICT_FAIL);
        const struct finding *finding = only_finding(result, FINDING_INTERMITTENT);
        assert_int_equal(finding->reg, REG_PF1);
        assert_int_equal(finding->bit, 3);
        assert_near(finding->rate, (double)wrong / shown, 1e-9);
        struct interval interval = wilson_interval(wrong, shown);
        assert_near(finding->rate_low, interval.low, 1e-9);
        assert_near(finding->rate_high, interval.high, 1e-9);
        assert_true(finding->rate_low < finding->rate && finding->rate < finding->rate_high);
        assert_non_null(strstr(finding->text, "PF1 D3 stuck low, but not always"));
        judge_free(judge);
    }
}

/* A bit that is stuck beside one that comes and goes. */
static void test_stuck_and_flaky(void **state) {
    (void)state;
    for (uint32_t seed = 1; seed <= 20; seed++) {
        int stuck = (int)(seed * 7 % 20), flaky = (int)((seed * 7 + 5 + seed % 11) % 20);
        struct fault rest = {0}, both;
        *(seed & 1 ? &rest.high : &rest.low) |= 1u << stuck;
        both = rest;
        *(seed & 2 ? &both.high : &both.low) |= 1u << flaky;
        struct judge *judge = judge_new(plan, DRAW_HASH);
        uint32_t random = seed * 2654435761u;
        for (unsigned n = 0; stuck != flaky && n < plan->step_count * 6; n++) {
            random = random * 1664525u + 1013904223u;
            feed(judge, random >> 24 < 77 ? &both : &rest, n / 6, n);
        }
        const struct result *result = judge_result(judge);
        if (stuck != flaky) {
            if (result->finding_count != 2 || result->findings[1].kind != FINDING_INTERMITTENT) {
                draw_findings(result);
                fail_msg("seed %u, positions %d and %d: %zu findings", seed, stuck, flaky,
                         result->finding_count);
            }
            assert_int_equal(result->findings[0].kind,
                             seed & 1 ? FINDING_BIT_STUCK_HIGH : FINDING_BIT_STUCK_LOW);
            assert_int_equal(result->findings[0].reg, expect_serial[stuck].reg);
            assert_int_equal(result->findings[0].bit, expect_serial[stuck].bit);
            assert_int_equal(result->findings[1].reg, expect_serial[flaky].reg);
            assert_int_equal(result->findings[1].bit, expect_serial[flaky].bit);
            assert_near(result->findings[1].rate, 77 / 256.0, 0.12); /* four deviations of some 240 fields */
        }
        judge_free(judge);
    }
}

static uint32_t step_lighting(enum reg reg, uint8_t value) {
    uint8_t registers[REG_COUNT];
    for (uint32_t step = 0; step < plan->step_count; step++) {
        step_registers(&plan->steps[step], registers);
        if (registers[reg] == value) {
            return step;
        }
    }
    fail_msg("no step of the plan holds %s $%02X", reg_name(reg), value);
    return 0;
}

/* One wrong field of many is a failing console, and said to be rare; the likeliest cause comes first. */
static void test_single_wrong_field(void **state) {
    (void)state;
    struct fault low = {.low = 1u << 8};
    uint32_t step = step_lighting(REG_PF1, 0x08);
    struct judge *judge = judge_new(plan, DRAW_HASH);
    for (unsigned n = 0; n < plan->step_count * 6; n++) {
        feed(judge, n == step * 6 + 3 ? &low : &none, n / 6, n);
    }
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->steps[step].failed, 1);
    assert_int_equal(result->findings[0].kind, FINDING_INTERMITTENT);
    assert_int_equal(result->findings[0].reg, REG_PF1);
    assert_int_equal(result->findings[0].bit, 3);
    assert_true(result->findings[0].rate < 0.02);
    judge_free(judge);
}

/* One line of one field that no cause can have drawn: no console does that, so it is no fail; but that field
 * is no evidence for a pass either. */
static void test_patchy(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    for (unsigned n = 0; n < plan->step_count * 3; n++) {
        struct reading reading;
        draw_step(&none, plan, n / 3, n, &reading);
        if (n == 10) {
            reading.lit[77] ^= 1u << 5;
        }
        judge_reading(judge, &reading, 2);
    }
    const struct result *result = judge_result(judge);
    assert_int_equal(result->steps[3].verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(result->steps[3].fields, 1);
    assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(result->finding_count, 1);
    judge_free(judge);
}

/* A stuck bit in a field that is misread all over: that field says nothing; with a few torn lines it does. */
static void test_scattered(void **state) {
    (void)state;
    struct fault low = {.low = 1u << 8};
    uint32_t step = step_lighting(REG_PF1, 0x08);
    for (int every = 3; every <= 60; every += 57) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        feed(judge, &none, step, 0);
        struct reading reading;
        draw_step(&low, plan, step, 1, &reading);
        for (int line = 0; line < reading.lines; line += every) {
            reading.lit[line] ^= UINT64_C(1) << line * 7 % 40 | UINT64_C(1) << line * 11 % 40;
        }
        assert_int_equal(judge_reading(judge, &reading, 2), every == 3 ? JUDGED_NOT : JUDGED_FAIL);
        judge_free(judge);
    }
}

/* A bit that is low on most lines, and not on one in five, is not stuck; what torn lines do to one in twenty
 * takes nothing away from it. */
static void test_wrong_on_most_lines(void **state) {
    (void)state;
    struct fault low = {.low = 1u << 8};
    for (int every = 5; every <= 20; every += 15) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        for (unsigned n = 0; n < plan->step_count * 3; n++) {
            struct reading reading, good;
            draw_step(&low, plan, n / 3, n, &reading);
            draw_step(&none, plan, n / 3, n, &good);
            for (int line = 0; line < reading.lines; line += every) {
                reading.lit[line] = good.lit[line];
            }
            judge_reading(judge, &reading, 2);
        }
        const struct result *result = judge_result(judge);
        assert_int_equal(result->verdict, VERDICT_FAIL);
        only_finding(result, every == 5 ? FINDING_UNEXPLAINED : FINDING_BIT_STUCK_LOW);
        judge_free(judge);
    }
}

/* A field whose edges lie most of a clock beside the raster is a torn one, at the start of a run too, where
 * there is little to hold it against; when all of them do, the playfield is late. */
static void test_beside_the_raster(void **state) {
    (void)state;
    for (int all = 0; all < 2; all++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        int failed = 0;
        for (unsigned n = 0; n < plan->step_count * 4; n++) {
            struct reading reading;
            draw_step(&none, plan, n / 4, n, &reading);
            reading.offset += all || (n < 12 && n % 4 == 1) || n % 40 == 30 ? 0.8 : 0;
            failed += judge_reading(judge, &reading, 2) == JUDGED_FAIL;
        }
        assert_int_equal(judge_result(judge)->verdict, all ? VERDICT_FAIL : VERDICT_PASS);
        assert_true(all ? failed > 200 : failed == 0);
        judge_free(judge);
    }
}

/* Frames of two fields each, one over the change of steps: the mixed field after it stands for its step. */
static void test_blended(void **state) {
    (void)state;
    for (int gap = 0; gap < 2; gap++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        struct reading reading;
        feed(judge, &none, 3, 8);
        if (gap) {
            draw_step(&none, plan, 3, 9, &reading);
            reading.state = FIELD_BAD_SLATE;
            judge_reading(judge, &reading, 1);
        }
        draw_step(&none, plan, 4, 10, &reading);
        reading.blended = true;
        assert_int_equal(judge_reading(judge, &reading, 1), gap ? JUDGED_PASS : JUDGED_NOT);
        judge_free(judge);
    }
}

/* A field that lacks the picture's last line says nothing of it, and a pass speaks for every line. */
static void test_cut_off_below(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    for (unsigned n = 0; n < 8; n++) {
        struct reading reading;
        draw_step(&none, plan, 0, n, &reading);
        reading.lines -= n % 2 == 1;
        assert_int_equal(judge_reading(judge, &reading, 2), n % 2 == 1 || n == 0 ? JUDGED_NOT : JUDGED_PASS);
    }
    judge_free(judge);
}

static void test_unclear(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    for (unsigned n = 0; n < 200; n++) {
        struct reading reading;
        draw_step(&none, plan, n / 4 % (unsigned)plan->step_count, n, &reading);
        reading.unclear[3] = 1;
        assert_int_equal(judge_reading(judge, &reading, 2), JUDGED_NOT);
    }
    const struct result *result = judge_result(judge);
    assert_int_equal(verdict_exit(result->verdict), 4);
    assert_int_equal(result->fields_judged, 0);
    assert_int_equal(result->fields_unreadable, 150);
    assert_non_null(strstr(only_finding(result, FINDING_UNEXPLAINED)->text, "between black and white"));
    judge_free(judge);
}

/* Before it is known how far the lines lean, what looks wrong is not the console's. */
static void test_unsettled(void **state) {
    (void)state;
    for (int unsettled = 0; unsettled < 2; unsettled++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        struct reading reading;
        for (unsigned n = 0; n < 3; n++) {
            draw_step(&none, plan, 4, n, &reading);
            for (int line = 0; line < reading.lines && n == 2; line++) {
                reading.lit[line] ^= 1;
            }
            reading.unsettled = unsettled == 1;
            assert_int_equal(judge_reading(judge, &reading, 2), n == 0           ? JUDGED_NOT
                                                                : n == 1         ? JUDGED_PASS
                                                                : unsettled == 1 ? JUDGED_NOT
                                                                                 : JUDGED_FAIL);
        }
        judge_free(judge);
    }
}

static void feed_state(struct judge *judge, enum field_state field_state, uint16_t hash, int count) {
    for (int i = 0; i < count; i++) {
        struct reading reading;
        draw_step(&none, plan, 0, (unsigned)i, &reading);
        reading.state = field_state;
        reading.slate.hash = hash;
        assert_int_equal(judge_reading(judge, &reading, 2), JUDGED_NOT);
    }
}

static void expect_blind(enum field_state field_state, uint16_t hash, enum finding_kind kind,
                         const char *words) {
    struct judge *judge = judge_new(plan, DRAW_HASH);
    feed_state(judge, field_state, hash, 100);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
    assert_int_equal(result->fields_unreadable, 100);
    assert_false(result->has_raster);
    const struct finding *finding = only_finding(result, kind);
    if (strstr(finding->text, words) == NULL) {
        fail_msg("\"%s\" lacks \"%s\"", finding->text, words);
    }
    judge_free(judge);
}

static void test_blind(void **state) {
    (void)state;
    expect_blind(FIELD_NO_SIGNAL, DRAW_HASH, FINDING_NO_VIDEO, "flat");
    expect_blind(FIELD_NO_SLATE, DRAW_HASH, FINDING_NO_SLATE, "100 without a slate");
    expect_blind(FIELD_BAD_SLATE, DRAW_HASH, FINDING_NO_SLATE, "check disagrees");
    expect_blind(FIELD_READ, 0xBEEF, FINDING_NO_SLATE, "hash $BEEF, not $5A17");
    expect_blind(FIELD_READ, SLATE_HASH_IDLE, FINDING_NO_SLATE, "nothing loaded");
}

static void test_nothing_at_all(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
    only_finding(result, FINDING_NO_VIDEO);
    judge_free(judge);
}

/* A frame of two fields over and over. */
static void test_frozen_from_start(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    for (unsigned n = 0; n < 40; n++) {
        feed(judge, &none, 2, n & 1);
    }
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
    assert_non_null(strstr(only_finding(result, FINDING_FROZEN_VIDEO)->text, "since step 2"));
    judge_free(judge);
}

/* A failing console whose video freezes too: both are told. */
static void test_fails_then_freezes(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    struct fault high = {.high = 1u << 13}; /* PF2 D1 */
    for (unsigned n = 0; n < 120; n++) {
        feed(judge, &high, n / 4, n);
    }
    for (unsigned n = 0; n < 64; n++) {
        feed(judge, &high, 29, 119);
    }
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->finding_count, 2);
    assert_int_equal(result->findings[0].kind, FINDING_BIT_STUCK_HIGH);
    assert_int_equal(result->findings[1].kind, FINDING_FROZEN_VIDEO);
    judge_free(judge);
}

static void test_lost_midway(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    for (unsigned n = 0; n < 40; n++) {
        feed(judge, &none, n / 4, n);
    }
    const struct finding *brief = only_finding(judge_result(judge), FINDING_NO_SLATE);
    assert_non_null(strstr(brief->text, "lack two good fields"));
    assert_non_null(strstr(brief->next, "Record longer")); /* nothing says that the console were at fault */
    assert_null(strstr(brief->next, "cartridge"));
    feed_state(judge, FIELD_NO_SLATE, 0, 40);
    assert_non_null(strstr(only_finding(judge_result(judge), FINDING_NO_SLATE)->text, "any more"));
    feed_state(judge, FIELD_NO_SIGNAL, 0, 40);
    assert_non_null(strstr(only_finding(judge_result(judge), FINDING_NO_VIDEO)->text, "after step 9"));
    judge_free(judge);
}

static void test_beyond_plan(void **state) {
    (void)state;
    struct judge *judge = judge_new(plan, DRAW_HASH);
    struct reading reading;
    draw_step(&none, plan, 0, 0, &reading);
    reading.slate.value = (uint32_t)plan->step_count;
    assert_int_equal(judge_reading(judge, &reading, 2), JUDGED_NOT);
    assert_int_equal(judge_result(judge)->fields_unreadable, 1);
    assert_non_null(strstr(judge_result(judge)->findings[0].text, "beyond"));
    judge_free(judge);
}

/* Wilson's score interval without continuity correction: the four worked examples of Newcombe, Statistics in
 * Medicine 17 (1998), 857-872, table I, method 3, as they are quoted; and 0 of n is 0 to z^2/(n + z^2) [A].
 */
static void test_wilson(void **state) {
    (void)state;
    static const struct {
        long hits, tries;
        double low, high;
    } published[] = {
        {81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}};
    for (size_t i = 0; i < sizeof published / sizeof published[0]; i++) {
        struct interval printed = wilson_interval(published[i].hits, published[i].tries);
        assert_near(printed.low, published[i].low, 0.00005);
        assert_near(printed.high, published[i].high, 0.00005);
    }
    struct interval interval;
    interval = wilson_interval(0, 10);
    assert_near(interval.low, 0, 1e-12);
    assert_near(interval.high, 3.8414588 / 13.8414588, 1e-6);
    interval = wilson_interval(10, 10);
    assert_near(interval.high, 1, 1e-12);
}

/* What a person is to try, least invasive first: hands off the chips until a good console has told where the
 * fault lies. The order is that of the design: reseat, clean, another cable, another supply, a good console.
 */
static void test_next_is_least_invasive_first(void **state) {
    (void)state;
    static const char *const steps[][3] = {{"Run again", "Keep the failing", "defaults"},
                                           {"reseat", "seat the board", NULL},
                                           {"clean", NULL, NULL},
                                           {"another cable", "another video cable", "Another video cable"},
                                           {"another supply", "Another supply", NULL},
                                           {"known to be good", NULL, NULL},
                                           {"socket", "solder", "trimmer"}};
    for (int kind = 0; kind < FINDING_KINDS; kind++) {
        const char *next = advice_next((enum finding_kind)kind), *before = next;
        for (size_t step = 0; step < sizeof steps / sizeof steps[0]; step++) {
            const char *at = NULL;
            for (size_t way = 0; way < 3 && steps[step][way] != NULL; way++) {
                const char *found = strstr(next, steps[step][way]);
                at = found != NULL && (at == NULL || found < at) ? found : at;
            }
            if (at != NULL && at < before) {
                fail_msg("%s: '%s' comes too late: %s", finding_name((enum finding_kind)kind),
                         steps[step - 1][0], next);
            }
            before = at != NULL ? at : before;
        }
        bool opens = strstr(next, "socket") != NULL || strstr(next, "solder") != NULL ||
                     strstr(next, "trimmer") != NULL;
        assert_true(!opens || strstr(next, "service manual") != NULL);
    }
}

static void test_names(void **state) {
    (void)state;
    assert_string_equal(finding_name(FINDING_UNCONNECTED_BITS_DRAWN), "unconnected_bits_drawn");
    assert_string_equal(verdict_name(VERDICT_INCONCLUSIVE), "inconclusive");
    assert_int_equal(verdict_exit(VERDICT_PASS), 0);
    assert_int_equal(verdict_exit(VERDICT_FAIL), 1);
    for (int kind = 0; kind < FINDING_KINDS; kind++) {
        assert_non_null(finding_name((enum finding_kind)kind));
        assert_true(strlen(advice_next((enum finding_kind)kind)) < sizeof((struct finding *)0)->next);
    }
}

/* Cells that a strong echo may have made wrong. */
static void test_strong_echo(void **state) {
    (void)state;
    struct fault low = {.low = 1u << 8};
    uint32_t step = step_lighting(REG_PF1, 0x08);
    static const struct {
        double echo;
        bool clipped, judged;
    } cases[] = {{0.12, false, true}, {-0.24, false, false}, {0.02, true, true}, {0.08, true, false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        feed(judge, &none, step, 0);
        struct reading reading;
        draw_step(&low, plan, step, 1, &reading);
        reading.echo = cases[i].echo;
        reading.clips_white = cases[i].clipped;
        assert_int_equal(judge_reading(judge, &reading, 2), cases[i].judged ? JUDGED_FAIL : JUDGED_NOT);
        judge_free(judge);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pass),
        cmocka_unit_test(test_settle_and_double),
        cmocka_unit_test(test_rough_capture),
        cmocka_unit_test(test_half_rate),
        cmocka_unit_test(test_flaky),
        cmocka_unit_test(test_stuck_and_flaky),
        cmocka_unit_test(test_scattered),
        cmocka_unit_test(test_wrong_on_most_lines),
        cmocka_unit_test(test_beside_the_raster),
        cmocka_unit_test(test_blended),
        cmocka_unit_test(test_single_wrong_field),
        cmocka_unit_test(test_patchy),
        cmocka_unit_test(test_cut_off_below),
        cmocka_unit_test(test_strong_echo),
        cmocka_unit_test(test_unclear),
        cmocka_unit_test(test_unsettled),
        cmocka_unit_test(test_blind),
        cmocka_unit_test(test_nothing_at_all),
        cmocka_unit_test(test_frozen_from_start),
        cmocka_unit_test(test_fails_then_freezes),
        cmocka_unit_test(test_lost_midway),
        cmocka_unit_test(test_beyond_plan),
        cmocka_unit_test(test_wilson),
        cmocka_unit_test(test_next_is_least_invasive_first),
        cmocka_unit_test(test_names),
    };
    return cmocka_run_group_tests(tests, open_plan, close_plan);
}
