/*
 * The cartridge under test at its contacts: every fault against what its definition says, by arithmetic.
 * Figures that only the model has (150 ns, 40 ns, 100 ns) are said so in cart_model.h. [P]
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "virtual/cart_model.h"

enum { WINDOW = 4096, A12 = 0x1000, PULL = 0xFF };

static struct cart_model model;
static struct cart_faults faults;
static uint8_t image[32768];
static uint64_t now;

static uint32_t next_random(uint64_t *state) {
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(*state >> 33);
}

static int set_up(void **state) {
    uint64_t random = 7;
    (void)state;
    for (size_t i = 0; i < sizeof image; i++) {
        image[i] = (uint8_t)next_random(&random);
    }
    cart_faults_none(WIRE_4K, &faults);
    return 0;
}

static void insert(int scheme, bool ram) {
    cart_model_init(&model, scheme, ram, image, &faults, 1);
    now = 1000;
    cart_model_power(&model, now, true);
}

static uint8_t at(uint16_t address) {
    return cart_model_cycle(&model, address, PULL, false);
}

/* In nanoseconds: an access that lasts so long, seen at its end. */
static uint8_t lasting(uint16_t address, uint64_t ns) {
    cart_model_drive(&model, now, address, 0, 0);
    now += ns;
    return cart_model_data(&model, now, PULL);
}

/* ---- a good one ---- */

static void test_every_byte_of_every_scheme(void **state) {
    (void)state;
    /* bytes, banks, first hotspot: common practice, no source [P] */
    static const struct {
        int scheme, banks, hotspot;
        size_t bank;
    } schemes[] = {{WIRE_2K, 1, 0, 2048},
                   {WIRE_4K, 1, 0, 4096},
                   {WIRE_F8, 2, 0x1FF8, 4096},
                   {WIRE_F6, 4, 0x1FF6, 4096},
                   {WIRE_F4, 8, 0x1FF4, 4096}};
    for (size_t i = 0; i < sizeof schemes / sizeof schemes[0]; i++) {
        for (int ram = 0; ram < 2; ram++) {
            insert(schemes[i].scheme, ram);
            assert_int_equal(model.bank, schemes[i].banks - 1);
            for (int bank = 0; bank < schemes[i].banks; bank++) {
                for (unsigned address = ram ? 0x1100 : 0x1000; address < 0x1FF4; address++) {
                    if (schemes[i].banks > 1 && (address & 0xFF) == 0) {
                        at((uint16_t)(schemes[i].hotspot + bank));
                    }
                    const size_t offset = schemes[i].bank * (size_t)bank + address % schemes[i].bank;
                    if (at((uint16_t)address) != image[offset]) {
                        fail_msg("scheme %zu ram %d bank %d $%X", i, ram, bank, address);
                    }
                }
            }
        }
    }
}

static void test_times(void **state) {
    (void)state;
    faults.slow[faults.slow_pages++] = (struct cart_slow){5, 333};
    insert(WIRE_4K, false);
    lasting(0x1234, 1000);
    const uint8_t before = image[0x234];
    assert_true(before != image[0x5A5] && before != image[0x6A5]);
    cart_model_drive(&model, now, 0x15A5, 0, 0);
    assert_int_equal(cart_model_data(&model, now + 332, PULL), before);
    assert_int_equal(cart_model_data(&model, now + 333, PULL), image[0x5A5]);
    now += 1000;
    lasting(0x1234, 1000);
    cart_model_drive(&model, now, 0x16A5, 0, 0);
    assert_int_equal(cart_model_data(&model, now + CART_ACCESS_NS - 1, PULL), before);
    assert_int_equal(cart_model_data(&model, now + CART_ACCESS_NS, PULL), image[0x6A5]);
    now += 1000;
    cart_model_drive(&model, now, 0x0080, 0, 0);
    assert_int_equal(cart_model_data(&model, now + CART_RELEASE_NS - 1, PULL), image[0x6A5]);
    assert_int_equal(cart_model_data(&model, now + CART_RELEASE_NS, 0xA5), 0xA5);
    assert_int_equal(cart_model_data(&model, now + CART_RELEASE_NS, 0x5A), 0x5A);
}

static void test_a_late_release_and_a_late_start(void **state) {
    (void)state;
    faults.release_ns = 777;
    faults.late_us = 3000;
    insert(WIRE_4K, false);
    assert_int_equal(lasting(0x1234, 2999000), PULL);
    assert_int_equal(lasting(0x1235, 1000), image[0x235]);
    cart_model_drive(&model, now, 0x0080, 0, 0);
    assert_int_equal(cart_model_data(&model, now + 776, 0xFF), image[0x235]);
    assert_int_equal(cart_model_data(&model, now + 777, 0xFF), 0xFF);
    cart_model_power(&model, now + 1000, false);
    now += 2000;
    assert_int_equal(lasting(0x1234, 5000000), PULL);
}

/* ---- banks ---- */

static void test_a_hotspot_acts_when_it_stands_still(void **state) {
    (void)state;
    insert(WIRE_F8, false);
    lasting(0x1234, 1000);
    lasting(0x1FF8, CART_STEADY_NS - 1); /* passed through */
    lasting(0x1234, 1000);
    assert_int_equal(model.bank, 1);
    assert_int_equal(cart_model_data(&model, now, PULL), image[4096 + 0x234]);
    lasting(0x1FF8, CART_STEADY_NS);
    assert_int_equal(lasting(0x1234, 1000), image[0x234]);
    /* its own byte is the new bank's */
    assert_int_equal(lasting(0x1FF9, CART_ACCESS_NS), image[4096 + 0xFF9]);
    lasting(0x0FF8, 1000); /* A12 low: no access */
    assert_int_equal(model.bank, 1);
}

static void test_hotspots_that_are_wrong(void **state) {
    (void)state;
    for (int from = 0; from < 8; from++) {
        for (int to = -1; to < 8; to++) {
            cart_faults_none(WIRE_F4, &faults);
            faults.selects[from] = (int8_t)to;
            insert(WIRE_F4, false);
            for (int before = 0; before < 8; before++) {
                for (int write = 0; write < 2; write++) {
                    if (before == from) {
                        continue;
                    }
                    at((uint16_t)(0x1FF4 + before));
                    cart_model_cycle(&model, (uint16_t)(0x1FF4 + from), 0x12, write);
                    const int bank = to < 0 ? before : to;
                    assert_int_equal(at(0x1345), image[4096 * bank + 0x345]);
                }
            }
        }
    }
}

static void test_one_more_hotspot(void **state) {
    (void)state;
    faults.also_at = 0x1345;
    faults.also_selects = 2;
    insert(WIRE_F6, false);
    assert_int_equal(at(0x1346), image[3 * 4096 + 0x346]);
    assert_int_equal(at(0x1345), image[2 * 4096 + 0x345]);
    assert_int_equal(at(0x1346), image[2 * 4096 + 0x346]);
    at(0x1FF6);
    at(0x0345);
    assert_int_equal(at(0x1346), image[0x346]);
}

static void test_the_bank_that_comes_up(void **state) {
    (void)state;
    bool seen[8] = {false};
    for (int bank = 0; bank < 8; bank++) {
        faults.first_bank = (uint8_t)bank;
        insert(WIRE_F4, false);
        assert_int_equal(at(0x1345), image[4096 * bank + 0x345]);
        insert(WIRE_F8, false);
        assert_int_equal(at(0x1345), image[4096 * (bank % 2) + 0x345]);
    }
    faults.first_bank_random = true;
    insert(WIRE_F4, false);
    for (int i = 0; i < 200; i++) {
        seen[model.bank] = true;
        cart_model_power(&model, now += 1000, false);
        cart_model_power(&model, now += 1000, true);
    }
    for (int bank = 0; bank < 8; bank++) {
        assert_true(seen[bank]);
    }
}

/* ---- lines ---- */

/* Every address, A12 low ones as well, against the one that arrives by `seen`. */
static void expect_addresses(unsigned (*seen)(unsigned address, int one, int other), int one, int other) {
    insert(WIRE_4K, false);
    for (unsigned address = 0; address < 0x2000; address++) {
        const unsigned arrives = seen(address, one, other);
        const uint8_t wanted = arrives & A12 ? image[arrives & 0xFFF] : PULL;
        const uint8_t shown = at((uint16_t)address);
        if (shown != wanted) {
            fail_msg("lines %d %d, $%04X: $%02X instead of $%02X", one, other, address, shown, wanted);
        }
    }
}

static unsigned high(unsigned address, int one, int other) {
    (void)other;
    return address | 1u << one;
}

static unsigned low(unsigned address, int one, int other) {
    (void)other;
    return address & ~(1u << one);
}

static unsigned both(unsigned address, int one, int other) {
    const bool is = (address >> one & 1) && (address >> other & 1);
    return is ? address : address & ~(1u << one | 1u << other);
}

static void test_address_lines(void **state) {
    (void)state;
    for (int one = 0; one < 13; one++) {
        cart_faults_none(WIRE_4K, &faults);
        faults.address_open = (uint16_t)(1 << one);
        expect_addresses(high, one, 0);
        cart_faults_none(WIRE_4K, &faults);
        faults.address_high = (uint16_t)(1 << one);
        expect_addresses(high, one, 0);
        cart_faults_none(WIRE_4K, &faults);
        faults.address_low = (uint16_t)(1 << one);
        expect_addresses(low, one, 0);
        for (int other = 0; other < one; other++) {
            cart_faults_none(WIRE_4K, &faults);
            faults.address_shorts = 1;
            faults.address_short[0][0] = (uint8_t)one;
            faults.address_short[0][1] = (uint8_t)other;
            expect_addresses(both, one, other);
        }
    }
}

static void test_data_lines(void **state) {
    (void)state;
    for (int one = 0; one < 8; one++) {
        const uint8_t mask = (uint8_t)(1 << one);
        for (int kind = 0; kind < 3; kind++) {
            cart_faults_none(WIRE_4K, &faults);
            *(kind == 0 ? &faults.data_low : kind == 1 ? &faults.data_high : &faults.data_open) = mask;
            insert(WIRE_4K, false);
            for (unsigned i = 0; i < WINDOW; i++) {
                const uint8_t bus = (uint8_t)(i >> 4);
                const unsigned bit = kind == 0 ? 0 : kind == 1 ? mask : bus & mask;
                assert_int_equal(cart_model_cycle(&model, (uint16_t)(A12 | i), bus, false),
                                 (image[i] & ~mask) | bit);
                assert_int_equal(cart_model_cycle(&model, (uint16_t)i, bus, true), bus);
            }
        }
        for (int other = 0; other < one; other++) {
            const unsigned pair = mask | 1u << other;
            cart_faults_none(WIRE_4K, &faults);
            faults.data_shorts = 1;
            faults.data_short[0][0] = (uint8_t)one;
            faults.data_short[0][1] = (uint8_t)other;
            insert(WIRE_4K, false);
            for (unsigned i = 0; i < WINDOW; i++) {
                assert_int_equal(at((uint16_t)(A12 | i)),
                                 (image[i] & pair) == pair ? image[i] : image[i] & ~pair);
            }
        }
    }
}

static void test_wrong_bytes(void **state) {
    (void)state;
    faults.byte[faults.bytes++] = (struct cart_byte){0x1234, 0x40};
    faults.byte[faults.bytes++] = (struct cart_byte){0x0321, 0x81};
    insert(WIRE_F8, false);
    assert_int_equal(at(0x1234), image[0x1234] ^ 0x40);
    assert_int_equal(at(0x1321), image[0x1321]);
    at(0x1FF8);
    assert_int_equal(at(0x1321), image[0x321] ^ 0x81);
    assert_int_equal(at(0x1234), image[0x234]);
    faults.bytes = 0;
    faults.byte[faults.bytes++] = (struct cart_byte){0x321, 0x81};
    insert(WIRE_2K, false); /* twice in the window */
    assert_int_equal(at(0x1321), image[0x321] ^ 0x81);
    assert_int_equal(at(0x1B21), image[0x321] ^ 0x81);
}

static void test_lines_held_with_a12_low(void **state) {
    (void)state;
    faults.held_low = 0x08;
    faults.held_high = 0x40;
    insert(WIRE_4K, false);
    for (unsigned bus = 0; bus < 256; bus++) {
        at(0x1234);
        /* driven from outside: low wins; floating: what is held */
        assert_int_equal(cart_model_bus(&model, 0x0080, 0xFF, (uint8_t)bus), bus & ~0x08u);
        assert_int_equal(cart_model_bus(&model, 0x0081, 0x00, (uint8_t)bus), (bus & ~0x08u) | 0x40);
        assert_int_equal(cart_model_bus(&model, 0x0082, 0xC0, (uint8_t)bus), bus & ~0x08u);
        assert_int_equal(at(0x1234), image[0x234]);
    }
}

static void test_without_a12_it_talks_all_the_time(void **state) {
    (void)state;
    faults.address_open = A12;
    insert(WIRE_4K, false);
    assert_int_equal(cart_model_bus(&model, 0x0234, 0xFF, 0x5A), image[0x234] & 0x5A);
    assert_int_equal(cart_model_bus(&model, 0x0235, 0x00, 0x5A), image[0x235]);
    assert_int_equal(cart_model_bus(&model, 0x0236, 0xC0, 0x5A), image[0x236] & (0x5A | 0x3F));
}

/* The share of accesses in which an open contact shows, of 200000 by seed: six deviations of the binomial.
 * [A]
 */
static void expect_share(unsigned wrong, unsigned most, double rate) {
    const double mean = most * rate, difference = wrong - mean;
    assert_true(difference * difference < 36 * mean * (1 - rate));
    assert_true(wrong > 0);
}

static void test_loose_contacts(void **state) {
    (void)state;
    enum { ACCESSES = 200000 };
    unsigned wrong[2] = {0, 0};
    for (int data = 0; data < 2; data++) {
        cart_faults_none(WIRE_4K, &faults);
        faults.loose_rate = 0x02000000; /* 1/128 */
        faults.loose_address = data ? 0 : 1 << 3;
        faults.loose_data = data ? 1 << 5 : 0;
        insert(WIRE_4K, false);
        for (unsigned i = 0; i < ACCESSES; i++) {
            const unsigned address = A12 | ((i * 37) & 0xFF7);
            const uint8_t byte = image[address & 0xFFF];
            const uint8_t bus = (uint8_t)~byte;
            const uint8_t seen = cart_model_cycle(&model, (uint16_t)address, bus, false);
            const uint8_t other = data ? byte ^ 0x20 : image[(address & 0xFFF) | 8];
            assert_true(seen == byte || seen == other);
            wrong[data] += seen != byte;
        }
    }
    /* an address line that is open shows only where the two bytes differ: nearly everywhere (255 of 256) */
    expect_share(wrong[0], ACCESSES, 255.0 / 256 / 128);
    expect_share(wrong[1], ACCESSES, 1.0 / 128);
}

/* ---- RAM ---- */

static void test_ram(void **state) {
    (void)state;
    insert(WIRE_F8, true);
    for (unsigned i = 0; i < 128; i++) {
        cart_model_cycle(&model, (uint16_t)(0x1000 + i), (uint8_t)(i * 3 + 1), true);
    }
    for (unsigned i = 0; i < 128; i++) {
        assert_int_equal(at((uint16_t)(0x1080 + i)), (uint8_t)(i * 3 + 1));
    }
    cart_model_cycle(&model, 0x1005, 0x77, false); /* a read there writes what is on the bus */
    assert_int_equal(at(0x1085), 0x77);
    at(0x1FF8);
    assert_int_equal(at(0x1085), 0x77); /* one RAM for all banks */
}

static void test_ram_takes_what_was_driven_last(void **state) {
    (void)state;
    insert(WIRE_4K, true);
    cart_model_drive(&model, now, 0x1010, 0, 0);
    cart_model_drive(&model, now + 400, 0x1010, 0xFF, 0x12);
    cart_model_drive(&model, now + 500, 0x1010, 0xFF, 0x34);
    cart_model_drive(&model, now + 838, 0x1010, 0, 0);
    cart_model_drive(&model, now + 846, 0x1090, 0, 0);
    now += 846 + CART_ACCESS_NS;
    assert_int_equal(cart_model_data(&model, now, PULL), 0x34);
    /* passed through: nothing is written */
    cart_model_drive(&model, now, 0x1010, 0xFF, 0x99);
    cart_model_drive(&model, now + CART_STEADY_NS - 1, 0x1090, 0, 0);
    assert_int_equal(cart_model_data(&model, now + 1000, PULL), 0x34);
}

/* An open input reads high; outside, who drives the line sees what it drives. */
static void test_an_open_data_line_to_ram(void **state) {
    (void)state;
    faults.data_open = 0x08;
    insert(WIRE_4K, true);
    cart_model_drive(&model, now, 0x1010, 0xFF, 0x40);
    assert_int_equal(cart_model_data(&model, now + 500, 0xFF), 0x40);
    now += 838;
    cart_model_drive(&model, now, 0x1090, 0, 0);
    assert_int_equal(cart_model_data(&model, now + 500, 0x00), 0x40);
    assert_int_equal(model.cells[0x10], 0x48);
}

static void test_missing_ram_floats(void **state) {
    (void)state;
    faults.no_ram = true;
    insert(WIRE_4K, true);
    cart_model_cycle(&model, 0x1005, 0x77, true);
    assert_int_equal(cart_model_cycle(&model, 0x1085, 0x3C, false), 0x3C);
    assert_int_equal(cart_model_cycle(&model, 0x1086, 0xC3, false), 0xC3);
    assert_int_equal(at(0x1100), image[0x100]);
}

/* ---- both ways to ask ---- */

static void any_faults(uint64_t *random, int scheme) {
    const unsigned kind = next_random(random) % 16, line = next_random(random) % 13;
    const uint8_t other = (uint8_t)((line + 1 + next_random(random) % 12) % 13);
    cart_faults_none(scheme, &faults);
    faults.address_open = kind == 1 ? (uint16_t)(1 << line) : 0;
    faults.address_low = kind == 2 ? (uint16_t)(1 << line) : 0;
    faults.address_shorts = kind == 3;
    faults.address_short[0][0] = (uint8_t)line;
    faults.address_short[0][1] = other;
    faults.data_open = kind == 4 ? (uint8_t)(1 << line % 8) : 0;
    faults.data_high = kind == 5 ? (uint8_t)(1 << line % 8) : 0;
    faults.data_shorts = kind == 6;
    faults.data_short[0][1] = (uint8_t)(1 + line % 7);
    faults.slow_pages = kind == 7;
    faults.slow[0] = (struct cart_slow){(uint8_t)line, (uint16_t)(300 + 100 * other)};
    faults.selects[0] = kind == 8 ? 1 : 0;
    faults.also_selects = kind == 9 ? 0 : -1;
    faults.also_at = 0x1F05;
    faults.held_low = kind == 10 ? 1 : 0;
    faults.held_high = kind == 11 ? 2 : 0;
    faults.release_ns = kind == 12 ? (uint16_t)(200 + 100 * line) : 0;
    faults.loose_address = kind == 13 ? 0x1084 : 0;
    faults.loose_data = kind == 13 ? 0x41 : 0;
    faults.loose_rate = 0x20000000;
    faults.ram_faults = kind == 14;
    faults.ram[0] = (struct cart_ram_fault){CART_RAM_INVERSION, 3, 1, 0, 4, 1, 1};
    faults.no_ram = kind == 15;
}

static uint16_t any_address(uint64_t *random, int scheme) {
    const uint32_t any = next_random(random);
    const uint16_t hotspot = scheme_hotspot(scheme, 0);
    switch (any % 6) {
    case 0:
        return (uint16_t)(0x1000 + (any >> 8 & 0xFF)); /* RAM, or what else is there */
    case 1:
        return (uint16_t)(hotspot != 0 ? hotspot + (any >> 8) % 8 : 0x1FF0) & 0x1FFF;
    case 2:
        return any >> 8 & 0xFFF;
    case 3:
        return 0x1F05;
    default:
        return (uint16_t)(0x1000 | (any >> 8 & 0xFFF));
    }
}

static void test_a_cycle_is_an_access_in_nanoseconds(void **state) {
    (void)state;
    static struct cart_model other;
    const bool small = getenv("SLOTJIG_TEST_SMALL") != NULL;
    int quick = 0;
    for (uint64_t seed = 1; seed <= (small ? 60 : 600); seed++) {
        uint64_t random = seed;
        const int scheme = (int)(next_random(&random) % WIRE_SCHEMES);
        const bool ram = next_random(&random) & 1;
        any_faults(&random, scheme);
        insert(scheme, ram);
        quick += model.quick;
        cart_model_init(&other, scheme, ram, image, &faults, 1);
        cart_model_power(&other, now, true);
        uint16_t before = 0;
        for (int i = 0; i < 2000; i++) {
            const uint16_t address = any_address(&random, scheme);
            const uint8_t bus = (uint8_t)next_random(&random);
            const bool write = next_random(&random) & 1;
            if (address == before) {
                continue; /* no new access */
            }
            before = address;
            const uint8_t cycle = cart_model_cycle(&model, address, bus, write);
            cart_model_drive(&other, now, address, write ? 0xFF : 0, bus);
            const uint8_t level = cart_model_data(&other, now + CART_LIMIT_NS, bus);
            now += CART_CYCLE_NS;
            if (cycle != level || model.bank != other.bank) {
                fail_msg("seed %d, access %d to $%04X: $%02X by the cycle, $%02X by the clock, banks %d %d",
                         (int)seed, i, address, cycle, level, model.bank, other.bank);
            }
        }
    }
    assert_true(quick > 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_every_byte_of_every_scheme, set_up),
        cmocka_unit_test_setup(test_times, set_up),
        cmocka_unit_test_setup(test_a_late_release_and_a_late_start, set_up),
        cmocka_unit_test_setup(test_a_hotspot_acts_when_it_stands_still, set_up),
        cmocka_unit_test_setup(test_hotspots_that_are_wrong, set_up),
        cmocka_unit_test_setup(test_one_more_hotspot, set_up),
        cmocka_unit_test_setup(test_the_bank_that_comes_up, set_up),
        cmocka_unit_test_setup(test_address_lines, set_up),
        cmocka_unit_test_setup(test_data_lines, set_up),
        cmocka_unit_test_setup(test_wrong_bytes, set_up),
        cmocka_unit_test_setup(test_lines_held_with_a12_low, set_up),
        cmocka_unit_test_setup(test_without_a12_it_talks_all_the_time, set_up),
        cmocka_unit_test_setup(test_loose_contacts, set_up),
        cmocka_unit_test_setup(test_ram, set_up),
        cmocka_unit_test_setup(test_ram_takes_what_was_driven_last, set_up),
        cmocka_unit_test_setup(test_an_open_data_line_to_ram, set_up),
        cmocka_unit_test_setup(test_missing_ram_floats, set_up),
        cmocka_unit_test_setup(test_a_cycle_is_an_access_in_nanoseconds, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
