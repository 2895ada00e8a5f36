/*
 * What a reader's data may also be: of two faults at once, of a cartridge whose image nobody gave, and
 * nonsense. A name that stands alone must be true; unexplained is an answer.
 */
#include "verdict/reader_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint8_t image[32768];
static struct reader_seen seen;
static struct reader_result result;
static struct reader_limits limits;
static struct reader_order order;
static struct cart_faults faults;

static bool small(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL;
}

static void prepare(int scheme, bool ram, uint64_t seed) {
    stand_image(scheme, seed, image);
    stand_order(scheme, ram, image, &order);
    cart_faults_none(scheme, &faults);
    reader_limits_default(&limits);
}

/* ---- two faults ---- */

struct truth {
    enum finding_kind kind;
    int bit, reg;
};

/* One of any kind into faults; what it should be called. */
static struct truth hurt(uint64_t bits, int scheme) {
    const int address = (int)(bits >> 8 & 0xFF) % 12, data = (int)(bits >> 16 & 7);
    const int a = (int)(bits >> 24 & 0xFF) % 12, b = (a + 1 + (int)(bits >> 32 & 0xFF) % 11) % 12;
    const int hotspot = (int)(bits >> 40 & 0xFF) % scheme_banks(scheme);
    switch (bits % 7) {
    case 0:
        faults.address_open |= (uint16_t)(1U << address);
        return (struct truth){FINDING_CART_ADDRESS_OPEN, address, -1};
    case 1:
        faults.address_low |= (uint16_t)(1U << address);
        return (struct truth){FINDING_CART_ADDRESS_STUCK, address, -1};
    case 2:
        faults.address_short[faults.address_shorts][0] = (uint8_t)a;
        faults.address_short[faults.address_shorts++][1] = (uint8_t)b;
        return (struct truth){FINDING_CART_ADDRESS_SHORTED, a < b ? a : b, a < b ? b : a};
    case 3:
        faults.data_low |= (uint8_t)(1U << data);
        return (struct truth){FINDING_CART_DATA_STUCK, data, -1};
    case 4:
        faults.data_high |= (uint8_t)(1U << data);
        return (struct truth){FINDING_CART_DATA_STUCK, data, -1};
    case 5:
        faults.data_open |= (uint8_t)(1U << data);
        return (struct truth){FINDING_CART_DATA_OPEN, data, -1};
    default:
        faults.selects[hotspot] = -1;
        return (struct truth){scheme_banks(scheme) > 1 ? FINDING_CART_HOTSPOT_WRONG : FINDING_UNEXPLAINED, -1,
                              -1};
    }
}

/* What claims nothing, or follows from a fault that is there. */
static bool is_plain(enum finding_kind kind) {
    return kind == FINDING_UNEXPLAINED || kind == FINDING_CART_PAGE_WRONG || kind == FINDING_CART_WAKES_LATE;
}

static bool is_true(const struct finding *finding, const struct truth *truths) {
    for (int i = 0; i < 2; i++) {
        const bool line = finding->bit == truths[i].bit && finding->reg == truths[i].reg;
        if (line && (finding->kind == truths[i].kind || (finding->kind == FINDING_CART_ADDRESS_STUCK &&
                                                         truths[i].kind == FINDING_CART_ADDRESS_OPEN))) {
            return true;
        }
        /* A hotspot that selects nothing also looks like one that selects what was there. */
        if (truths[i].kind == FINDING_CART_HOTSPOT_WRONG &&
            (finding->kind == FINDING_CART_HOTSPOT_WRONG || finding->kind == FINDING_CART_NOT_SWITCHING)) {
            return true;
        }
    }
    return is_plain(finding->kind);
}

static void test_pairs(void **state) {
    (void)state;
    uint64_t random = 2024;
    int named = 0, all = 0;
    for (int i = 0; i < (small() ? 10 : 120); i++) {
        const int scheme = WIRE_4K + i % 3;
        prepare(scheme, false, 300 + (uint64_t)i);
        const struct truth truths[2] = {hurt(stand_random(&random) >> 3, scheme),
                                        hurt(stand_random(&random) >> 3, scheme)};
        stand_measure(image, &faults, 9, &order, &seen);
        reader_judge(&seen, image, &limits, &result);
        int right = 0;
        for (size_t j = 0; j < result.finding_count; j++) {
            const struct finding *finding = &result.findings[j];
            if (!finding->alternative && !is_true(finding, truths)) {
                char what[120];
                snprintf(what, sizeof what, "pair %d of %s: %s %d %d, %s %d %d", i, scheme_name(scheme),
                         finding_name(truths[0].kind), truths[0].bit, truths[0].reg,
                         finding_name(truths[1].kind), truths[1].bit, truths[1].reg);
                stand_print(what, &result);
                fail_msg("%s", what);
            }
            right += !is_plain(finding->kind) && is_true(finding, truths);
        }
        named += right > 0;
        all++;
    }
    printf("[ PAIRS    ] %d of %d named\n", named, all);
}

/* ---- without an image ---- */

static const struct finding *doubted(enum finding_kind kind, int bit, int reg) {
    for (size_t i = 0; i < result.finding_count; i++) {
        const struct finding *finding = &result.findings[i];
        if (finding->kind == kind && finding->bit == bit && finding->reg == reg) {
            return finding;
        }
    }
    return NULL;
}

static void guess(uint64_t seed) {
    order.image = NULL;
    stand_measure(image, &faults, seed, &order, &seen);
    reader_judge(&seen, NULL, &limits, &result);
}

static void test_without_image(void **state) {
    (void)state;
    for (int line = 0; line < 12; line++) {
        prepare(WIRE_4K, false, 400);
        faults.address_open = (uint16_t)(1U << line);
        guess(1);
        if (doubted(FINDING_CART_ADDRESS_OPEN, line, -1) == NULL || result.finding_count != 1 ||
            result.verdict != VERDICT_INCONCLUSIVE) {
            stand_print("open", &result);
            fail_msg("A%d", line);
        }
    }
    for (int i = 0; i < 12; i++) {
        const int a = i, b = (i + 5) % 12;
        prepare(WIRE_4K, false, 401);
        faults.address_shorts = 1;
        faults.address_short[0][0] = (uint8_t)a;
        faults.address_short[0][1] = (uint8_t)b;
        guess(1);
        if (doubted(FINDING_CART_ADDRESS_SHORTED, a < b ? a : b, a < b ? b : a) == NULL ||
            result.finding_count != 1 || result.verdict != VERDICT_INCONCLUSIVE) {
            stand_print("shorted", &result);
            fail_msg("A%d A%d", a, b);
        }
    }
    prepare(WIRE_F8, false, 402);
    faults.data_low = 4;
    guess(1);
    assert_non_null(doubted(FINDING_CART_DATA_STUCK, 2, -1));
    assert_int_equal(result.verdict, VERDICT_INCONCLUSIVE);
    prepare(WIRE_F8, false, 403);
    faults.data_open = 4;
    guess(1);
    assert_non_null(doubted(FINDING_CART_DATA_OPEN, 2, -1));
    assert_int_equal(result.verdict, VERDICT_FAIL);
    prepare(WIRE_F8, false, 404);
    memset(faults.selects, -1, sizeof faults.selects);
    guess(1);
    assert_non_null(doubted(FINDING_CART_NOT_SWITCHING, -1, -1));
    assert_int_equal(result.verdict, VERDICT_INCONCLUSIVE);
}

/* ---- nonsense ---- */

static void fill(void *at, size_t size, uint64_t *random) {
    uint8_t *bytes = at;
    for (size_t i = 0; i < size; i++) {
        bytes[i] = (uint8_t)(stand_random(random) >> 40);
    }
}

/* Whatever a broken board may say: nothing falls over, and every text ends. */
static void test_nonsense(void **state) {
    (void)state;
    uint64_t random = 77;
    for (int i = 0; i < (small() ? 6 : 60); i++) {
        memset(&seen, 0, sizeof seen);
        const uint64_t bits = stand_random(&random) >> 8;
        prepare((int)(bits % 5), bits >> 3 & 1, (uint64_t)i);
        fill(&seen.bytes, sizeof seen.bytes, &random);
        if (bits >> 4 & 1) {
            memcpy(seen.bytes, image, sizeof seen.bytes);
        }
        if (bits >> 5 & 1) {
            fill(&seen.unsteady, sizeof seen.unsteady, &random);
        }
        fill(&seen.map, sizeof seen.map, &random);
        fill(&seen.hotspot, sizeof seen.hotspot, &random);
        fill(&seen.neighbour, sizeof seen.neighbour, &random);
        fill(&seen.ram_error, sizeof seen.ram_error, &random);
        seen.scheme = (int)(bits % 5);
        seen.ram = bits >> 3 & 1;
        seen.cycle_ps = (uint32_t)stand_random(&random);
        seen.own = (int)(stand_random(&random) >> 56);
        seen.has_bytes = bits >> 6 & 1;
        seen.has_map = bits >> 7 & 1;
        seen.has_hotspots = bits >> 8 & 1;
        seen.has_release = bits >> 9 & 1;
        seen.has_ram = bits >> 10 & 1;
        seen.has_wake = bits >> 11 & 1;
        seen.has_quiet = bits >> 12 & 1;
        seen.overload = (bits >> 13 & 7) == 0;
        seen.tells = (uint16_t)(stand_random(&random) >> 48);
        seen.passes = (uint32_t)(bits >> 20 & 3);
        seen.differing = (uint32_t)(bits >> 22 & 7);
        seen.floats = bits >> 25 & 1 ? 0 : (uint8_t)(bits >> 32);
        seen.held_low = (uint8_t)(bits >> 40 & bits >> 48);
        seen.held_count = (uint32_t)stand_random(&random);
        seen.release_high = (uint8_t)(bits >> 33);
        seen.wake_us = (uint32_t)stand_random(&random);
        seen.ram_wrong = bits >> 26 & 1 ? 3 : (uint32_t)stand_random(&random);
        seen.ram_logged = (size_t)(stand_random(&random) % (WIRE_RAM_LOG + 1));
        reader_judge(&seen, bits >> 27 & 1 ? image : NULL, &limits, &result);
        assert_true(result.finding_count <= FINDINGS_MAX && result.worst_count <= 10);
        for (size_t j = 0; j < result.finding_count; j++) {
            assert_true(memchr(result.findings[j].text, 0, sizeof result.findings[j].text) != NULL);
            assert_true(result.findings[j].text[0] != '\0' && result.findings[j].next[0] != '\0');
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pairs),
        cmocka_unit_test(test_without_image),
        cmocka_unit_test(test_nonsense),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
