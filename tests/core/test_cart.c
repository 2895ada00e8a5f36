/* What the slot serves, for every bank scheme, byte for byte and hotspot for hotspot. */
#include "core/cart.h"

#include "core/talk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

/* Sizes and hotspots in the trade's terms [P: common practice, no source], written out one by one so that the
 * code's arithmetic is checked against a list. */
static const struct scheme {
    uint8_t scheme;
    size_t size;
    int banks;
    uint16_t hotspots[8];
} schemes[] = {
    {WIRE_2K, 2048, 1, {0}},
    {WIRE_4K, 4096, 1, {0}},
    {WIRE_F8, 8192, 2, {0x1FF8, 0x1FF9}},
    {WIRE_F6, 16384, 4, {0x1FF6, 0x1FF7, 0x1FF8, 0x1FF9}},
    {WIRE_F4, 32768, 8, {0x1FF4, 0x1FF5, 0x1FF6, 0x1FF7, 0x1FF8, 0x1FF9, 0x1FFA, 0x1FFB}},
};
enum { SCHEMES = sizeof schemes / sizeof schemes[0], BUS = 0x5A };

static uint8_t image[WIRE_IMAGE_MAX], lanes[CART_TABLE];

static int prepare(void **state) {
    (void)state;
    talk_fill(image, sizeof image, 42);
    return 0;
}

static struct cart load(const struct scheme *s, bool ram) {
    memset(lanes, 0xEE, sizeof lanes);
    cart_spread(lanes, image, s->scheme, ram);
    return (struct cart){lanes, s->scheme, cart_first_bank(s->scheme), ram};
}

static int hotspot(const struct scheme *s, int address) {
    for (int bank = 0; s->banks > 1 && bank < s->banks; bank++) {
        if (s->hotspots[bank] == address) {
            return bank;
        }
    }
    return -1;
}

/* The byte that a plain socket with that bank switched in shows. */
static uint8_t wanted(const struct scheme *s, int bank, int address) {
    return image[((size_t)bank * 4096 + (address & 0xFFF)) % s->size];
}

static void test_sizes(void **state) {
    (void)state;
    for (int i = 0; i < SCHEMES; i++) {
        assert_int_equal(cart_size(schemes[i].scheme), schemes[i].size);
        assert_int_equal(cart_banks(schemes[i].scheme), schemes[i].banks);
        assert_int_equal(cart_first_bank(schemes[i].scheme), schemes[i].banks - 1);
    }
    for (int scheme = WIRE_SCHEMES; scheme < 256; scheme++) {
        assert_int_equal(cart_size((uint8_t)scheme), 0);
        assert_int_equal(cart_banks((uint8_t)scheme), 0);
        assert_int_equal(cart_hotspot((uint8_t)scheme, 0x1FF8), CART_NO_BANK);
    }
}

/* Every address from every bank: the byte is right, and only a hotspot switches. */
static void test_every_address_from_every_bank(void **state) {
    (void)state;
    for (int i = 0; i < SCHEMES; i++) {
        const struct scheme *s = &schemes[i];
        struct cart cart = load(s, false);
        for (int from = 0; from < s->banks; from++) {
            for (int address = 0; address < 0x2000; address++) {
                cart.bank = (uint8_t)from;
                int to = hotspot(s, address);
                int bank = to >= 0 ? to : from;
                uint8_t byte = cart_cycle(&cart, (uint16_t)address, BUS);
                uint8_t want = address & 0x1000 ? wanted(s, bank, address) : BUS;
                if (byte != want || cart.bank != bank) {
                    fail_msg("scheme %d from bank %d, address $%04X: byte %02X for %02X, bank %d for %d", i,
                             from, (unsigned)address, byte, want, cart.bank, bank);
                }
            }
        }
    }
}

/* RAM in every bank: the write window latches the bus and drives nothing, the read window shows it. */
static void test_ram(void **state) {
    (void)state;
    for (int i = 0; i < SCHEMES; i++) {
        const struct scheme *s = &schemes[i];
        struct cart cart = load(s, true);
        for (int bank = 0; bank < s->banks; bank++) {
            cart.bank = (uint8_t)bank;
            for (unsigned at = 0; at < 0x100; at++) {
                assert_int_equal(lanes[at * CART_BANKS + (unsigned)bank], 0);
            }
            for (unsigned cell = 0; cell < CART_RAM; cell++) {
                uint8_t value = (uint8_t)(cell * 7 + (unsigned)bank * 31 + 1);
                assert_int_equal(cart_cycle(&cart, (uint16_t)(0x1000 + cell), value), value);
            }
            for (int reader = 0; reader < s->banks; reader++) {
                cart.bank = (uint8_t)reader;
                for (unsigned cell = 0; cell < CART_RAM; cell++) {
                    assert_int_equal(cart_cycle(&cart, (uint16_t)(0x1080 + cell), BUS),
                                     (uint8_t)(cell * 7 + (unsigned)bank * 31 + 1));
                }
            }
            cart.bank = (uint8_t)bank;
            for (int address = 0x1100; address < 0x2000; address++) {
                if (hotspot(s, address) < 0) {
                    assert_int_equal(cart_cycle(&cart, (uint16_t)address, BUS), wanted(s, bank, address));
                }
            }
            cart_spread(lanes, image, s->scheme, true);
        }
    }
}

/* Without RAM the windows are image, and an access changes nothing. */
static void test_no_ram(void **state) {
    (void)state;
    for (int i = 0; i < SCHEMES; i++) {
        struct cart cart = load(&schemes[i], false);
        for (int address = 0x1000; address < 0x1100; address++) {
            cart_cycle(&cart, (uint16_t)address, 0x33);
            assert_int_equal(cart_cycle(&cart, (uint16_t)address, 0xCC),
                             wanted(&schemes[i], cart.bank, address));
        }
    }
}

static void test_pieces_make_the_whole(void **state) {
    (void)state;
    static uint8_t whole[CART_TABLE];
    for (int i = 0; i < SCHEMES; i++) {
        for (int ram = 0; ram < 2; ram++) {
            cart_spread(whole, image, schemes[i].scheme, ram);
            memset(lanes, 0xEE, sizeof lanes);
            for (size_t at = 0; at < schemes[i].size; at += 333) {
                cart_lay(lanes, at, image + at, 333, schemes[i].scheme, ram);
            }
            assert_memory_equal(lanes, whole, CART_TABLE);
        }
    }
}

static void test_poke_shows_in_every_bank_and_nowhere_else(void **state) {
    (void)state;
    static uint8_t before[CART_TABLE];
    load(&schemes[4], false);
    memcpy(before, lanes, sizeof before);
    cart_poke(lanes, 0x1FE3, 0xA7);
    for (size_t i = 0; i < CART_TABLE; i++) {
        assert_int_equal(lanes[i], i / CART_BANKS == 0xFE3 ? 0xA7 : before[i]);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sizes),
        cmocka_unit_test(test_every_address_from_every_bank),
        cmocka_unit_test(test_ram),
        cmocka_unit_test(test_no_ram),
        cmocka_unit_test(test_pieces_make_the_whole),
        cmocka_unit_test(test_poke_shows_in_every_bank_and_nowhere_else),
    };
    return cmocka_run_group_tests(tests, prepare, NULL);
}
