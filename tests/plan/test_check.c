/* Plan `cartridge`: items, seals, and what its CRC is. */
#include "base/scheme.h"
#include "core/cart.h"
#include "plan/check.h"
#include "plan/plan_file.h"
#include "plan/plan_text.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
/* after the headers that it needs */
#include <cmocka.h>

/* "Catalogue of parametrised CRC algorithms", CRC-16/XMODEM: width 16, poly 0x1021, init 0, nothing reflected
 * or complemented, check 0x31C3. */
static void the_catalogues_check_value(void **state) {
    (void)state;
    assert_int_equal(check_crc(0, (const uint8_t *)"123456789", 9), 0x31C3);
}

static uint8_t sum_of(const uint8_t *bytes, int page) {
    uint8_t sum = (uint8_t)page;
    for (int i = 0; i < SCHEME_PAGE; i++) {
        sum = (uint8_t)(sum + bytes[i]);
    }
    return sum;
}

static void fill(uint8_t *bytes, unsigned seed) {
    for (int i = 0; i < SCHEME_PAGE; i++) {
        seed = seed * 1103515245u + 12345u;
        bytes[i] = (uint8_t)(seed >> 16);
    }
}

static void a_sealed_page_ends_with_zero_and_in_its_own_place_only(void **state) {
    (void)state;
    static const int places[] = {0, 1, 100, 251, 252};
    uint8_t bytes[SCHEME_PAGE], before[SCHEME_PAGE];
    for (int page = 0; page < SCHEME_PAGES_MAX; page++) {
        const int at = places[page % 5];
        fill(bytes, (unsigned)page);
        memcpy(before, bytes, sizeof before);
        check_seal(bytes, page, at);
        assert_int_equal(check_crc(check_crc_start(page), bytes, SCHEME_PAGE), 0);
        assert_int_equal(sum_of(bytes, page), 0);
        assert_memory_equal(bytes, before, (size_t)at);
        assert_memory_equal(bytes + at + 4, before + at + 4, (size_t)(SCHEME_PAGE - at - 4));
        for (int other = 0; other < SCHEME_PAGES_MAX; other++) {
            if (other != page) {
                assert_int_not_equal(check_crc(check_crc_start(other), bytes, SCHEME_PAGE), 0);
            }
        }
    }
}

/* One wrong byte's bits alone are left in the register, and stand where the byte does [A: the CRC is linear].
 */
static void run_back_a_wrong_byte_comes_out_at_its_place(void **state) {
    (void)state;
    uint8_t bytes[SCHEME_PAGE];
    unsigned random = 7;
    for (int i = 0; i < 500; i++) {
        random = random * 1103515245u + 12345u;
        const int page = (int)(random >> 8 & 127), at = (int)(random >> 15 & 255);
        const uint8_t flip = (uint8_t)((random >> 23) | 1);
        fill(bytes, random);
        check_seal(bytes, page, 60);
        bytes[at] ^= flip;
        uint16_t crc = check_crc(check_crc_start(page), bytes, SCHEME_PAGE);
        for (int back = SCHEME_PAGE; back > at; back--) {
            crc = check_crc_back(crc);
        }
        assert_int_equal(crc, flip << 8);
    }
}

static void every_item_packs_and_unpacks(void **state) {
    (void)state;
    for (uint32_t value = 0; value < 1u << 20; value += 37) {
        assert_int_equal(check_pack(check_unpack(value)), value);
    }
    const struct check_item item =
        check_unpack(0x13A02); /* as a person reads it: page $3A, CRC right, sum wrong */
    assert_int_equal(item.kind, CHECK_PAGE);
    assert_int_equal(item.place, 0x3A);
    assert_int_equal(item.what, 2);
}

/* 1 start, pages that show, 4 manners by banks, 15 neighbours, a bank's vectors each, 8 backgrounds, 4 of
 * quiet, rounds and errors [A]. */
static void a_round_has_so_many_items(void **state) {
    (void)state;
    static const struct {
        int scheme;
        bool ram;
        size_t count;
    } cases[] = {{WIRE_2K, false, 1 + 8 + 1 + 4 + 2},
                 {WIRE_2K, true, 1 + 8 + 1 + 8 + 4 + 2},
                 {WIRE_4K, true, 1 + 15 + 1 + 8 + 4 + 2},
                 {WIRE_F8, false, 1 + 32 + 8 + 15 + 2 + 4 + 2},
                 {WIRE_F4, true, 1 + 120 + 32 + 15 + 8 + 8 + 4 + 2}};
    struct check_item list[CHECK_ITEMS_MAX];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct cart_check check = {.scheme = (uint8_t)cases[i].scheme, .ram = cases[i].ram};
        assert_int_equal(check_items(&check, list), cases[i].count);
    }
}

/* The host's table of schemes against the board's own. */
static void host_and_board_mean_the_same_schemes(void **state) {
    (void)state;
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        assert_int_equal(scheme_bytes(scheme), cart_size((uint8_t)scheme));
        assert_int_equal(scheme_banks(scheme), cart_banks((uint8_t)scheme));
        for (int address = 0x1000; address < 0x2000; address++) {
            const uint8_t bank = cart_hotspot((uint8_t)scheme, (uint16_t)address);
            assert_int_equal(scheme_selects(scheme, (uint16_t)address), bank == CART_NO_BANK ? -1 : bank);
        }
        for (size_t offset = 0; offset < scheme_bytes(scheme); offset += 255) {
            int bank;
            const uint16_t address = scheme_address(scheme, offset, &bank);
            assert_true(address >= 0x1000 && address < 0x2000);
            assert_int_equal(scheme_offset(scheme, bank, address), offset);
        }
        int back;
        assert_true(scheme_from_name(scheme_name(scheme), &back));
        assert_int_equal(back, scheme);
    }
    int none, bank = 1;
    assert_int_equal(scheme_address(WIRE_SCHEMES, 4096, &bank), 0);
    assert_int_equal(bank, 0);
    assert_false(scheme_from_name("", &none) || scheme_from_name("F", &none) ||
                 scheme_from_name("F5", &none) || scheme_from_name("F88", &none));
}

static void its_plan_file_reads_back(void **state) {
    (void)state;
    struct problem problem = {0};
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        struct plan *plan = NULL, *back = NULL;
        assert_true(check_plan(scheme, scheme % 2 == 1, STANDARD_PAL, &plan, &problem));
        char *text = plan_text(plan);
        assert_true(plan_file_text("text", text, STANDARD_PAL, &back, &problem));
        assert_int_equal(back->kind, PLAN_CARTRIDGE);
        assert_int_equal(back->check.scheme, scheme);
        assert_int_equal(back->check.ram, scheme % 2 == 1);
        assert_int_equal(back->standard, STANDARD_PAL);
        free(text);
        plan_free(plan);
        plan_free(back);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_catalogues_check_value),
        cmocka_unit_test(a_sealed_page_ends_with_zero_and_in_its_own_place_only),
        cmocka_unit_test(run_back_a_wrong_byte_comes_out_at_its_place),
        cmocka_unit_test(every_item_packs_and_unpacks),
        cmocka_unit_test(a_round_has_so_many_items),
        cmocka_unit_test(host_and_board_mean_the_same_schemes),
        cmocka_unit_test(its_plan_file_reads_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
