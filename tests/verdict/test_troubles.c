/* Trouble of the capture chain: named from what frames and buffers told, at stated bounds, and never a fail.
 */
#include "bits.h"

#include "verdict/advice.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

/* A good chain, woven, all of 10,000 fields seen. */
static const struct frames_facts good_facts = {.layout = LAYOUT_WOVEN,
                                               .stale = -1,
                                               .frames = 5000,
                                               .read = 10000,
                                               .fresh = 10000,
                                               .noise_db = 40,
                                               .white_low = 233,
                                               .white_high = 236,
                                               .black_low = 15,
                                               .black_high = 17};
static const struct video_counts good_counts = {.delivered = 5000};

static const struct result *result_with(struct judge *judge, const struct frames_facts *facts,
                                        const struct video_counts *counts, bool whole) {
    static const struct fault none;
    unsigned counter = 1;
    if (whole) {
        draw_round(judge, plan, &none, 3, &counter);
    }
    judge_capture(judge, facts, counts);
    return judge_result(judge);
}

/* kind: FINDING_KINDS for no trouble. */
static void expect(const struct frames_facts *facts, const struct video_counts *counts,
                   enum finding_kind kind) {
    for (int whole = 0; whole < 2; whole++) {
        struct judge *judge = judge_new(plan, DRAW_HASH);
        const struct result *result = result_with(judge, facts, counts, whole);
        size_t wanted = kind == FINDING_KINDS ? 0 : 1;
        if (result->trouble_count != wanted || (wanted == 1 && result->troubles[0].kind != kind)) {
            fail_msg("%zu troubles, first %s, wanted %s", result->trouble_count,
                     result->trouble_count > 0 ? finding_name(result->troubles[0].kind) : "-",
                     wanted == 1 ? finding_name(kind) : "none");
        }
        assert_int_equal(result->verdict, whole ? VERDICT_PASS : VERDICT_INCONCLUSIVE);
        /* Beside a pass nothing is found; where there is no answer, trouble may be why, after what was seen.
         */
        assert_int_equal(result->finding_count, whole ? 0 : 1 + wanted);
        if (wanted == 1) {
            assert_true(strlen(result->troubles[0].text) > 20 && strlen(result->troubles[0].next) > 40);
        }
        if (!whole && wanted == 1) {
            assert_int_equal(result->findings[0].kind, FINDING_NO_VIDEO);
            assert_int_equal(result->findings[1].kind, kind);
        }
        judge_free(judge);
    }
}

static void test_none(void **state) {
    (void)state;
    expect(&good_facts, &good_counts, FINDING_KINDS);
}

/* Each on both sides of its bound: 1 % of fields or buffers (of lost ones with those that came), 5 % blended,
 * 10 % clipped. */
static void test_counts(void **state) {
    (void)state;
    struct frames_facts facts = good_facts;
    struct video_counts counts = good_counts;
    static const struct {
        size_t offset;
        uint64_t least, most; /* trouble; none */
        enum finding_kind kind;
    } rows[] = {
        {offsetof(struct frames_facts, lost), 102, 101, FINDING_FIELDS_LOST},
        {offsetof(struct frames_facts, relocks), 1, 0, FINDING_FIELDS_LOST},
        {offsetof(struct frames_facts, swapped), 101, 100, FINDING_FIELDS_SWAPPED},
        {offsetof(struct frames_facts, blended), 501, 500, FINDING_FIELDS_BLENDED},
        {offsetof(struct frames_facts, half_black), 51, 50, FINDING_HALF_BLACK},
        {offsetof(struct frames_facts, clipped), 1001, 1000, FINDING_CLIPPING},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        facts = good_facts;
        uint64_t *count = (uint64_t *)((char *)&facts + rows[i].offset);
        *count = rows[i].least;
        expect(&facts, &counts, rows[i].kind);
        *count = rows[i].most;
        expect(&facts, &counts, FINDING_KINDS);
    }
    facts = good_facts;
    counts.gone = 1;
    expect(&facts, &counts, FINDING_DEVICE_LOST);
    counts = (struct video_counts){.delivered = 5000, .broken = 21, .empty = 30};
    expect(&facts, &counts, FINDING_BROKEN_BUFFERS);
    counts = (struct video_counts){.delivered = 5000, .broken = 20, .empty = 30};
    expect(&facts, &counts, FINDING_KINDS);
    counts = (struct video_counts){.delivered = 5000, .overrun = 51};
    expect(&facts, &counts, FINDING_FIELDS_LOST);
    counts.overrun = 50;
    expect(&facts, &counts, FINDING_KINDS);
}

/* In a short recording two of a kind are more than a share, and still no trouble. */
static void test_few(void **state) {
    (void)state;
    struct frames_facts facts = good_facts;
    struct video_counts counts = {.delivered = 50};
    facts.frames = 50;
    facts.read = facts.fresh = 100;
    facts.lost = 2;
    expect(&facts, &counts, FINDING_KINDS);
    facts.lost = 3;
    expect(&facts, &counts, FINDING_FIELDS_LOST);
    facts.lost = 0;
    counts.broken = 2;
    expect(&facts, &counts, FINDING_KINDS);
    counts.broken = 3;
    expect(&facts, &counts, FINDING_BROKEN_BUFFERS);
}

/* The slip of a console's rate against a grabber's is no trouble: PAL loses a field in 359 [A]. Nor is a
 * source that shows one field of every two. */
static void test_what_is_usual(void **state) {
    (void)state;
    struct frames_facts facts = good_facts;
    facts.lost = 10000 / 359;
    expect(&facts, &good_counts, FINDING_KINDS);
    facts.lost = 10000;
    expect(&facts, &good_counts, FINDING_FIELDS_LOST);
    facts.stale = 1;
    expect(&facts, &good_counts, FINDING_KINDS);
    facts.lost = 10300;
    expect(&facts, &good_counts, FINDING_FIELDS_LOST);
    facts = good_facts;
    facts.layout = LAYOUT_SINGLE;
    facts.lost = 10000;
    expect(&facts, &good_counts, FINDING_KINDS);
}

static void test_levels(void **state) {
    (void)state;
    struct frames_facts facts = good_facts;
    facts.white_low = 212.5; /* 23.5 of 221; a tenth is 22.1, and what noise does 0.6 */
    expect(&facts, &good_counts, FINDING_GAIN_HUNTING);
    facts.white_low = 214.5;
    expect(&facts, &good_counts, FINDING_KINDS);
    facts.black_high = 38.5;
    expect(&facts, &good_counts, FINDING_GAIN_HUNTING);
    facts = good_facts;
    facts.noise_db = 21.9;
    expect(&facts, &good_counts, FINDING_NOISY);
    facts.noise_db = 22.1;
    expect(&facts, &good_counts, FINDING_KINDS);
    /* What noise, and a comb filter, do to the levels that are measured is no hunting. Levels of the virtual
     * grabber, at 8 dB, and with the kind `comb` on a board's idle picture. */
    facts = (struct frames_facts){.layout = LAYOUT_WOVEN,
                                  .stale = -1,
                                  .frames = 5000,
                                  .read = 10000,
                                  .fresh = 10000,
                                  .noise_db = 5.8,
                                  .white_low = 205,
                                  .white_high = 216,
                                  .black_low = 26,
                                  .black_high = 51};
    expect(&facts, &good_counts, FINDING_NOISY);
    facts = good_facts;
    facts.mixing = 0.27;
    facts.white_low = 212;
    expect(&facts, &good_counts, FINDING_COMB_FILTER);
    facts = good_facts;
    facts.noise_db = 0; /* not known */
    facts.mixing = 0.119;
    expect(&facts, &good_counts, FINDING_KINDS);
    facts.mixing = 0.121;
    expect(&facts, &good_counts, FINDING_COMB_FILTER);
    facts.layout = LAYOUT_BLENDED; /* there lines are mixed by the deinterlacer */
    expect(&facts, &good_counts, FINDING_KINDS);
}

/* All at once: every trouble is told, and what is wrong with the console first. */
static void test_beside_a_fail(void **state) {
    (void)state;
    unsigned counter = 0;
    struct fault low = {.low = 1u << 8};
    struct frames_facts facts = good_facts;
    facts.lost = facts.swapped = facts.blended = facts.half_black = facts.clipped = 9000;
    facts.noise_db = 10;
    facts.mixing = 0.3;
    facts.white_low = 100;
    struct video_counts counts = {.delivered = 100, .broken = 50, .gone = 2};
    struct judge *judge = judge_new(plan, DRAW_HASH);
    draw_round(judge, plan, &low, 3, &counter);
    judge_capture(judge, &facts, &counts);
    const struct result *result = judge_result(judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    assert_int_equal(result->finding_count, 1);
    assert_int_equal(result->findings[0].kind, FINDING_BIT_STUCK_LOW);
    assert_int_equal(result->trouble_count, 10);
    for (size_t i = 0; i < result->trouble_count; i++) {
        assert_true(result->troubles[i].kind >= FINDING_DEVICE_LOST);
        assert_true(strlen(result->troubles[i].text) < sizeof result->troubles[i].text - 1);
    }
    judge_free(judge);
}

/* Advice on the capture is the kind's own: none falls back on the console's. */
static void test_advice(void **state) {
    (void)state;
    for (int kind = FINDING_DEVICE_LOST; kind <= FINDING_NO_COLOUR; kind++) {
        const char *next = advice_next((enum finding_kind)kind);
        assert_null(strstr(next, "video chip"));
        assert_true(strlen(next) > 40 && strlen(next) < sizeof((struct finding *)0)->next);
        for (int other = FINDING_DEVICE_LOST; other < kind; other++) {
            assert_string_not_equal(next, advice_next((enum finding_kind)other));
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_none),   cmocka_unit_test(test_counts),
        cmocka_unit_test(test_few),    cmocka_unit_test(test_what_is_usual),
        cmocka_unit_test(test_levels), cmocka_unit_test(test_beside_a_fail),
        cmocka_unit_test(test_advice),
    };
    return cmocka_run_group_tests(tests, open_plan, close_plan);
}
