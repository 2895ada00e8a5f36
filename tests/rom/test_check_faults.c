/*
 * What rounds of plan `cartridge` say of wrong bytes, banks and vectors, on the console model with the faults
 * of virtual/cart_model.h. Arithmetic [A]: which items a fault makes wrong; the single byte that CRC and sum
 * allow, by trying all that there are, with plan/check.c's CRC (its catalogue value is checked elsewhere).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "rom/check_faulty.h"
#include "rom/check_kernel.h"

enum { PLACES = 48, TOGETHER = 8 };

/* ---- bytes ---- */

/* How many single bytes of a page as it is read would, were they others, make CRC and sum right. */
static int explanations(const uint8_t *page, int number) {
    uint16_t crc = check_crc(check_crc_start(number), page, SCHEME_PAGE);
    uint8_t sum = (uint8_t)number;
    int found = 0;
    for (int i = 0; i < SCHEME_PAGE; i++) {
        sum = (uint8_t)(sum + page[i]);
    }
    for (int at = SCHEME_PAGE - 1; at >= 0; at--) {
        for (int bit = 0; bit < 8; bit++) { /* back by a byte */
            crc = (uint16_t)(crc & 1 ? (crc ^ 0x1021) >> 1 | 0x8000 : crc >> 1);
        }
        const uint8_t flip = (uint8_t)(crc >> 8);
        found += (crc & 0xFF) == 0 && flip != 0 && (uint8_t)(page[at] - (page[at] ^ flip)) == sum;
    }
    return found;
}

/* In a bank that does not run the check, and none of the hotspots' bytes, which are read of either bank. */
static bool may_be_wrong(size_t offset) {
    const size_t bytes = scheme_bank_bytes(plan->check.scheme);
    const size_t at = offset % bytes, bank = offset / bytes;
    const bool hidden = !check_page_shows(&plan->check, (int)(offset / SCHEME_PAGE));
    const int last = scheme_banks(plan->check.scheme) - 1;
    return !hidden && at < bytes - 0x20 && (int)bank != last;
}

static int bytes_found, bytes_ambiguous, bytes_fatal, bytes_lost;

static void byte_is_found(const struct cart_byte *byte) {
    const int number = byte->offset / SCHEME_PAGE, place = byte->offset % SCHEME_PAGE;
    uint8_t page[SCHEME_PAGE];
    memcpy(page, image->bytes + (size_t)number * SCHEME_PAGE, sizeof page);
    page[place] ^= byte->exclusive_or;
    assert_int_not_equal(what_of(CHECK_PAGE, number), 0);
    const int flip = what_of(CHECK_XOR, number);
    if (explanations(page, number) > 1) {
        assert_int_equal(flip, 0);
        bytes_ambiguous++;
        return;
    }
    assert_int_equal(flip, byte->exclusive_or);
    assert_int_equal(what_of(CHECK_BYTE, number), place);
    bytes_found++;
}

/* Each in a page of its own. */
static void add_byte(struct cart_faults *faults, uint64_t *random) {
    for (;;) {
        const size_t offset = next_random(random) % scheme_bytes(plan->check.scheme);
        bool taken = !may_be_wrong(offset);
        for (int i = 0; i < faults->bytes; i++) {
            taken = taken || faults->byte[i].offset / SCHEME_PAGE == (int)(offset / SCHEME_PAGE);
        }
        if (!taken) {
            faults->byte[faults->bytes++] =
                (struct cart_byte){(uint16_t)offset, (uint8_t)(1 + next_random(random) % 255)};
            return;
        }
    }
}

static void test_bytes(void **state) {
    (void)state;
    static const struct {
        int scheme;
        bool ram;
    } cases[] = {{WIRE_F8, false}, {WIRE_F6, true}, {WIRE_F4, true}};
    uint64_t random = SEED;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        begin(cases[i].scheme, cases[i].ram);
        for (int run = 0; run < (is_small() ? 1 : PLACES / TOGETHER); run++) {
            struct cart_faults faults = good();
            while (faults.bytes < TOGETHER) {
                add_byte(&faults, &random);
            }
            must_watch(&faults, NULL, "wrong bytes");
            assert_int_equal(wrong_of(CHECK_PAGE), TOGETHER);
            for (int byte = 0; byte < TOGETHER; byte++) {
                byte_is_found(&faults.byte[byte]);
            }
            assert_int_equal(wrong_of(CHECK_HOTSPOT) + wrong_of(CHECK_NEIGHBOUR) + wrong_of(CHECK_VECTORS),
                             0);
        }
        end();
    }
    printf("bytes: %d found, %d that CRC and sum leave open\n", bytes_found, bytes_ambiguous);
}

static struct encoder e;

/* What the program does not use. */
static bool is_fill(size_t offset) {
    for (int i = 0; i < e.item_count; i++) {
        const struct item *item = &e.items[i];
        if (item->kind == ITEM_FILL && offset >= item->offset && offset < (size_t)item->offset + item->size) {
            return true;
        }
    }
    return false;
}

/* Where there is one bank, a wrong byte may be one of the program that looks for it: what that says then is
 * not to be relied on, so it is only counted here how often it is right all the same. */
static void one_wrong_byte(uint64_t *random) {
    struct cart_faults faults = good();
    const uint16_t offset = (uint16_t)(next_random(random) % scheme_bytes(plan->check.scheme));
    const int page = offset / SCHEME_PAGE;
    faults.bytes = 1;
    faults.byte[0] = (struct cart_byte){offset, (uint8_t)(1 + next_random(random) % 255)};
    if (is_fill(offset)) {
        must_watch(&faults, NULL, "a byte");
        assert_int_equal(wrong_of(CHECK_PAGE), 1);
        byte_is_found(&faults.byte[0]);
    } else if (watch(&faults, NULL) && wrong_of(CHECK_PAGE) == 1 && what_of(CHECK_PAGE, page) != 0) {
        bytes_fatal++;
    } else {
        bytes_lost++;
    }
}

static void test_bytes_of_one_bank(void **state) {
    (void)state;
    uint64_t random = SEED + 1;
    struct problem problem = {0};
    bytes_found = bytes_ambiguous = 0;
    for (int scheme = WIRE_2K; scheme <= WIRE_4K; scheme++) {
        begin(scheme, false);
        const struct kernel_options options = {.plan = plan, .hash = image->hash, .hold = 1};
        encoder_start(&e, scheme_bytes(scheme));
        check_kernel_emit(&e, &options);
        assert_true(encoder_finish(&e, &problem));
        for (int i = 0; i < (is_small() ? 8 : PLACES / 4); i++) {
            one_wrong_byte(&random);
        }
        end();
    }
    printf("bytes of one bank: %d found, %d left open; of the program itself %d found to the page, %d not\n",
           bytes_found, bytes_ambiguous, bytes_fatal, bytes_lost);
}

/* ---- banks ---- */

static void hotspot_selects(int bank, int other) {
    const int all = (1 << scheme_banks(plan->check.scheme)) - 1;
    struct cart_faults faults = good();
    faults.selects[bank] = (int8_t)other;
    must_watch(&faults, NULL, "a hotspot");
    for (int manner = 0; manner < CHECK_MANNERS; manner++) {
        for (int to = 0; to < scheme_banks(plan->check.scheme); to++) {
            const int what = what_of(CHECK_HOTSPOT, manner * 8 + to);
            /* From the bank itself: it may have been there before. */
            assert_int_equal(to == bank ? what | 1 << bank : what, to == bank ? all : 0);
        }
    }
    assert_int_equal(wrong_of(CHECK_NEIGHBOUR), 0);
}

static void test_hotspots(void **state) {
    (void)state;
    for (int scheme = WIRE_F8; scheme <= WIRE_F4; scheme++) {
        begin(scheme, false);
        const int banks = scheme_banks(scheme);
        /* Of F4 as many as there is time for: each of its rounds has many bad pages. */
        for (int bank = is_small() ? banks - 1 : 0; bank < banks; bank += scheme - WIRE_F8 + 1) {
            hotspot_selects(bank, -1);
            hotspot_selects(bank, (bank + 1) % banks);
        }
        end();
    }
}

/* A cartridge that takes no notice of writes. */
static void deaf_write(void *state, uint16_t address, uint8_t value) {
    if (scheme_selects(plan->check.scheme, address) < 0) {
        check_slot_write(state, address, value);
    }
}

static void test_write_only(void **state) {
    (void)state;
    const struct cartridge slot = {
        .state = &check_cart, .read = check_slot_read, .write = deaf_write, .pass = check_slot_pass};
    begin(WIRE_F6, false);
    const struct cart_faults faults = good();
    must_watch(&faults, &slot, "no writes");
    for (int to = 0; to < 4; to++) {
        assert_int_equal(what_of(CHECK_HOTSPOT, CHECK_WRITE * 8 + to), 0x0F ^ 1 << to);
        assert_int_equal(what_of(CHECK_HOTSPOT, CHECK_READ * 8 + to), 0);
        assert_int_equal(what_of(CHECK_HOTSPOT, CHECK_INDEXED_READ * 8 + to), 0);
        assert_int_equal(what_of(CHECK_HOTSPOT, CHECK_INDEXED_WRITE * 8 + to), 0);
    }
    end();
}

/* A cartridge that misses a hotspot whose access is followed by one at the same place below $1000: what an
 * indexed access over a page's end does, and no other [H MCS6500 Hardware Manual]. */
static int hot_low, bank_before;

static uint8_t hasty_read(void *state, uint16_t address, uint8_t bus) {
    hot_low = scheme_selects(plan->check.scheme, address) >= 0 ? address & 0xFF : -1;
    bank_before = check_cart.bank;
    return check_slot_read(state, address, bus);
}

static void hasty_pass(void *state, uint16_t address, uint8_t bus) {
    check_slot_pass(state, address, bus);
    check_cart.bank = address == hot_low ? (uint8_t)bank_before : check_cart.bank;
    hot_low = -1;
}

static void test_extra_cycles(void **state) {
    (void)state;
    const struct cartridge slot = {
        .state = &check_cart, .read = hasty_read, .write = check_slot_write, .pass = hasty_pass};
    hot_low = -1;
    begin(WIRE_F6, false);
    const struct cart_faults faults = good();
    must_watch(&faults, &slot, "no extra cycles");
    for (int to = 0; to < 4; to++) {
        assert_int_equal(what_of(CHECK_HOTSPOT, CHECK_READ * 8 + to), 0);
        assert_int_equal(what_of(CHECK_HOTSPOT, CHECK_WRITE * 8 + to), 0);
        assert_int_equal(what_of(CHECK_HOTSPOT, CHECK_INDEXED_READ * 8 + to), 0x0F ^ 1 << to);
        assert_int_equal(what_of(CHECK_HOTSPOT, CHECK_INDEXED_WRITE * 8 + to), 0x0F ^ 1 << to);
        /* It was a store: what the cartridge has at the hotspot stands a page's end away. */
        const uint16_t hotspot = scheme_hotspot(WIRE_F6, to);
        assert_int_equal(check_console.riot.ram[(hotspot & 0xFF) - 0x80], image->bytes[hotspot & 0xFFF]);
    }
    end();
}

static void neighbour_switches(int line) {
    const int scheme = plan->check.scheme, banks = scheme_banks(scheme);
    for (int hotspot = 0; hotspot < banks; hotspot++) {
        if ((is_small() || banks > 2) && (hotspot + line) % banks != 0) {
            continue; /* each line once, each hotspot too */
        }
        struct cart_faults faults = good();
        faults.also_at = (uint16_t)(scheme_hotspot(scheme, hotspot) ^ 1 << line);
        faults.also_selects = (int8_t)((hotspot + 1) % banks);
        if (scheme_selects(scheme, faults.also_at) >= 0) {
            continue;
        }
        must_watch(&faults, NULL, "a neighbour");
        if ((what_of(CHECK_NEIGHBOUR, line) & 1 << hotspot) == 0) {
            fail_msg("%s: the neighbour of hotspot %d by A%d switches, unseen", scheme_name(scheme), hotspot,
                     line);
        }
    }
}

static void test_neighbours(void **state) {
    (void)state;
    for (int scheme = WIRE_F8; scheme <= WIRE_F4; scheme++) {
        begin(scheme, false);
        for (int line = 0; line < 12 && scheme != WIRE_F6; line += is_small() ? 5 : 1) {
            neighbour_switches(line);
        }
        const int banks = scheme_banks(scheme);
        const int beside[] = {scheme_hotspot(scheme, 0) - 1, scheme_hotspot(scheme, banks - 1) + 1};
        for (int i = 0; i < 2; i++) {
            struct cart_faults faults = good();
            faults.also_at = (uint16_t)beside[i];
            faults.also_selects = 0;
            must_watch(&faults, NULL, "beside the hotspots");
            assert_int_equal(what_of(CHECK_NEIGHBOUR, 13 + i), 1);
        }
        end();
    }
}

static void test_vectors(void **state) {
    (void)state;
    static const struct {
        uint16_t at;
        int what;
    } words[] = {{0xFFC, 1}, {0xFFD, 1}, {0xFFE, 2}, {0xFFF, 2}, {0xFFA, 4}, {0xFFB, 4}};
    begin(WIRE_F8, false);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        struct cart_faults faults = good();
        faults.bytes = 1;
        faults.byte[0] = (struct cart_byte){words[i].at, 0x10};
        must_watch(&faults, NULL, "a vector");
        assert_int_equal(what_of(CHECK_VECTORS, 0), words[i].what);
        assert_int_equal(what_of(CHECK_VECTORS, 1), 0);
        assert_int_not_equal(what_of(CHECK_PAGE, 15), 0);
    }
    end();
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bytes),        cmocka_unit_test(test_bytes_of_one_bank),
        cmocka_unit_test(test_hotspots),     cmocka_unit_test(test_write_only),
        cmocka_unit_test(test_extra_cycles), cmocka_unit_test(test_neighbours),
        cmocka_unit_test(test_vectors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
