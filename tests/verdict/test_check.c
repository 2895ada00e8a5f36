/*
 * Plan cartridge judged from slates alone: items as plan/check.h says them, without console and image.
 * Figures [A] are arithmetic.
 */
#include "verdict/advice.h"
#include "verdict/check_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void show(const struct result *result) {
    fprintf(stderr, "verdict %s\n", verdict_name(result->verdict));
    for (size_t i = 0; i < result->finding_count; i++) {
        fprintf(stderr, "  %s: %s\n", finding_name(result->findings[i].kind), result->findings[i].text);
    }
}

/* The findings' kinds, and nothing else. */
static void expect_kinds(struct check_stand *stand, enum verdict verdict, int count,
                         const enum finding_kind *kinds) {
    const struct result *result = judge_result(stand->judge);
    bool good = result->verdict == verdict && (int)result->finding_count == count;
    for (int i = 0; i < count && good; i++) {
        good = result->findings[i].kind == kinds[i];
    }
    if (!good) {
        show(result);
    }
    assert_true(good);
    for (size_t i = 0; i < result->finding_count; i++) {
        assert_true(result->findings[i].text[0] != '\0' && result->findings[i].next[0] != '\0');
    }
}
#define EXPECT(stand, verdict, ...)                                                                          \
    expect_kinds(stand, verdict,                                                                             \
                 (int)(sizeof(enum finding_kind[]){__VA_ARGS__} / sizeof(enum finding_kind)),                \
                 (enum finding_kind[]){__VA_ARGS__})

static const struct {
    int scheme;
    bool ram;
} all[] = {{WIRE_2K, false}, {WIRE_4K, false}, {WIRE_4K, true},  {WIRE_F8, false}, {WIRE_F8, true},
           {WIRE_F6, false}, {WIRE_F6, true},  {WIRE_F4, false}, {WIRE_F4, true}};
enum { ALL = sizeof all / sizeof all[0] };

static void good_cartridges_pass(void **state) {
    (void)state;
    for (int i = 0; i < ALL; i++) {
        struct check_stand stand;
        check_stand_open(&stand, all[i].scheme, all[i].ram);
        check_stand_round(&stand);
        assert_false(judge_complete(stand.judge));
        assert_int_equal(judge_result(stand.judge)->verdict, VERDICT_INCONCLUSIVE);
        check_stand_round(&stand);
        assert_true(judge_complete(stand.judge));
        const struct result *result = judge_result(stand.judge);
        assert_int_equal(result->verdict, VERDICT_PASS);
        assert_int_equal(result->finding_count, 0);
        assert_int_equal(result->check->rounds, 2);
        assert_int_equal(result->check->rounds_seen, 2);
        assert_int_equal(result->check->rounds_watched, 2);
        assert_int_equal(result->check->started_in, scheme_banks(all[i].scheme) - 1);
        check_stand_close(&stand);
    }
}

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
            show(result);
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
            show(result);
        }
        assert_int_not_equal(result->verdict, VERDICT_FAIL);
        check_stand_close(&stand);
    }
}

static void one_byte_is_found(void **state) {
    (void)state;
    int located = 0, tried = 0;
    for (int i = 0; i < ALL; i++) {
        for (int n = 0; n < 6; n++) {
            struct check_stand stand;
            uint8_t bytes[SCHEME_PAGE];
            const int page = (n * 7 + 1) % scheme_pages(all[i].scheme);
            check_stand_open(&stand, all[i].scheme, all[i].ram);
            if (!check_page_shows(&stand.plan->check, page)) {
                check_stand_close(&stand);
                continue;
            }
            check_stand_right(page, bytes);
            bytes[(n * 41 + 3) & 255] ^= (uint8_t)(1u << n);
            check_stand_bytes(&stand, page, bytes);
            check_stand_rounds(&stand, 2);
            const struct result *result = judge_result(stand.judge);
            assert_int_equal(result->verdict, VERDICT_FAIL);
            const struct page_seen *seen = &result->check->pages[page];
            tried++;
            if (seen->place >= 0) {
                located++;
                assert_int_equal(seen->place, (n * 41 + 3) & 255);
                assert_int_equal(seen->flipped, 1u << n);
                EXPECT(&stand, VERDICT_FAIL, FINDING_CART_BYTE_WRONG);
            } else {
                EXPECT(&stand, VERDICT_FAIL, FINDING_CART_PAGE_WRONG, FINDING_CART_SLOW);
            }
            check_stand_close(&stand);
        }
    }
    /* Two flips of 65,280 may end alike in CRC and sum; most do not. */
    printf("one wrong byte located: %d of %d\n", located, tried);
    assert_true(located * 10 >= tried * 8);
}

static void a_byte_is_named_by_address(void **state) {
    (void)state;
    struct check_stand stand;
    uint8_t bytes[SCHEME_PAGE];
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_right(16 + 3, bytes); /* bank 1, $F300 [A] */
    bytes[0x21] ^= 0x04;
    check_stand_bytes(&stand, 16 + 3, bytes);
    check_stand_rounds(&stand, 2);
    const struct finding *finding = check_stand_finding(judge_result(stand.judge), FINDING_CART_BYTE_WRONG);
    assert_non_null(finding);
    assert_non_null(strstr(finding->text, "Bank 1, $F321 (byte $1321 of the image)"));
    assert_non_null(strstr(finding->text, "$04"));
    check_stand_close(&stand);
}

/* Pages show in each other's places as a line would have it. */
static void show_pages(struct check_stand *stand, int high, int low, int joined) {
    for (int page = 0; page < scheme_pages(stand->plan->check.scheme); page++) {
        int shows = (page & joined) == joined ? page : page & ~joined;
        shows = (shows | high) & ~low;
        uint8_t bytes[SCHEME_PAGE];
        check_stand_right(shows, bytes);
        if (check_page_shows(&stand->plan->check, page)) {
            check_stand_bytes(stand, page, bytes);
        }
    }
}

static void address_lines_are_named(void **state) {
    (void)state;
    static const int schemes[] = {WIRE_4K, WIRE_F8, WIRE_F4};
    for (int i = 0; i < 3; i++) {
        for (int line = 8; line < 12; line++) {
            struct check_stand stand;
            check_stand_open(&stand, schemes[i], false);
            show_pages(&stand, 1 << (line - 8), 0, 0);
            check_stand_rounds(&stand, 2);
            EXPECT(&stand, VERDICT_FAIL, FINDING_CART_ADDRESS_OPEN, FINDING_CART_ADDRESS_STUCK);
            assert_int_equal(judge_result(stand.judge)->findings[0].bit, line);
            check_stand_close(&stand);
            check_stand_open(&stand, schemes[i], false);
            show_pages(&stand, 0, 1 << (line - 8), 0);
            check_stand_rounds(&stand, 2);
            EXPECT(&stand, VERDICT_FAIL, FINDING_CART_ADDRESS_STUCK);
            check_stand_close(&stand);
            for (int other = line + 1; other < 12; other++) {
                check_stand_open(&stand, schemes[i], false);
                show_pages(&stand, 0, 0, 1 << (line - 8) | 1 << (other - 8));
                check_stand_rounds(&stand, 2);
                EXPECT(&stand, VERDICT_FAIL, FINDING_CART_ADDRESS_SHORTED);
                const struct finding *finding = &judge_result(stand.judge)->findings[0];
                assert_int_equal(finding->bit, line);
                assert_int_equal(finding->reg, other);
                check_stand_close(&stand);
            }
        }
    }
}

static void show_bank(struct check_stand *stand, int bank, int shown) {
    for (int i = 0; i < 16; i++) {
        uint8_t bytes[SCHEME_PAGE];
        check_stand_right(shown * 16 + i, bytes);
        check_stand_bytes(stand, bank * 16 + i, bytes);
    }
}

static void a_hotspot_that_selects_another(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F6, false);
    for (int manner = 0; manner < CHECK_MANNERS; manner++) {
        check_stand_change(&stand, CHECK_HOTSPOT, manner * 8 + 1, 0x0F);
    }
    show_bank(&stand, 1, 2);
    check_stand_rounds(&stand, 2);
    EXPECT(&stand, VERDICT_FAIL, FINDING_CART_HOTSPOT_WRONG);
    const struct finding *finding = &judge_result(stand.judge)->findings[0];
    assert_non_null(strstr(finding->text, "$FFF7 does not select bank 1"));
    assert_non_null(strstr(finding->text, "It selects bank 2"));
    check_stand_close(&stand);
}

static void a_hotspot_in_one_manner_only(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F4, false);
    check_stand_change(&stand, CHECK_HOTSPOT, CHECK_INDEXED_READ * 8 + 6, 0x05);
    check_stand_rounds(&stand, 2);
    EXPECT(&stand, VERDICT_FAIL, FINDING_CART_HOTSPOT_WRONG);
    const struct finding *finding = &judge_result(stand.judge)->findings[0];
    assert_non_null(strstr(finding->text, "by indexed read, from bank 0, 2"));
    check_stand_close(&stand);
}

static void nothing_switches(void **state) {
    (void)state;
    static const int schemes[] = {WIRE_F8, WIRE_F6, WIRE_F4};
    for (int i = 0; i < 3; i++) {
        struct check_stand stand;
        check_stand_open(&stand, schemes[i], false);
        const int banks = scheme_banks(schemes[i]);
        for (int bank = 0; bank < banks - 1; bank++) {
            for (int manner = 0; manner < CHECK_MANNERS; manner++) {
                check_stand_change(&stand, CHECK_HOTSPOT, manner * 8 + bank, (1 << banks) - 1);
            }
            show_bank(&stand, bank, banks - 1);
        }
        check_stand_rounds(&stand, 2);
        if (banks > 2) {
            EXPECT(&stand, VERDICT_FAIL, FINDING_CART_NOT_SWITCHING);
        } else {
            EXPECT(&stand, VERDICT_FAIL, FINDING_CART_NOT_SWITCHING, FINDING_CART_HOTSPOT_WRONG);
            assert_true(judge_result(stand.judge)->findings[0].alternative);
        }
        check_stand_close(&stand);
    }
}

static void neighbours_are_named(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_change(&stand, CHECK_NEIGHBOUR, 5, 0x02); /* $1FF9 without A5: $1FD9 [A] */
    check_stand_rounds(&stand, 2);
    EXPECT(&stand, VERDICT_FAIL, FINDING_CART_SWITCHES_TOO);
    const struct finding *finding = &judge_result(stand.judge)->findings[0];
    assert_non_null(strstr(finding->text, "$FFD9"));
    assert_int_equal(finding->bit, 5);
    check_stand_close(&stand);
}

static void vectors_and_bus(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_change(&stand, CHECK_VECTORS, 0, 1);
    check_stand_change(&stand, CHECK_QUIET, CHECK_QUIET_RAM, 0x08);
    check_stand_rounds(&stand, 2);
    EXPECT(&stand, VERDICT_FAIL, FINDING_CART_VECTOR_WRONG, FINDING_CART_BUS_HELD);
    assert_int_equal(judge_result(stand.judge)->findings[1].bit, 3);
    check_stand_close(&stand);
}

static void open_inputs_are_no_fault(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_4K, false);
    check_stand_change(&stand, CHECK_QUIET, CHECK_QUIET_OPEN, 0x3F);
    check_stand_rounds(&stand, 2);
    assert_int_equal(judge_result(stand.judge)->verdict, VERDICT_PASS);
    check_stand_close(&stand);
}

static void wrong_pages_may_be_slow_ones(void **state) {
    (void)state;
    struct check_stand stand;
    check_stand_open(&stand, WIRE_F8, false);
    uint8_t bytes[SCHEME_PAGE] = {0};
    for (int i = 0; i < SCHEME_PAGE; i++) {
        bytes[i] = (uint8_t)(i * 77 ^ i >> 3);
    }
    check_stand_bytes(&stand, 4, bytes);
    check_stand_bytes(&stand, 5, bytes);
    check_stand_rounds(&stand, 2);
    const struct result *result = judge_result(stand.judge);
    assert_int_equal(result->verdict, VERDICT_FAIL);
    const struct finding *wrong = check_stand_finding(result, FINDING_CART_PAGE_WRONG);
    assert_non_null(wrong);
    assert_true(wrong->alternative);
    assert_non_null(strstr(wrong->text, "bank 0 $F400-$F5FF"));
    assert_non_null(check_stand_finding(result, FINDING_CART_SLOW));
    check_stand_close(&stand);
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

/* A wrong byte in the bank that the check runs from may be the check's own. */
static void other_findings_beside_a_byte_are_doubted(void **state) {
    (void)state;
    struct check_stand stand;
    uint8_t bytes[SCHEME_PAGE];
    check_stand_open(&stand, WIRE_F8, false);
    check_stand_right(16 + 3, bytes); /* of the last bank, which came up */
    bytes[0x21] ^= 0x04;
    check_stand_bytes(&stand, 16 + 3, bytes);
    check_stand_change(&stand, CHECK_NEIGHBOUR, 5, 2);
    check_stand_rounds(&stand, 2);
    const struct finding *finding = check_stand_finding(judge_result(stand.judge), FINDING_CART_SWITCHES_TOO);
    assert_non_null(finding);
    assert_non_null(strstr(finding->text, "one of the check's own"));
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

/* Room in a finding, and words of its own for each kind of a cartridge. */
static void advice_is_whole(void **state) {
    (void)state;
    const struct finding finding;
    int cut = 0;
    for (int kind = 0; kind < FINDING_KINDS; kind++) {
        const char *next = advice_next((enum finding_kind)kind);
        if (strlen(next) >= sizeof finding.next) {
            fprintf(stderr, "%s: %zu\n", finding_name((enum finding_kind)kind), strlen(next));
            cut++;
        }
        assert_true(kind < FINDING_CART_BYTE_WRONG || strcmp(next, advice_next(FINDING_KINDS)) != 0);
    }
    assert_int_equal(cut, 0);
}

static void items_have_words(void **state) {
    (void)state;
    struct check_stand stand;
    char text[200];
    check_stand_open(&stand, WIRE_F8, true);
    check_words(&stand.plan->check, check_unpack(0x11303), text, sizeof text);
    assert_string_equal(text, "page 19 (bank 1, $F300-$F3FF): its CRC and sum are wrong");
    check_words(&stand.plan->check, check_unpack(0x70001), text, sizeof text);
    assert_string_equal(text, "hotspot $FFF8 by a read: did not select its bank from bank 0");
    for (uint32_t value = 0; value < 1u << 20; value += 37) {
        text[0] = '\0';
        check_words(&stand.plan->check, check_unpack(value), text, sizeof text);
        assert_true(text[0] != '\0' && strlen(text) < 160);
    }
    check_words(&stand.plan->check, check_unpack(0x0FF02), text, sizeof text);
    assert_non_null(strstr(text, "longer than its field"));
    check_words(&stand.plan->check, check_unpack(0xFFFFF), text, sizeof text);
    assert_string_equal(text, "wrong items so far: 65535 or more");
    check_stand_close(&stand);
}

/* Digits that were copied wrong most often say what no image of the scheme shows. */
static void items_of_another_scheme(void **state) {
    (void)state;
    struct check_item items[CHECK_ITEMS_MAX];
    for (int scheme = WIRE_2K; scheme <= WIRE_F4; scheme++) {
        for (int ram = 0; ram < 2; ram++) {
            const struct cart_check check = {.scheme = (uint8_t)scheme, .ram = ram != 0};
            const size_t count = check_items(&check, items);
            for (size_t i = 0; i < count; i++) {
                assert_true(check_item_possible(&check, items[i]));
                assert_true(
                    items[i].kind == CHECK_START ||
                    check_item_possible(&check, (struct check_item){items[i].kind, items[i].place, 1}));
            }
        }
    }
    /* F8 has banks 0 and 1: pages 0 to 31, hotspots of two, no RAM unless it was told [A]. */
    static const uint32_t none[] = {0x12000, 0x13A02, 0x10004, 0x72001, 0x70201, 0x70004, 0x80F01, 0x90200,
                                    0x90008, 0xA0014, 0xB0001, 0xC0001, 0xD0400, 0x00007, 0x00202};
    const struct cart_check f8 = {.scheme = WIRE_F8};
    for (size_t i = 0; i < sizeof none / sizeof *none; i++) {
        assert_false(check_item_possible(&f8, check_unpack(none[i])));
    }
    /* Another image's start tells which one it is. */
    assert_true(check_item_possible(&f8, check_unpack(WIRE_F4 | 0x00700)));
    assert_true(check_item_possible(&f8, check_unpack(0x0FF00 | WIRE_F8)));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_cartridges_pass),
        cmocka_unit_test(lost_fields_cost_rounds_only),
        cmocka_unit_test(one_misread_item_never_fails),
        cmocka_unit_test(one_byte_is_found),
        cmocka_unit_test(a_byte_is_named_by_address),
        cmocka_unit_test(address_lines_are_named),
        cmocka_unit_test(a_hotspot_that_selects_another),
        cmocka_unit_test(a_hotspot_in_one_manner_only),
        cmocka_unit_test(nothing_switches),
        cmocka_unit_test(neighbours_are_named),
        cmocka_unit_test(vectors_and_bus),
        cmocka_unit_test(open_inputs_are_no_fault),
        cmocka_unit_test(wrong_pages_may_be_slow_ones),
        cmocka_unit_test(a_contact_that_comes_and_goes),
        cmocka_unit_test(errors_beyond_the_list_are_counted),
        cmocka_unit_test(rounds_are_the_consoles),
        cmocka_unit_test(a_console_that_begins_anew_does_not_pass),
        cmocka_unit_test(a_start_within_a_round_is_seen),
        cmocka_unit_test(a_check_that_stands_still),
        cmocka_unit_test(a_picture_that_stands_still),
        cmocka_unit_test(cropped_fields_count),
        cmocka_unit_test(what_went_away_is_not_steady),
        cmocka_unit_test(other_findings_beside_a_byte_are_doubted),
        cmocka_unit_test(items_that_there_are_none_of),
        cmocka_unit_test(a_check_that_never_comes_through),
        cmocka_unit_test(a_start_soon_after_the_watch_began_is_none),
        cmocka_unit_test(errors_that_were_not_watched),
        cmocka_unit_test(no_slate_is_no_fail),
        cmocka_unit_test(another_image_is_named),
        cmocka_unit_test(advice_is_whole),
        cmocka_unit_test(items_have_words),
        cmocka_unit_test(items_of_another_scheme),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
