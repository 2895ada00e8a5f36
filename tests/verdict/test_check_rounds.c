/*
 * Rounds of plan cartridge as they are watched: lost and misread fields, starts anew, what comes and goes,
 * and video without the check. Items as plan/check.h says them, without console and image. Figures [A] are
 * arithmetic.
 */
#include "verdict/check_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Fields lost at random: more rounds, and no error. */
static void lost_fields_cost_rounds_only(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= 20; seed++) {
        struct check_stand stand;
        check_stand_open(&stand, WIRE_F4, true);
        stand.drop = 0.2;
        stand.random = seed * 977;
        int rounds = 0;
        while (!judge_complete(stand.judge) && rounds < 40) {
            check_stand_round(&stand);
            rounds++;
        }
        const struct result *result = judge_result(stand.judge);
        if (result->verdict != VERDICT_PASS) {
            fprintf(stderr, "seed %llu\n", (unsigned long long)seed);
            check_stand_print(result);
        }
        assert_int_equal(result->verdict, VERDICT_PASS);
        assert_true(rounds > 2 && rounds < 20);
        assert_true(result->check->rounds >= (uint32_t)rounds - 3 &&
                    result->check->rounds <= (uint32_t)rounds);
        check_stand_close(&stand);
    }
}

/* Every item of a round, misread once as bad, while the console counts no errors. */
static void one_misread_item_never_fails(void **state) {
    (void)state;
    struct check_item items[CHECK_ITEMS_MAX];
    struct check_stand probe;
    check_stand_open(&probe, WIRE_F8, true);
    const size_t count = check_items(&probe.plan->check, items);
    check_stand_close(&probe);
    for (size_t i = 0; i < count; i++) {
        struct check_stand stand;
        check_stand_open(&stand, WIRE_F8, true);
        check_stand_round(&stand);
        items[i].what ^= 0x15;
        check_stand_show(&stand, items[i]);
        check_stand_rounds(&stand, 2);
        const struct result *result = judge_result(stand.judge);
        if (result->verdict == VERDICT_FAIL) {
            fprintf(stderr, "item %zu, %s\n", i, check_kind_name(items[i].kind));
            check_stand_print(result);
        }
        assert_int_not_equal(result->verdict, VERDICT_FAIL);
        check_stand_close(&stand);
    }
}

/* Each error at another place, once, two of them in one round; the console counts them. */
static void a_contact_that_comes_and_goes(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_rounds(&stand, 5);
    check_stand_change(&stand, CHECK_PAGE, 9, 3);
    check_stand_change(&stand, CHECK_PAGE, 12, 3); /* the same round, which counts once */
    check_stand_round(&stand);
    stand.changes = 0;
    check_stand_rounds(&stand, 3);
    check_stand_change(&stand, CHECK_VECTORS, 1, 2);
    check_stand_round(&stand);
    stand.changes = 0;
    check_stand_rounds(&stand, 2);
    EXPECT(&stand, VERDICT_FAIL, FINDING_CART_CONTACT);
    const struct result *result = judge_result(stand.judge);
    const struct finding *finding = &result->findings[0];
    assert_true(finding->rate > 2.0 / 13 && finding->rate < 2.0 / 11); /* 2 of 12 rounds [A] */
    assert_true(finding->rate_low < finding->rate && finding->rate < finding->rate_high);
    assert_int_equal(result->check->error_count, 3);
    assert_int_equal(result->check->error[0].round, 6);
    assert_int_equal(result->check->error[2].round, 10);
    assert_int_equal(result->check->error[2].item.kind, CHECK_VECTORS);
    check_stand_close(&stand);
}

static void errors_beyond_the_list_are_counted(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_2K, false);
    for (int i = 0; i < CHECK_TOLD_MAX + 6; i++) {
        stand.changes = 0;
        check_stand_change(&stand, CHECK_PAGE, i % 8, 1 + i % 3);
        check_stand_round(&stand);
    }
    const struct result *result = judge_result(stand.judge);
    assert_int_equal(result->check->error_count, CHECK_TOLD_MAX);
    assert_int_equal(result->check->errors_left_out, 6);
    check_stand_close(&stand);
}

/* The watch begins in the midst of a round whose number is told later. */
static void rounds_are_the_consoles(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_2K, false);
    stand.rounds = 65533;
    check_stand_show(&stand, (struct check_item){CHECK_PAGE, 3, 0});
    check_stand_show(&stand, (struct check_item){CHECK_PAGE, 4, 1});
    check_stand_change(&stand, CHECK_PAGE, 4, 1);
    check_stand_show(&stand, (struct check_item){CHECK_ROUND, 65533 >> 8, 65533 & 0xFF});
    check_stand_rounds(&stand, 5);
    const struct result *result = judge_result(stand.judge);
    assert_int_equal(result->check->error[0].round, 65533);
    assert_int_equal(result->check->error[1].round, 65534);
    assert_int_equal(result->check->error[5].round, 65538);
    assert_int_equal(result->check->rounds, 65538);
    assert_int_equal(result->check->rounds_watched, 5);
    assert_int_equal(result->check->restarts, 0);
    check_stand_close(&stand);
}

static void a_console_that_begins_anew_does_not_pass(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F6, false);
    check_stand_rounds(&stand, 4);
    stand.rounds = 0;
    check_stand_rounds(&stand, 3);
    EXPECT(&stand, VERDICT_INCONCLUSIVE, FINDING_CART_CONTACT);
    assert_int_equal(judge_result(stand.judge)->check->restarts, 1);
    assert_int_equal(judge_result(stand.judge)->check->rounds_watched, 7);
    check_stand_close(&stand);
}

/* Astray in the midst of its first round, it begins anew before it has counted any. */
static void a_start_within_a_round_is_seen(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    for (int page = 0; page < 30; page++) {
        check_stand_show(&stand, (struct check_item){CHECK_PAGE, (uint8_t)page, 0});
    }
    stand.counter = 0;
    check_stand_rounds(&stand, 3);
    EXPECT(&stand, VERDICT_INCONCLUSIVE, FINDING_CART_CONTACT);
    assert_int_equal(judge_result(stand.judge)->check->restarts, 1);
    check_stand_close(&stand);
}

static void a_check_that_stands_still(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_round(&stand);
    for (int i = 0; i <= CHECK_STILL; i++) {
        check_stand_show(&stand, (struct check_item){CHECK_PAGE, 7, 0});
    }
    EXPECT(&stand, VERDICT_INCONCLUSIVE, FINDING_CART_DEAD);
    assert_non_null(strstr(judge_result(stand.judge)->findings[0].text, "page 7"));
    check_stand_close(&stand);
}

static void items_that_there_are_none_of(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    for (int i = 0; i < 400; i++) {
        check_stand_show(&stand, (struct check_item){CHECK_RAM, (uint8_t)i, (uint8_t)(i * 7)});
    }
    EXPECT(&stand, VERDICT_INCONCLUSIVE, FINDING_CART_DEAD);
    check_stand_close(&stand);
}

/* Another scheme's start, one from a bank that there is none of, and late work: none begins a round. */
static void starts_of_another(void **state) {
    (void)state;
    static const struct check_item others[] = {
        {CHECK_START, 0, WIRE_F6}, {CHECK_START, 1, WIRE_F8 | 8}, {CHECK_START, 2, WIRE_F8}};
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_rounds(&stand, 2);
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        assert_int_equal(check_stand_field(&stand, others[i]), JUDGED_NOT);
    }
    assert_int_equal(judge_result(stand.judge)->verdict, VERDICT_PASS);
    assert_int_equal(check_stand_field(&stand, (struct check_item){CHECK_START, CHECK_LATE, WIRE_F8}),
                     JUDGED_NOT);
    stand.errors = 1; /* the console counts it */
    check_stand_rounds(&stand, 3);
    EXPECT(&stand, VERDICT_FAIL, FINDING_CART_CONTACT);
    assert_non_null(strstr(judge_result(stand.judge)->findings[0].text, "longer than a field"));
    check_stand_close(&stand);
}

/* The same field again and again. */
static void a_picture_that_stands_still(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_round(&stand);
    for (int i = 0; i < 200; i++) {
        check_stand_field(&stand, (struct check_item){CHECK_PAGE, 7, 0});
    }
    EXPECT(&stand, VERDICT_INCONCLUSIVE, FINDING_FROZEN_VIDEO, FINDING_CART_DEAD);
    assert_true(judge_result(stand.judge)->findings[0].alternative);
    check_stand_close(&stand);
}

/* Slates are all that counts here: fields cut off below are read too. */
static void cropped_fields_count(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    stand.lines = 40;
    check_stand_rounds(&stand, 2);
    assert_int_equal(judge_result(stand.judge)->verdict, VERDICT_PASS);
    check_stand_close(&stand);
}

/* Bad twice, then good for long: it comes and goes, and is no hotspot that is wrong. */
static void what_went_away_is_not_steady(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_change(&stand, CHECK_HOTSPOT, 1, 1);
    check_stand_rounds(&stand, 2);
    stand.changes = 0;
    check_stand_rounds(&stand, 3);
    EXPECT(&stand, VERDICT_FAIL, FINDING_CART_CONTACT);
    check_stand_close(&stand);
}

/* Ten fields without a slate, and it is back at the beginning. */
static void a_check_that_never_comes_through(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    for (int start = 0; start < 4; start++) {
        const struct reading none = {.state = FIELD_NO_SIGNAL};
        for (int i = 0; i < 10; i++) {
            judge_reading(stand.judge, &none, 2);
        }
        for (int page = 0; page < 30; page++) {
            check_stand_show(&stand, (struct check_item){CHECK_PAGE, (uint8_t)page, 0});
        }
    }
    EXPECT(&stand, VERDICT_INCONCLUSIVE, FINDING_CART_DEAD);
    assert_int_equal(judge_result(stand.judge)->check->restarts, 3);
    check_stand_close(&stand);
}

/* The picture before a console is switched to this image may be of an older run of the same one. */
static void a_start_soon_after_the_watch_began_is_none(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_show(&stand, (struct check_item){CHECK_ROUND, 0, 77});
    check_stand_rounds(&stand, 2);
    const struct result *result = judge_result(stand.judge);
    assert_int_equal(result->verdict, VERDICT_PASS);
    assert_int_equal(result->check->restarts, 0);
    assert_int_equal(result->check->rounds, 2);
    check_stand_close(&stand);
}

/* Its count of errors alone: their fields were lost, or came before. */
static void errors_that_were_not_watched(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_4K, false);
    stand.errors = 3;
    check_stand_rounds(&stand, 2);
    EXPECT(&stand, VERDICT_FAIL, FINDING_CART_CONTACT);
    check_stand_close(&stand);
}

static struct reading blind(enum field_state state, uint16_t hash) {
    return (struct reading){.state = state, .slate = {.hash = hash}, .lines = 168};
}

static void no_slate_is_no_fail(void **state) {
    (void)state;
    static const enum field_state states[] = {FIELD_NO_SIGNAL, FIELD_NO_SLATE, FIELD_BAD_SLATE};
    static const enum finding_kind beside[] = {FINDING_NO_VIDEO, FINDING_NO_SLATE, FINDING_NO_SLATE};
    for (int i = 0; i < 3; i++) {
        struct check_stand stand;
        check_stand_open(&stand, WIRE_F8, false);
        const struct reading reading = blind(states[i], 0);
        for (int k = 0; k < 100; k++) {
            judge_reading(stand.judge, &reading, 2);
        }
        EXPECT(&stand, VERDICT_INCONCLUSIVE, FINDING_CART_DEAD, beside[i]);
        assert_true(judge_result(stand.judge)->findings[0].alternative);
        assert_true(judge_result(stand.judge)->findings[1].alternative);
        check_stand_close(&stand);
    }
}

static void another_image_is_named(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    for (int k = 0; k < 100; k++) {
        struct reading reading = blind(FIELD_READ, 0x1234);
        reading.slate.counter = (uint8_t)(k & 63);
        judge_reading(stand.judge, &reading, 2);
    }
    EXPECT(&stand, VERDICT_INCONCLUSIVE, FINDING_CART_OTHER_IMAGE);
    check_stand_close(&stand);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lost_fields_cost_rounds_only),
        cmocka_unit_test(one_misread_item_never_fails),
        cmocka_unit_test(a_contact_that_comes_and_goes),
        cmocka_unit_test(errors_beyond_the_list_are_counted),
        cmocka_unit_test(rounds_are_the_consoles),
        cmocka_unit_test(a_console_that_begins_anew_does_not_pass),
        cmocka_unit_test(a_start_within_a_round_is_seen),
        cmocka_unit_test(a_check_that_stands_still),
        cmocka_unit_test(a_picture_that_stands_still),
        cmocka_unit_test(cropped_fields_count),
        cmocka_unit_test(what_went_away_is_not_steady),
        cmocka_unit_test(items_that_there_are_none_of),
        cmocka_unit_test(starts_of_another),
        cmocka_unit_test(a_check_that_never_comes_through),
        cmocka_unit_test(a_start_soon_after_the_watch_began_is_none),
        cmocka_unit_test(errors_that_were_not_watched),
        cmocka_unit_test(no_slate_is_no_fail),
        cmocka_unit_test(another_image_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
