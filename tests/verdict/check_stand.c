#include "verdict/check_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void check_stand_open(struct check_stand *stand, int scheme, bool ram) {
    struct problem problem = {0};
    *stand =
        (struct check_stand){.started_in = scheme_banks(scheme) - 1, .random = 1, .hold = 1, .lines = 168};
    if (!check_plan(scheme, ram, STANDARD_NTSC, &stand->plan, &problem) ||
        (stand->judge = judge_new(stand->plan, STAND_HASH)) == NULL) {
        fprintf(stderr, "no judge: %s\n", problem.text);
        abort();
    }
}

void check_stand_close(struct check_stand *stand) {
    judge_free(stand->judge);
    plan_free(stand->plan);
}

void check_stand_change(struct check_stand *stand, enum check_kind kind, int place, int what) {
    stand->change[stand->changes++] = (struct check_item){kind, (uint8_t)place, (uint8_t)what};
}

static void add_extra(struct check_stand *stand, struct check_item after, enum check_kind kind, int place,
                      int what) {
    stand->extra[stand->extras++] = (struct check_stand_extra){after, {kind, (uint8_t)place, (uint8_t)what}};
}

void check_stand_page(struct check_stand *stand, int page, uint16_t crc, uint8_t sum) {
    const struct check_item item = {CHECK_PAGE, (uint8_t)page, (uint8_t)((crc != 0) | (sum != 0) << 1)};
    check_stand_change(stand, item.kind, page, item.what);
    add_extra(stand, item, CHECK_CRC_HIGH, page, crc >> 8);
    add_extra(stand, item, CHECK_CRC_LOW, page, crc & 0xFF);
    add_extra(stand, item, CHECK_SUM, page, sum);
}

/* xorshift64 [Marsaglia 2003]. */
static uint64_t next_random(uint64_t *random) {
    *random ^= *random << 13;
    *random ^= *random >> 7;
    return *random ^= *random << 17;
}

void check_stand_right(int page, uint8_t bytes[SCHEME_PAGE]) {
    uint64_t random = 77 + (uint64_t)page;
    for (int i = 0; i < SCHEME_PAGE; i++) {
        bytes[i] = (uint8_t)(next_random(&random) >> 24);
    }
    check_seal(bytes, page, 100);
}

void check_stand_bytes(struct check_stand *stand, int page, const uint8_t bytes[SCHEME_PAGE]) {
    uint8_t sum = (uint8_t)page;
    for (int i = 0; i < SCHEME_PAGE; i++) {
        sum = (uint8_t)(sum + bytes[i]);
    }
    const uint16_t crc = check_crc(check_crc_start(page), bytes, SCHEME_PAGE);
    if (crc != 0 || sum != 0) {
        check_stand_page(stand, page, crc, sum);
    }
}

enum judged check_stand_field(struct check_stand *stand, struct check_item item) {
    static struct reading reading;
    reading = (struct reading){
        .state = FIELD_READ,
        .slate = {.hash = STAND_HASH, .value = check_pack(item), .counter = (uint8_t)(stand->counter & 63)},
        .margin = 0.9,
        .lines = stand->lines};
    return judge_reading(stand->judge, &reading, 2);
}

void check_stand_show(struct check_stand *stand, struct check_item item) {
    for (int i = 0; i < stand->hold; i++) {
        const double dice = (double)(next_random(&stand->random) >> 11) / (double)(1ull << 53);
        stand->counter++;
        if (dice >= stand->drop) {
            check_stand_field(stand, item);
        }
    }
}

static struct check_item now(struct check_stand *stand, struct check_item item) {
    const uint32_t errors = stand->hide_errors ? 0 : stand->errors;
    switch (item.kind) {
    case CHECK_START:
        item.place = (uint8_t)stand->started_in;
        return item;
    case CHECK_ROUND:
        stand->rounds++;
        item.place = (uint8_t)(stand->rounds >> 8);
        item.what = (uint8_t)stand->rounds;
        return item;
    case CHECK_ERRORS:
        item.place = (uint8_t)(errors >> 8);
        item.what = (uint8_t)errors;
        return item;
    default:
        break;
    }
    for (size_t i = 0; i < stand->changes; i++) {
        if (stand->change[i].kind == item.kind && stand->change[i].place == item.place) {
            item.what = stand->change[i].what;
            stand->errors++;
        }
    }
    return item;
}

void check_stand_round(struct check_stand *stand) {
    struct check_item items[CHECK_ITEMS_MAX];
    const size_t count = check_items(&stand->plan->check, items);
    for (size_t i = 0; i < count; i++) {
        check_stand_show(stand, now(stand, items[i]));
        for (size_t k = 0; k < stand->extras; k++) {
            const struct check_item *after = &stand->extra[k].after;
            if (after->kind == items[i].kind && after->place == items[i].place) {
                check_stand_show(stand, stand->extra[k].item);
            }
        }
    }
}

void check_stand_rounds(struct check_stand *stand, int count) {
    for (int i = 0; i < count; i++) {
        check_stand_round(stand);
    }
}

const struct finding *check_stand_finding(const struct result *result, enum finding_kind kind) {
    for (size_t i = 0; i < result->finding_count; i++) {
        if (result->findings[i].kind == kind) {
            return &result->findings[i];
        }
    }
    return NULL;
}

void check_stand_print(const struct result *result) {
    fprintf(stderr, "verdict %s\n", verdict_name(result->verdict));
    for (size_t i = 0; i < result->finding_count; i++) {
        fprintf(stderr, "  %s: %s\n", finding_name(result->findings[i].kind), result->findings[i].text);
    }
}

void check_stand_expect(struct check_stand *stand, enum verdict verdict, int count,
                        const enum finding_kind *kinds) {
    const struct result *result = judge_result(stand->judge);
    bool good = result->verdict == verdict && (int)result->finding_count == count;
    for (int i = 0; i < count && good; i++) {
        good = result->findings[i].kind == kinds[i];
    }
    if (!good) {
        check_stand_print(result);
    }
    assert_true(good);
    for (size_t i = 0; i < result->finding_count; i++) {
        assert_true(result->findings[i].text[0] != '\0' && result->findings[i].next[0] != '\0');
    }
}
