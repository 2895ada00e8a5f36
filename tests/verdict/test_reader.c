/*
 * What a reader saw of a cartridge, judged, over the model's contacts in the virtual reader: banks, bytes,
 * RAM, contacts that come and go, times, what is held with A12 low; and nothing that was seen makes it fall
 * over. Each thing that is hurt is named, and nothing else but what cannot be told apart (said at each test).
 */
#include "verdict/march.h"
#include "verdict/reader_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint8_t image[32768], other[32768];
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

static void measure(uint64_t seed) {
    stand_measure(image, &faults, seed, &order, &seen);
    reader_judge(&seen, order.image, &limits, &result);
}

static const struct finding *find(enum finding_kind kind) {
    for (size_t i = 0; i < result.finding_count; i++) {
        if (result.findings[i].kind == kind) {
            return &result.findings[i];
        }
    }
    return NULL;
}

/* The only finding, of that kind, with that in its text. */
static void only(const char *what, enum finding_kind kind, const char *text) {
    if (result.verdict != VERDICT_FAIL || result.finding_count != 1 || result.findings[0].kind != kind ||
        strstr(result.findings[0].text, text) == NULL) {
        stand_print(what, &result);
        fail_msg("%s: not just %s with \"%s\"", what, finding_name(kind), text);
    }
}

static void good(const char *what) {
    if (result.verdict != VERDICT_PASS || result.finding_count != 0) {
        stand_print(what, &result);
        fail_msg("%s: a good one was found bad", what);
    }
}

/* ---- banks ---- */

/* With two banks the other one then always shows, and three causes are the same to any reader: no hotspot
 * switches, this one selects nothing, or the other bank. */
static void other_always(const char *text) {
    bool said = false;
    for (size_t i = 0; i < result.finding_count; i++) {
        said = said || strstr(result.findings[i].text, text) != NULL;
        assert_true(result.findings[i].alternative);
        assert_true(result.findings[i].kind == FINDING_CART_HOTSPOT_WRONG ||
                    result.findings[i].kind == FINDING_CART_NOT_SWITCHING);
    }
    if (!said || result.finding_count != 3 || result.verdict != VERDICT_FAIL) {
        stand_print(text, &result);
        fail_msg("%s", text);
    }
}

static void test_hotspots(void **state) {
    (void)state;
    for (int scheme = WIRE_F8; scheme <= WIRE_F4; scheme++) {
        const int banks = scheme_banks(scheme);
        for (int i = 0; i < banks * banks; i += small() ? 5 : 1) {
            const int hotspot = i / banks, to = i % banks == hotspot ? -1 : i % banks;
            char text[80];
            prepare(scheme, false, 20 + (uint64_t)i);
            faults.selects[hotspot] = (int8_t)to;
            measure(3);
            if (to < 0) {
                snprintf(text, sizeof text, "bank %d, $%04X, selects nothing", hotspot,
                         scheme_hotspot(scheme, hotspot));
            } else {
                snprintf(text, sizeof text, "bank %d, $%04X, selects bank %d", hotspot,
                         scheme_hotspot(scheme, hotspot), to);
            }
            if (banks == 2) {
                other_always(text);
            } else {
                only("hotspot", FINDING_CART_HOTSPOT_WRONG, text);
            }
        }
    }
}

static void test_two_hotspots(void **state) {
    (void)state;
    prepare(WIRE_F4, false, 1);
    faults.selects[2] = 5;
    faults.selects[7] = 0;
    measure(1);
    assert_int_equal(result.finding_count, 2);
    assert_int_equal(result.findings[0].kind, FINDING_CART_HOTSPOT_WRONG);
    assert_non_null(strstr(result.findings[0].text, "bank 2, $1FF6, selects bank 5"));
    assert_non_null(strstr(result.findings[1].text, "bank 7, $1FFB, selects bank 0"));
    assert_int_equal(result.findings[0].explanation, result.findings[1].explanation);
}

static void test_not_switching(void **state) {
    (void)state;
    for (int scheme = WIRE_F8; scheme <= WIRE_F4; scheme++) {
        for (int first = 0; first < scheme_banks(scheme); first++) {
            char text[40];
            prepare(scheme, first & 1, 40);
            memset(faults.selects, -1, sizeof faults.selects);
            faults.first_bank = (uint8_t)first;
            measure(3);
            snprintf(text, sizeof text, "bank %d shows always", first);
            if (scheme == WIRE_F8) {
                other_always(text);
            } else {
                only("not switching", FINDING_CART_NOT_SWITCHING, text);
            }
        }
    }
}

/* Anywhere in the window, or at a neighbour. Where the banks' bytes are the same it might as well be the next
 * address: random bytes differ but in one of 256, so the address or one next to it is named. */
static void test_switches_too(void **state) {
    (void)state;
    uint64_t random = 99;
    for (int i = 0; i < (small() ? 4 : 24); i++) {
        const int scheme = WIRE_F8 + i % 3;
        uint16_t at;
        do {
            at = (uint16_t)(0x1000 | (stand_random(&random) >> 20 & 0xFFF));
            at = i % 4 == 3 ? (uint16_t)(scheme_hotspot(scheme, 0) ^ 1U << i % 12) : at;
        } while (scheme_selects(scheme, at) >= 0 && i % 4 != 3);
        if (scheme_selects(scheme, at) >= 0) {
            continue;
        }
        prepare(scheme, false, 60 + (uint64_t)i);
        faults.also_at = at;
        faults.also_selects = (int8_t)(stand_random(&random) >> 30 & 1);
        measure(5);
        const struct finding *finding = find(FINDING_CART_SWITCHES_TOO);
        char text[40];
        snprintf(text, sizeof text, "$%04X", at);
        bool said = false;
        for (size_t j = 0; j < result.finding_count; j++) {
            said = said || strstr(result.findings[j].text, text) != NULL;
            said = said && result.findings[j].kind == FINDING_CART_SWITCHES_TOO;
        }
        if (finding == NULL || !said || result.finding_count > 2) {
            stand_print(text, &result);
            fail_msg("%s %s", scheme_name(scheme), text);
        }
    }
}

/* ---- bytes ---- */

static void test_bytes(void **state) {
    (void)state;
    prepare(WIRE_F8, false, 70);
    faults.bytes = 1;
    faults.byte[0] = (struct cart_byte){0x1234, 0x40};
    measure(1);
    only("byte", FINDING_CART_BYTE_WRONG, "bank 1, $1234");
    assert_int_equal(result.wrong_bytes, 1);
    assert_int_equal(result.wrong[0], 0x1234);

    prepare(WIRE_4K, false, 71);
    memcpy(other, image, sizeof other);
    for (int i = 0; i < 200; i++) {
        other[0x300 + i] ^= 0xA5;
    }
    stand_measure(other, &faults, 1, &order, &seen);
    reader_judge(&seen, image, &limits, &result);
    only("page", FINDING_CART_PAGE_WRONG, "200 bytes in 1 page");

    prepare(WIRE_F6, false, 72);
    stand_image(WIRE_F6, 73, other);
    stand_measure(other, &faults, 1, &order, &seen);
    reader_judge(&seen, image, &limits, &result);
    only("another image", FINDING_CART_OTHER_IMAGE, "bytes differ");
    assert_true(result.compared);
}

/* A line and a wrong byte. */
static void test_line_and_byte(void **state) {
    (void)state;
    prepare(WIRE_4K, false, 75);
    faults.data_low = 0x10;
    faults.bytes = 1;
    faults.byte[0] = (struct cart_byte){0x0777, 0x02};
    measure(1);
    assert_int_equal(result.finding_count, 2);
    assert_int_equal(result.findings[0].kind, FINDING_CART_DATA_STUCK);
    assert_int_equal(result.findings[0].bit, 4);
    assert_int_equal(result.findings[1].kind, FINDING_CART_BYTE_WRONG);
}

/* ---- nothing, and with A12 low ---- */

static void test_dead(void **state) {
    (void)state;
    prepare(WIRE_F8, false, 80);
    memset(&seen, 0, sizeof seen);
    seen.scheme = WIRE_F8;
    seen.has_bytes = true;
    seen.passes = 2;
    seen.floats = 0xFF;
    memset(seen.bytes, 0xFF, sizeof seen.bytes);
    reader_judge(&seen, image, &limits, &result);
    for (int i = 0; i < 2; i++) { /* as is A12 that is stuck low [A: it is never selected] */
        reader_judge(&seen, i == 0 ? image : NULL, &limits, &result);
        assert_int_equal(result.verdict, VERDICT_FAIL);
        assert_int_equal(result.finding_count, 2);
        assert_true(find(FINDING_CART_DEAD)->alternative && find(FINDING_CART_ADDRESS_STUCK)->alternative);
        assert_int_equal(find(FINDING_CART_ADDRESS_STUCK)->bit, 12);
    }
    seen.overload = true;
    reader_judge(&seen, image, &limits, &result);
    only("overload", FINDING_CART_OVERLOAD, "more current");
    memset(&seen, 0, sizeof seen);
    reader_judge(&seen, image, &limits, &result);
    assert_int_equal(result.verdict, VERDICT_INCONCLUSIVE);
    seen.scheme = 77;
    reader_judge(&seen, NULL, &limits, &result);
    assert_int_equal(result.verdict, VERDICT_INCONCLUSIVE);
}

static void test_held(void **state) {
    (void)state;
    for (int i = 0; i < 16; i++) {
        char text[24];
        prepare(i & 1 ? WIRE_F8 : WIRE_4K, false, 81);
        *(i & 1 ? &faults.held_low : &faults.held_high) = (uint8_t)(1U << i / 2);
        measure(2);
        snprintf(text, sizeof text, "%s: D%d", i & 1 ? "low" : "high", i / 2);
        only("held", FINDING_CART_BUS_HELD, text);
        assert_int_equal(result.findings[0].bit, i / 2);
    }
}

static void test_late_and_slow_release(void **state) {
    (void)state;
    prepare(WIRE_4K, false, 83);
    faults.late_us = 60000;
    measure(2);
    only("late", FINDING_CART_WAKES_LATE, "60");
    assert_true(fabs(result.wake_ms - 60) < 5);
    prepare(WIRE_4K, false, 84);
    faults.release_ns = 440;
    measure(2);
    only("release", FINDING_CART_RELEASE_SLOW, "44");
    assert_true(fabs(result.release_ns - 440) <= 8.01); /* a cycle of the virtual reader's clock */
}

/* ---- times ---- */

static void test_slow(void **state) {
    (void)state;
    prepare(WIRE_F8, false, 90);
    order.times = true;
    measure(1);
    good("with a map");
    assert_true(fabs(result.slowest_ns - CART_ACCESS_NS) <= 8.01 &&
                fabs(result.typical_ns - CART_ACCESS_NS) <= 8.01);
    assert_true(fabs(result.margin_ns - (410 - result.slowest_ns)) < 0.01); /* [A] */
    limits.margin_ns = 300;
    reader_judge(&seen, image, &limits, &result);
    only("margin", FINDING_CART_SLOW, "All of it is slow");

    prepare(WIRE_F8, false, 90);
    order.times = true;
    faults.slow_pages = 1;
    faults.slow[0] = (struct cart_slow){0x13, 380};
    measure(1);
    good("slow, but within the limit");
    assert_int_equal(result.worst[0].offset / 256, 0x13);
    assert_true(fabs(result.worst[0].ns - 380) <= 8.01);
    faults.slow[0].ns = 520;
    measure(1);
    only("slow page", FINDING_CART_SLOW, "bank 1, $1300");
    assert_null(strstr(result.findings[0].text, "own buffers")); /* 110 ns beyond: not by the reader's 52 */
    faults.slow[0].ns = 450;
    measure(1);
    only("just too slow", FINDING_CART_SLOW, "the reader's own buffers: it may be just in time");
    faults.slow[0].ns = 520;
    /* The page that has the byte that tells banks apart: it does not tell then. */
    faults.slow[0].page = 0x0F;
    measure(1);
    only("slow page of hotspots", FINDING_CART_SLOW, "bank 0, $1F00");
    faults.slow[0].page = 0x13;
    measure(1);
    /* Not within 254 cycles, as the wire says it. */
    for (int i = 0; i < 256; i++) {
        memset(seen.map[0x1300 + i], READER_NEVER, READER_TIMES);
    }
    reader_judge(&seen, image, &limits, &result);
    only("never", FINDING_CART_SLOW, "bank 1, $1300");
    assert_true(result.worst[0].never && result.never > 200);
}

/* ---- contacts ---- */

/* Each line, at three rates, over several passes: the line, and the rate within its interval (of 95 %,
 * widened for so many tries). */
static void contact(int scheme, int line, double rate, uint64_t seed) {
    char what[64];
    prepare(scheme, false, 100 + seed);
    order.passes = 8;
    order.times = line % 4 == 1;
    *(line < 12 ? &faults.loose_address : &(uint16_t){0}) = (uint16_t)(1U << line);
    faults.loose_data = line < 12 ? 0 : (uint8_t)(1U << (line - 12));
    faults.loose_rate = (uint32_t)(rate * 4294967295.0);
    measure(seed);
    snprintf(what, sizeof what, "%s line %d rate %g", scheme_name(scheme), line, rate);
    if (result.finding_count != 1 || result.findings[0].kind != FINDING_CART_CONTACT ||
        result.findings[0].bit != (line < 12 ? line : -1) ||
        result.findings[0].reg != (line < 12 ? -1 : line - 12)) {
        stand_print(what, &result);
        fail_msg("%s", what);
    }
    const struct finding *finding = &result.findings[0];
    const double width = finding->rate_high - finding->rate_low;
    if (finding->rate_low - width > rate || finding->rate_high + width < rate) {
        stand_print(what, &result);
        fail_msg("%s: %g, %g to %g", what, finding->rate, finding->rate_low, finding->rate_high);
    }
}

/* So seldom that every reading was the same: the map alone shows it. A12's shows with A12 low. */
static void test_seldom(void **state) {
    (void)state;
    for (int i = 0; i < 4; i++) {
        prepare(WIRE_4K, false, 140);
        order.passes = 4;
        order.times = true;
        *(i & 1 ? &faults.loose_address : &(uint16_t){0}) = 1U << 5;
        faults.loose_data = i & 1 ? 0 : 1U << 6;
        faults.loose_rate = i & 2 ? 30000 : 12000000;
        measure(6);
        if (result.finding_count == 0 && i & 2) {
            continue; /* a few accesses in a million: it may well not be seen */
        }
        if (result.finding_count != 1 || result.findings[0].kind != FINDING_CART_CONTACT) {
            stand_print("seldom", &result);
            fail_msg("%d", i);
        }
        assert_true(i & 2 || (result.findings[0].bit == (i & 1 ? 5 : -1) &&
                              result.findings[0].reg == (i & 1 ? -1 : 6)));
    }
    prepare(WIRE_F8, false, 141);
    faults.loose_address = 1U << 12;
    faults.loose_rate = 0x10000000; /* 1 in 16 */
    measure(7);
    only("A12", FINDING_CART_CONTACT, "A12 comes and goes");
    assert_int_equal(result.findings[0].bit, 12);
    assert_true(result.findings[0].rate_low - 0.01 < 1 / 16.0 &&
                result.findings[0].rate_high + 0.01 > 1 / 16.0);
}

static void test_contacts(void **state) {
    (void)state;
    static const double rates[] = {0.001, 0.03, 0.3};
    for (int i = 0; i < 20 * 3; i += small() ? 7 : 1) {
        contact(i % 2 ? WIRE_4K : WIRE_F8, i / 3, rates[i % 3], 1 + (uint64_t)i);
    }
}

/* ---- RAM ---- */

static enum finding_kind kind_of(int kind) {
    return kind == CART_RAM_STUCK        ? FINDING_CART_RAM_STUCK
           : kind == CART_RAM_TRANSITION ? FINDING_CART_RAM_TRANSITION
           : kind >= CART_RAM_NO_CELL    ? FINDING_CART_RAM_DECODER
                                         : FINDING_CART_RAM_COUPLED;
}

static bool told(enum finding_kind kind, const struct cart_ram_fault *fault) {
    for (size_t i = 0; i < result.finding_count; i++) {
        const struct finding *finding = &result.findings[i];
        char cell[8], by[8];
        snprintf(cell, sizeof cell, "$%02X", fault->cell);
        snprintf(by, sizeof by, "$%02X", fault->by_cell);
        if (finding->kind == kind &&
            (strstr(finding->text, cell) != NULL || strstr(finding->text, by) != NULL)) {
            return true;
        }
    }
    return false;
}

/* Each class at seeded cells: its class is named, with its cell, alone or beside those that would give the
 * very same wrong reads. A fault that March C- does not see is none of ours to name. */
/* What the limits allow to differ is no wrong byte, whichever of the readings it spoilt; and it excuses none.
 */
static void test_allowed_to_differ(void **state) {
    (void)state;
    int passed = 0;
    for (uint64_t seed = 1; seed <= (small() ? 4 : 16); seed++) {
        prepare(WIRE_F8, false, seed);
        order.times = false;
        limits.differing = 1000;
        faults.loose_data = 1 << 3;
        faults.loose_rate = 4294967; /* 1 in 1000 */
        measure(seed);
        assert_in_range(result.differing, 1, 1000);
        if (result.verdict == VERDICT_FAIL || result.finding_count > 0) {
            stand_print("as many as are allowed", &result);
            fail_msg("seed %d: a good one was found bad", (int)seed);
        }
        passed += result.verdict == VERDICT_PASS;
        faults.bytes = 1;
        faults.byte[0] = (struct cart_byte){0x0765, 0x40};
        measure(seed);
        only("a wrong byte beside", FINDING_CART_BYTE_WRONG, "$1765");
        /* No write selects: that is more than one reading. */
        seen.hotspot[1][0][1] = seen.hotspot[0][1][0];
        seen.hotspot[1][1][0] = seen.hotspot[0][0][1];
        reader_judge(&seen, order.image, &limits, &result);
        assert_non_null(find(FINDING_CART_HOTSPOT_WRONG));
        limits.differing = 0;
        measure(seed);
        assert_non_null(find(FINDING_CART_CONTACT));
    }
    assert_true(passed > 0);
}

static void test_ram(void **state) {
    (void)state;
    uint64_t random = 5;
    int alone = 0, all = 0, unseen = 0;
    for (int i = 0; i < (small() ? 12 : 96); i++) {
        const uint64_t bits = stand_random(&random);
        struct cart_ram_fault fault = {.kind = (uint8_t)(i % CART_RAM_KINDS),
                                       .cell = bits >> 8 & 127,
                                       .bit = bits >> 16 & 7,
                                       .value = bits >> 20 & 1,
                                       .by_cell = bits >> 24 & 127,
                                       .by = bits >> 32 & 7,
                                       .when = bits >> 40 & 1};
        if (fault.cell == fault.by_cell) {
            continue;
        }
        prepare(WIRE_4K, true, 120);
        order.hotspots = order.wake = order.release = order.quiet = false;
        faults.ram_faults = 1;
        faults.ram[0] = fault;
        measure(bits);
        unseen += seen.ram_wrong == 0;
        if (seen.ram_wrong > 0 && !told(kind_of(fault.kind), &fault)) {
            char what[80];
            snprintf(what, sizeof what, "kind %d cell %02X bit %d value %d by %02X bit %d when %d",
                     fault.kind, fault.cell, fault.bit, fault.value, fault.by_cell, fault.by, fault.when);
            stand_print(what, &result);
            fail_msg("%s", what);
        }
        alone += result.finding_count == 1;
        all++;
    }
    assert_int_equal(unseen, 0); /* March C- finds all of these [van de Goor 1991] */
    printf("[ RAM      ] %d of %d with their class alone\n", alone, all);
}

static void test_no_ram(void **state) {
    (void)state;
    prepare(WIRE_F8, true, 130);
    faults.no_ram = true;
    measure(1);
    only("no RAM", FINDING_CART_RAM_MISSING, "There is no RAM");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_hotspots),
        cmocka_unit_test(test_two_hotspots),
        cmocka_unit_test(test_not_switching),
        cmocka_unit_test(test_switches_too),
        cmocka_unit_test(test_bytes),
        cmocka_unit_test(test_line_and_byte),
        cmocka_unit_test(test_dead),
        cmocka_unit_test(test_held),
        cmocka_unit_test(test_late_and_slow_release),
        cmocka_unit_test(test_slow),
        cmocka_unit_test(test_contacts),
        cmocka_unit_test(test_seldom),
        cmocka_unit_test(test_allowed_to_differ),
        cmocka_unit_test(test_ram),
        cmocka_unit_test(test_no_ram),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
