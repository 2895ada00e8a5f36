/*
 * Every line of a cartridge open, stuck and shorted to every other one, by the contacts of the model in the
 * virtual reader: named right, and alone but for what cannot be told apart. The model (virtual/cart_model.c)
 * and what the verdict supposes (verdict/supposed.c) know nothing of each other.
 *
 * What a reader cannot tell apart, and so names both [A: the same reads]:
 *   an address line that is open reads high [P]: as one that is stuck high.
 *   A12 stuck low: the cartridge is never selected: as none, or a dead one.
 */
#include "commands/cover.h"
#include "verdict/reader_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint8_t image[32768];
static struct reader_seen seen;
static struct reader_result result;
static struct reader_limits limits;

static bool small(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL;
}

static void measure(int scheme, bool ram, const struct cart_faults *faults, uint64_t seed, bool know) {
    struct reader_order order;
    stand_image(scheme, seed, image);
    stand_order(scheme, ram, image, &order);
    stand_measure(image, faults, seed, &order, &seen);
    reader_limits_default(&limits);
    reader_judge(&seen, know ? image : NULL, &limits, &result);
}

/* Whether just these were named: each of the list, and nothing else. */
struct expected {
    enum finding_kind kind;
    int bit, reg;
};

static bool named(const struct expected *list, size_t count) {
    if (result.finding_count != count || result.verdict != VERDICT_FAIL) {
        return false;
    }
    for (size_t i = 0; i < count; i++) {
        bool found = false;
        for (size_t j = 0; j < result.finding_count; j++) {
            const struct finding *finding = &result.findings[j];
            found = found || (finding->kind == list[i].kind && finding->bit == list[i].bit &&
                              finding->reg == list[i].reg && finding->alternative == (count > 1));
        }
        if (!found) {
            return false;
        }
    }
    return true;
}

static void check(const char *what, int scheme, bool ram, int a, int b, const struct expected *list,
                  size_t count) {
    if (!named(list, count)) {
        char text[96];
        snprintf(text, sizeof text, "%s %s%s %d %d", what, scheme_name(scheme), ram ? "+RAM" : "", a, b);
        stand_print(text, &result);
        fail_msg("%s: not named as it should be", text);
    }
}

/* Every position of the small ones; of the large, whose readings take longer, every so many (all of them:
 * make proof PROOF=coverage). */
struct kind {
    int scheme;
    bool ram;
    int stride;
};
static const struct kind kinds[] = {{WIRE_4K, false, 1}, {WIRE_F8, true, 1}, {WIRE_2K, false, 1},
                                    {WIRE_F6, false, 5}, {WIRE_F4, true, 7}, {WIRE_4K, true, 5}};
/* Counts positions. */
static bool skipped(const struct kind *kind) {
    static unsigned position;
    return position++ % (unsigned)(kind->stride * (small() ? 5 : 1)) != 0;
}
/* A 2 KiB cartridge has no A11: open or stuck it changes nothing, and nothing is wrong. */
static bool has_line(const struct kind *kind, int line) {
    return kind->scheme != WIRE_2K || line != 11;
}

static size_t kind_count(void) {
    return sizeof kinds / sizeof kinds[0];
}

static void test_good(void **state) {
    (void)state;
    for (int scheme = WIRE_2K; scheme <= WIRE_F4; scheme++) {
        for (int ram = 0; ram < 2; ram++) {
            for (uint64_t seed = 1; seed <= 3; seed++) {
                struct cart_faults faults;
                cart_faults_none(scheme, &faults);
                faults.first_bank = (uint8_t)(seed % 3);
                measure(scheme, ram && scheme != WIRE_2K, &faults, seed, seed != 3);
                if (result.verdict != VERDICT_PASS || result.finding_count > 0) {
                    stand_print(scheme_name(scheme), &result);
                    fail_msg("a good cartridge was found bad");
                }
            }
        }
    }
}

static void test_address_open(void **state) {
    (void)state;
    for (size_t i = 0; i < kind_count(); i++) {
        for (int line = 0; line < 13; line++) {
            struct cart_faults faults;
            if (skipped(&kinds[i]) || !has_line(&kinds[i], line)) {
                continue;
            }
            cart_faults_none(kinds[i].scheme, &faults);
            faults.address_open = (uint16_t)(1U << line);
            measure(kinds[i].scheme, kinds[i].ram, &faults, 7, true);
            const struct expected list[] = {{FINDING_CART_ADDRESS_OPEN, line, -1},
                                            {FINDING_CART_ADDRESS_STUCK, line, -1}};
            check("open", kinds[i].scheme, kinds[i].ram, line, -1, list, 2);
        }
    }
}

static void test_address_low(void **state) {
    (void)state;
    for (size_t i = 0; i < kind_count(); i++) {
        for (int line = 0; line < 13; line++) {
            struct cart_faults faults;
            if (skipped(&kinds[i]) || !has_line(&kinds[i], line)) {
                continue;
            }
            cart_faults_none(kinds[i].scheme, &faults);
            faults.address_low = (uint16_t)(1U << line);
            measure(kinds[i].scheme, kinds[i].ram, &faults, 8, true);
            const struct expected list[] = {{FINDING_CART_ADDRESS_STUCK, line, -1},
                                            {FINDING_CART_DEAD, -1, -1}};
            check("low", kinds[i].scheme, kinds[i].ram, line, -1, list, line == 12 ? 2 : 1);
        }
    }
}

static void test_address_shorts(void **state) {
    (void)state;
    for (size_t i = 0; i < kind_count(); i++) {
        for (int a = 0; a < 13; a++) {
            for (int b = a + 1; b < 13; b++) {
                struct cart_faults faults;
                if (skipped(&kinds[i])) {
                    continue;
                }
                cart_faults_none(kinds[i].scheme, &faults);
                faults.address_shorts = 1;
                faults.address_short[0][0] = (uint8_t)(b % 2 ? a : b);
                faults.address_short[0][1] = (uint8_t)(b % 2 ? b : a);
                measure(kinds[i].scheme, kinds[i].ram, &faults, 9, true);
                const struct expected list = {FINDING_CART_ADDRESS_SHORTED, a, b};
                check("short", kinds[i].scheme, kinds[i].ram, a, b, &list, 1);
            }
        }
    }
}

static void check_without_image(int scheme, int a, int b) {
    struct cart_faults faults;
    cart_faults_none(scheme, &faults);
    if (a == b) {
        faults.address_open = (uint16_t)(1U << a);
    } else {
        faults.address_shorts = 1;
        faults.address_short[0][0] = (uint8_t)a;
        faults.address_short[0][1] = (uint8_t)b;
    }
    measure(scheme, false, &faults, 12, false);
    const struct finding *finding = &result.findings[0];
    if (result.verdict != VERDICT_INCONCLUSIVE || result.finding_count != 1 || finding->bit != a ||
        finding->reg != (a == b ? -1 : b)) {
        stand_print("without an image", &result);
        fail_msg("scheme %d, A%d A%d", scheme, a, b);
    }
}

/* Nothing to compare with: every open and every short of a cartridge without banks is a doubt of its own. 2
 * KiB have no A11 that could be open. */
static void test_lines_without_an_image(void **state) {
    (void)state;
    for (int scheme = WIRE_2K; scheme <= WIRE_4K; scheme++) {
        for (int a = 0; a < 12; a++) {
            for (int b = a; b < 13; b++) {
                if (scheme != WIRE_2K || a != 11 || b != 11) {
                    check_without_image(scheme, a, b);
                }
            }
        }
    }
    struct cart_faults none;
    cart_faults_none(WIRE_2K, &none);
    measure(WIRE_2K, false, &none, 12, false);
    assert_int_equal(result.verdict, VERDICT_PASS);
}

/* With banks a broken line hits hotspots as well, and may be called otherwise: but it is no pass. */
static void test_lines_of_banks_without_an_image(void **state) {
    (void)state;
    for (int scheme = WIRE_F8; scheme <= WIRE_F4; scheme++) {
        const uint8_t *const on = cover_image(scheme, false);
        for (int line = 0; line < 12; line += small() ? 4 : 1) {
            struct cart_faults faults;
            struct reader_order order;
            cart_faults_none(scheme, &faults);
            faults.address_open = (uint16_t)(1U << line);
            stand_order(scheme, false, on, &order);
            stand_measure(on, &faults, 13, &order, &seen);
            reader_limits_default(&limits);
            reader_judge(&seen, NULL, &limits, &result);
            if (result.verdict == VERDICT_PASS) {
                fail_msg("scheme %d, A%d", scheme, line);
            }
        }
    }
}

static void test_data(void **state) {
    (void)state;
    for (size_t i = 0; i < kind_count(); i++) {
        for (int line = 0; line < 8; line++) {
            for (int how = 0; how < 3; how++) {
                struct cart_faults faults;
                if (skipped(&kinds[i])) {
                    continue;
                }
                cart_faults_none(kinds[i].scheme, &faults);
                *(how == 0   ? &faults.data_low
                  : how == 1 ? &faults.data_high
                             : &faults.data_open) = (uint8_t)(1U << line);
                measure(kinds[i].scheme, kinds[i].ram, &faults, 10, true);
                const struct expected list = {how == 2 ? FINDING_CART_DATA_OPEN : FINDING_CART_DATA_STUCK,
                                              line, -1};
                check(how == 0   ? "data low"
                      : how == 1 ? "data high"
                                 : "data open",
                      kinds[i].scheme, kinds[i].ram, line, -1, &list, 1);
            }
        }
        for (int a = 0; a < 8; a++) {
            for (int b = a + 1; b < 8; b++) {
                struct cart_faults faults;
                if (skipped(&kinds[i])) {
                    continue;
                }
                cart_faults_none(kinds[i].scheme, &faults);
                faults.data_shorts = 1;
                faults.data_short[0][0] = (uint8_t)a;
                faults.data_short[0][1] = (uint8_t)b;
                measure(kinds[i].scheme, kinds[i].ram, &faults, 11, true);
                const struct expected list = {FINDING_CART_DATA_SHORTED, a, b};
                check("data short", kinds[i].scheme, kinds[i].ram, a, b, &list, 1);
            }
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good),
        cmocka_unit_test(test_address_open),
        cmocka_unit_test(test_address_low),
        cmocka_unit_test(test_address_shorts),
        cmocka_unit_test(test_lines_without_an_image),
        cmocka_unit_test(test_lines_of_banks_without_an_image),
        cmocka_unit_test(test_data),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
