/*
 * The bytes of plan `cartridge`'s images. Arithmetic [A]: seals (plan/check.h's own CRC, which tests/plan
 * holds against the catalogue), layout, what a broken or shorted address line turns an image into. Common
 * practice, no source: an open line reads high, of two shorted ones low wins, a bus that nobody drives reads
 * $FF.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <zlib.h>

#include <cmocka.h>

#include "rom/check_console.h"
#include "rom/check_kernel.h"

enum { LINES = 13, A12 = 0x1000, SLOT = 0x2000, VIEWS = LINES + LINES * (LINES - 1) / 2 + 1 };

typedef void with_image(const struct plan *plan, const struct image *image);

static void each_image(with_image *with) {
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int standard = 0; standard < STANDARD_COUNT; standard++) {
            for (int ram = 0; ram < (scheme == WIRE_2K ? 1 : 2); ram++) {
                struct plan *plan = check_plan_of(scheme, ram, (enum standard)standard);
                struct image *image = check_image_of(plan, 1, 0);
                with(plan, image);
                rom_free(image);
                plan_free(plan);
            }
        }
    }
}

static void sealed(const struct plan *plan, const struct image *image) {
    assert_int_equal(image->size, scheme_bytes(plan->check.scheme));
    for (int page = 0; page < scheme_pages(plan->check.scheme); page++) {
        const uint8_t *bytes = image->bytes + (size_t)page * SCHEME_PAGE;
        uint8_t sum = (uint8_t)page;
        for (int i = 0; i < SCHEME_PAGE; i++) {
            sum = (uint8_t)(sum + bytes[i]);
        }
        if (check_crc(check_crc_start(page), bytes, SCHEME_PAGE) != 0 || sum != 0) {
            fail_msg("%s: page %d is not sealed", scheme_name(plan->check.scheme), page);
        }
    }
}

static void test_seals(void **state) {
    (void)state;
    each_image(sealed);
}

static uint8_t at(const struct plan *plan, const struct image *image, int bank, int address) {
    return image->bytes[scheme_offset(plan->check.scheme, bank, (uint16_t)address)];
}

static void laid_out(const struct plan *plan, const struct image *image) {
    for (int bank = 0; bank < scheme_banks(plan->check.scheme); bank++) {
        assert_int_equal(at(plan, image, bank, CHECK_BANK_AT), bank);
        const int start = at(plan, image, 0, 0x1FFC) | at(plan, image, 0, 0x1FFD) << 8;
        for (int vector = 0x1FFA; vector < 0x2000; vector += 2) {
            assert_int_equal(at(plan, image, bank, vector) | at(plan, image, bank, vector + 1) << 8, start);
        }
        /* 2 KiB show twice; where RAM hides the first page of 4 KiB the program does not start. */
        assert_true(start >= (plan->check.scheme == WIRE_2K ? 0xF800 : 0xF100));
        for (int address = 0x1FF4; address < 0x1FFC; address++) {
            assert_int_equal(at(plan, image, bank, address), at(plan, image, 0, address));
        }
    }
}

static void test_layout(void **state) {
    (void)state;
    each_image(laid_out);
}

/* But for the fill, the seals and the number each bank is the first. */
static void same_program(const struct plan *plan, const struct image *image) {
    static struct encoder encoder;
    const struct kernel_options options = {.plan = plan, .hash = image->hash, .hold = 1};
    struct problem problem = {0};
    encoder_start(&encoder, scheme_bank_bytes(plan->check.scheme));
    check_kernel_emit(&encoder, &options);
    assert_true(encoder_finish(&encoder, &problem));
    for (int bank = 0; bank < scheme_banks(plan->check.scheme); bank++) {
        const uint8_t *bytes = image->bytes + (size_t)bank * encoder.limit;
        for (int i = 0; i < encoder.item_count; i++) {
            const struct item *item = &encoder.items[i];
            if (item->kind != ITEM_FILL && item->offset != encoder.limit - (SLOT - CHECK_BANK_AT)) {
                assert_memory_equal(bytes + item->offset, encoder.bytes + item->offset, item->size);
            }
        }
    }
}

static void test_program(void **state) {
    (void)state;
    each_image(same_program);
}

/* No page is like another, whatever bank either is in. */
static void apart(const struct plan *plan, const struct image *image) {
    const int pages = scheme_pages(plan->check.scheme);
    for (int a = 0; a < pages; a++) {
        for (int b = 0; b < a; b++) {
            if (memcmp(image->bytes + (size_t)a * SCHEME_PAGE, image->bytes + (size_t)b * SCHEME_PAGE,
                       SCHEME_PAGE) == 0) {
                fail_msg("%s: pages %d and %d are alike", scheme_name(plan->check.scheme), a, b);
            }
        }
    }
}

/* The banks' first pages are all fill: of 256 bytes drawn at random, twelve are alike by chance once in 10^9
 * pairs [A, binomial]. */
static void banks_apart(const struct plan *plan, const struct image *image) {
    for (int bank = 1; bank < scheme_banks(plan->check.scheme); bank++) {
        for (int other = 0; other < bank; other++) {
            int alike = 0;
            for (int i = 0; i < SCHEME_PAGE; i++) {
                alike += at(plan, image, bank, 0x1000 + i) == at(plan, image, other, 0x1000 + i);
            }
            assert_in_range(alike, 0, 11);
        }
    }
}

static void test_pages(void **state) {
    (void)state;
    each_image(apart);
    each_image(banks_apart);
}

/* The address that gets through, with a line open (b == a) or two shorted. */
static int through(int address, int a, int b) {
    const int pair = 1 << a | 1 << b;
    if (a == b) {
        return address | pair;
    }
    return (address & pair) == pair ? address : address & ~pair;
}

/* All that can be read in one bank, as a checksum. */
static uint32_t view(const struct plan *plan, const struct image *image, int bank, int a, int b) {
    static uint8_t seen[SLOT];
    for (int address = 0; address < SLOT; address++) {
        const int reached = a < 0 ? address : through(address, a, b);
        seen[address] = reached & A12 ? at(plan, image, bank, reached) : 0xFF;
    }
    return (uint32_t)crc32(crc32(0, NULL, 0), seen, sizeof seen);
}

static void told_apart(const struct plan *plan, const struct image *image) {
    for (int bank = 0; bank < scheme_banks(plan->check.scheme) && plan->standard == STANDARD_NTSC; bank++) {
        uint32_t views[VIEWS];
        int count = 0;
        views[count++] = view(plan, image, bank, -1, -1);
        for (int a = 0; a < LINES; a++) {
            for (int b = 0; b <= a; b++) {
                if (a == b && a == 11 && plan->check.scheme == WIRE_2K) {
                    continue; /* a 2 KiB cartridge has no A11 */
                }
                views[count] = view(plan, image, bank, a, b);
                for (int i = 0; i < count; i++) {
                    if (views[i] == views[count]) {
                        fail_msg("%s, bank %d: A%d with A%d shows what view %d shows",
                                 scheme_name(plan->check.scheme), bank, a, b, i);
                    }
                }
                count++;
            }
        }
    }
}

static void test_address_lines(void **state) {
    (void)state;
    each_image(told_apart);
}

/* The hash names the plan, not how long an item is shown; and no two of these plans. PAL's and SECAM's images
 * are the same. */
static void test_hash(void **state) {
    (void)state;
    enum { APART = 2 }; /* standards */
    uint16_t hashes[2 * WIRE_SCHEMES * APART];
    size_t count = 0;
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int of = 0; of < 2 * APART; of++) {
            if (scheme == WIRE_2K && (of & 1)) {
                continue;
            }
            struct plan *plan = check_plan_of(scheme, of & 1, (enum standard)(of / 2));
            struct image *image = check_image_of(plan, 1, 0), *slow = check_image_of(plan, 255, 0);
            assert_int_equal(image->hash, slow->hash);
            assert_true(memcmp(image->bytes, slow->bytes, image->size) != 0);
            for (size_t i = 0; i < count; i++) {
                assert_int_not_equal(hashes[i], image->hash);
            }
            hashes[count++] = image->hash;
            rom_free(image);
            rom_free(slow);
            plan_free(plan);
        }
    }
}

static void refuses(const struct plan *plan, struct rom_options options, const char *text) {
    struct problem problem = {0};
    struct image *image = NULL;
    assert_false(rom_build(plan, &options, &image, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, text) == NULL) {
        fail_msg("'%s' in '%s'", text, problem.text);
    }
}

static void test_refused(void **state) {
    (void)state;
    struct problem problem = {0};
    struct plan *none = NULL;
    assert_false(check_plan(WIRE_2K, true, STANDARD_NTSC, &none, &problem));
    assert_non_null(strstr(problem.text, "2K with --ram"));
    struct plan *plan = check_plan_of(WIRE_F8, false, STANDARD_NTSC);
    refuses(plan, (struct rom_options){.hold = 256}, "hold 256");
    refuses(plan, (struct rom_options){.hold = 0}, "hold 0");
    refuses(plan, (struct rom_options){.hold = 1, .size = 4096}, "8192 bytes");
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_seals),         cmocka_unit_test(test_layout),
                                       cmocka_unit_test(test_program),       cmocka_unit_test(test_pages),
                                       cmocka_unit_test(test_address_lines), cmocka_unit_test(test_hash),
                                       cmocka_unit_test(test_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
