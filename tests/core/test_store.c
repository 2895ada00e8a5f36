/* The image store: power cut at every flash operation, flash that fails, generations that wrap. */
#include "core/store.h"

#include "core/bytes.h"
#include "core/frame.h"
#include "core/talk.h"
#include "virtual/flash.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MAX = WIRE_IMAGE_MAX };

static uint8_t flash_bytes[STORE_BYTES], images[4][MAX];
static struct virtual_flash flash;
static struct store store;

static void power(long cut_after, uint64_t seed) {
    flash = (struct virtual_flash){.bytes = flash_bytes, .cut_after = cut_after, .random = seed};
    struct flash_ops ops = virtual_flash_ops(&flash);
    if (!store_start(&store, &ops, NULL)) {
        fail_msg("the flash cannot be read");
    }
}

static void blank_flash(void) {
    memset(flash_bytes, 0xFF, sizeof flash_bytes);
}

static struct store_image describe(const uint8_t *bytes, uint8_t kib, uint8_t scheme) {
    return (struct store_image){
        .crc = frame_crc(0, bytes, kib * 1024U), .kib = kib, .scheme = scheme, .flags = WIRE_IMAGE_MAILBOX};
}

static enum wire_status send_blocks(const uint8_t *bytes, uint8_t kib) {
    for (uint8_t block = 0; block < kib; block++) {
        enum wire_status status = store_block(&store, block, bytes + block * 1024U);
        if (status != WIRE_OK) {
            return status;
        }
    }
    return WIRE_OK;
}

static enum wire_status push(const uint8_t *bytes, uint8_t kib, uint8_t scheme, uint32_t keep) {
    struct store_image image = describe(bytes, kib, scheme);
    enum wire_status status = store_begin(&store, &image, keep);
    if (status == WIRE_OK) {
        status = send_blocks(bytes, kib);
    }
    return status == WIRE_OK ? store_commit(&store) : status;
}

static bool holds(const uint8_t *bytes, uint8_t kib) {
    static uint8_t back[MAX];
    return store.slot >= 0 && store.image.kib == kib && store_read(&store, 0, back, kib * 1024U) &&
           memcmp(back, bytes, kib * 1024U) == 0;
}

static int prepare(void **state) {
    (void)state;
    for (uint64_t i = 0; i < 4; i++) {
        talk_fill(images[i], MAX, 100 + i);
    }
    memset(images[1] + 3000, 0xFF, 2000); /* pages that an erase alone would make */
    blank_flash();
    return 0;
}

static void test_empty_flash_holds_nothing(void **state) {
    (void)state;
    uint8_t byte;
    power(-1, 1);
    assert_int_equal(store.slot, -1);
    assert_int_equal(store.image.generation, 0);
    assert_false(store_read(&store, 0, &byte, 1));
    assert_int_equal(store_commit(&store), WIRE_NOT_BEGUN);
    assert_int_equal(store_block(&store, 0, images[0]), WIRE_NOT_BEGUN);
}

static void test_images_of_every_scheme(void **state) {
    (void)state;
    static const uint8_t kib[WIRE_SCHEMES] = {2, 4, 8, 16, 32};
    power(-1, 1);
    for (uint8_t scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        assert_int_equal(push(images[scheme % 4], kib[scheme], scheme, 0), WIRE_OK);
        assert_true(holds(images[scheme % 4], kib[scheme]));
        power(-1, 1);
        assert_true(holds(images[scheme % 4], kib[scheme]));
        assert_int_equal(store.image.scheme, scheme);
        assert_int_equal(store.image.flags, WIRE_IMAGE_MAILBOX);
        assert_int_equal(store.image.generation, scheme + 1);
        uint8_t byte;
        assert_false(store_read(&store, kib[scheme] * 1024U, &byte, 1));
        assert_false(store_read(&store, UINT32_MAX, &byte, 1));
    }
}

/* What a sink is given last is the image. */
struct poured {
    uint8_t bytes[MAX];
    uint32_t next;
};

static void collect(void *state, const struct store_image *image, uint32_t offset, const uint8_t *bytes,
                    size_t count) {
    struct poured *poured = state;
    assert_true(offset == 0 || offset == poured->next);
    assert_true(offset + count <= image->kib * 1024U);
    memcpy(poured->bytes + offset, bytes, count);
    poured->next = offset + (uint32_t)count;
}

static void test_a_sink_gets_the_image_that_counts(void **state) {
    (void)state;
    static struct poured poured;
    struct store_sink sink = {&poured, collect};
    power(-1, 1);
    assert_int_equal(push(images[0], 4, WIRE_4K, 0), WIRE_OK);
    assert_int_equal(push(images[1], 8, WIRE_F8, 0), WIRE_OK);
    assert_int_equal(store.slot, 1);
    struct flash_ops ops = virtual_flash_ops(&flash);
    assert_true(store_start(&store, &ops, &sink));
    assert_int_equal(poured.next, 8192);
    assert_memory_equal(poured.bytes, images[1], 8192);
    /* A bit of the newer one rots: the older one counts again. */
    flash_bytes[STORE_SLOT + FLASH_SECTOR + 5000] ^= 4;
    assert_true(store_start(&store, &ops, &sink));
    assert_int_equal(store.slot, 0);
    assert_int_equal(poured.next, 4096);
    assert_memory_equal(poured.bytes, images[0], 4096);
}

static void test_the_same_push_goes_on(void **state) {
    (void)state;
    power(-1, 1);
    struct store_image image = describe(images[0], 8, WIRE_F8);
    assert_int_equal(store_begin(&store, &image, 0), WIRE_OK);
    assert_int_equal(store_block(&store, 0, images[0]), WIRE_OK);
    assert_int_equal(store_block(&store, 5, images[0] + 5 * 1024), WIRE_OK);
    assert_int_equal(store_next(&store), 1);
    assert_int_equal(store_begin(&store, &image, 0), WIRE_OK);
    assert_int_equal(store_have(&store), 1 | 1 << 5);
    assert_int_equal(store_block(&store, 8, images[0]), WIRE_BAD_VALUE);
    assert_int_equal(store_commit(&store), WIRE_MISSING);
    assert_int_equal(store_block(&store, 5, images[2]), WIRE_OK); /* there already: left alone */
    assert_int_equal(send_blocks(images[0], 8), WIRE_OK);
    assert_int_equal(store_next(&store), 8);
    assert_int_equal(store_commit(&store), WIRE_OK);
    assert_true(holds(images[0], 8));
    /* Another one starts anew. */
    assert_int_equal(store_begin(&store, &image, 0), WIRE_OK);
    assert_int_equal(store_block(&store, 3, images[0] + 3 * 1024), WIRE_OK);
    image.flags = 0;
    assert_int_equal(store_begin(&store, &image, 0), WIRE_OK);
    assert_int_equal(store_have(&store), 0);
    store_abort(&store);
    assert_int_equal(store_block(&store, 3, images[0]), WIRE_NOT_BEGUN);
    assert_true(holds(images[0], 8));
}

static void test_kept_blocks_are_copied(void **state) {
    (void)state;
    power(-1, 1);
    struct store_image image = describe(images[0], 16, WIRE_F6);
    assert_int_equal(store_begin(&store, &image, 1), WIRE_BAD_VALUE); /* nothing is served */
    assert_int_equal(push(images[0], 16, WIRE_F6, 0), WIRE_OK);
    static uint8_t changed[16384];
    memcpy(changed, images[0], sizeof changed);
    changed[7000] ^= 1;
    image = describe(changed, 16, WIRE_F6);
    uint32_t keep = 0xFFFF & ~(1U << 6);
    assert_int_equal(store_begin(&store, &image, keep), WIRE_OK);
    assert_int_equal(store_have(&store), keep);
    assert_int_equal(store_next(&store), 6);
    assert_int_equal(store_block(&store, 6, changed + 6144), WIRE_OK);
    assert_int_equal(store_block(&store, 7, images[2]), WIRE_OK); /* kept: left alone */
    assert_int_equal(store_commit(&store), WIRE_OK);
    power(-1, 1);
    assert_true(holds(changed, 16));
    image = describe(images[1], 8, WIRE_F8);
    assert_int_equal(store_begin(&store, &image, 1), WIRE_BAD_VALUE); /* another size */
}

static void test_wrong_bytes_never_count(void **state) {
    (void)state;
    power(-1, 1);
    assert_int_equal(push(images[0], 4, WIRE_4K, 0), WIRE_OK);
    struct store_image image = describe(images[1], 4, WIRE_4K);
    assert_int_equal(store_begin(&store, &image, 0), WIRE_OK);
    assert_int_equal(send_blocks(images[2], 4), WIRE_OK);
    assert_int_equal(store_commit(&store), WIRE_BAD_CRC);
    assert_int_equal(store_commit(&store), WIRE_NOT_BEGUN);
    assert_true(holds(images[0], 4));
    power(-1, 1);
    assert_true(holds(images[0], 4));
}

/* Each byte of a header counts: one bit off in the newer, and the older image is served. */
static void test_every_bit_of_a_header_counts(void **state) {
    (void)state;
    power(-1, 1);
    assert_int_equal(push(images[0], 2, WIRE_2K, 0), WIRE_OK);
    assert_int_equal(push(images[1], 2, WIRE_2K, 0), WIRE_OK);
    for (int bit = 0; bit < 20 * 8; bit++) {
        flash_bytes[STORE_SLOT + bit / 8] ^= (uint8_t)(1 << bit % 8);
        power(-1, 1);
        if (!holds(images[0], 2)) {
            fail_msg("bit %d of the header is off and slot %d counts", bit, store.slot);
        }
        flash_bytes[STORE_SLOT + bit / 8] ^= (uint8_t)(1 << bit % 8);
    }
    power(-1, 1);
    assert_true(holds(images[1], 2));
}

/* A header that is whole but makes no sense, its CRC made with zlib's polynomial by frame_crc. */
static void test_a_header_that_makes_no_sense(void **state) {
    (void)state;
    static const struct {
        int at;
        uint8_t value;
    } wrong[] = {{4, 2}, {5, 3}, {5, 0}, {8, 0}, {6, WIRE_SCHEMES}, {6, WIRE_4K}};
    power(-1, 1);
    assert_int_equal(push(images[0], 2, WIRE_2K, 0), WIRE_OK);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        uint8_t kept = flash_bytes[wrong[i].at];
        flash_bytes[wrong[i].at] = wrong[i].value;
        put32(flash_bytes + 16, frame_crc(0, flash_bytes, 16));
        power(-1, 1);
        assert_int_equal(store.slot, -1);
        flash_bytes[wrong[i].at] = kept;
        put32(flash_bytes + 16, frame_crc(0, flash_bytes, 16));
    }
    power(-1, 1);
    assert_true(holds(images[0], 2));
}

static void set_generation(int slot, uint32_t generation) {
    uint8_t *header = flash_bytes + slot * STORE_SLOT;
    put32(header + 8, generation);
    put32(header + 16, frame_crc(0, header, 16));
}

static void test_generations_wrap(void **state) {
    (void)state;
    power(-1, 1);
    assert_int_equal(push(images[0], 2, WIRE_2K, 0), WIRE_OK);
    set_generation(0, UINT32_MAX - 1);
    static const uint32_t wanted[] = {UINT32_MAX, 1, 2, 3};
    for (int i = 0; i < 4; i++) {
        power(-1, 1);
        assert_int_equal(push(images[(i + 1) % 4], 2, WIRE_2K, 0), WIRE_OK);
        power(-1, 1);
        assert_true(holds(images[(i + 1) % 4], 2));
        assert_true(store.image.generation == wanted[i]);
    }
}

static bool small(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL;
}

/* Cuts a push of `next` over `old` at every operation until one comes through. */
static int cut_everywhere(const uint8_t *old, const uint8_t *next, uint8_t kib, uint8_t scheme, uint32_t keep,
                          uint64_t seed) {
    static uint8_t before[STORE_BYTES];
    memcpy(before, flash_bytes, sizeof before);
    for (long cut = 0;; cut++) {
        memcpy(flash_bytes, before, sizeof before);
        power(cut, seed);
        enum wire_status status = push(next, kib, scheme, keep);
        bool alive = !flash.dead;
        power(-1, seed);
        bool has_old = old ? holds(old, kib) : store.slot < 0, has_new = holds(next, kib);
        if (!has_old && !has_new) {
            fail_msg("cut after %ld operations, seed %llu: neither image is left", cut,
                     (unsigned long long)seed);
        }
        assert_true(status != WIRE_OK || has_new);
        uint32_t keep_now = has_new || !old ? 0 : keep;
        if (push(next, kib, scheme, keep_now) != WIRE_OK || !holds(next, kib)) {
            fail_msg("cut after %ld operations, seed %llu: the next push fails", cut,
                     (unsigned long long)seed);
        }
        power(-1, seed);
        assert_true(holds(next, kib));
        if (alive) {
            return (int)cut;
        }
    }
}

static void test_power_cut_at_every_operation(void **state) {
    (void)state;
    uint64_t seeds = small() ? 2 : 40;
    for (uint64_t seed = 1; seed <= seeds; seed++) {
        blank_flash();
        /* The header's sector, 2 sectors, 32 pages, the header: 36 operations, of which none may be the last.
         * The first push goes into an empty store; one image has 7 pages that an erase makes. */
        assert_int_equal(cut_everywhere(NULL, images[0], 8, WIRE_F8, 0, seed), 37);
        assert_int_equal(cut_everywhere(images[0], images[2], 8, WIRE_F8, 0, seed), 37);
        assert_int_equal(cut_everywhere(images[2], images[1], 8, WIRE_F8, 0, seed), 30);
    }
}

static void test_power_cut_while_blocks_are_kept(void **state) {
    (void)state;
    static uint8_t changed[8192];
    memcpy(changed, images[0], sizeof changed);
    changed[1] ^= 0x80;
    uint64_t seeds = small() ? 2 : 40;
    for (uint64_t seed = 1; seed <= seeds; seed++) {
        blank_flash();
        power(-1, seed);
        assert_int_equal(push(images[0], 8, WIRE_F8, 0), WIRE_OK);
        assert_int_equal(cut_everywhere(images[0], changed, 8, WIRE_F8, 0xFE, seed), 37);
    }
}

/* Operations that fail without power going: the status says so, the old image stays, asking again helps. */
static void test_flash_that_fails(void **state) {
    (void)state;
    int failed = 0, done = 0;
    for (uint64_t seed = 1; seed <= 200; seed++) {
        blank_flash();
        power(-1, seed);
        assert_int_equal(push(images[0], 4, WIRE_4K, 0), WIRE_OK);
        flash.fault_one_in = 30;
        enum wire_status status = push(images[2], 4, WIRE_4K, 0);
        assert_true(status == WIRE_OK || status == WIRE_FLASH_FAILED);
        assert_true(holds(status == WIRE_OK ? images[2] : images[0], 4));
        failed += status != WIRE_OK;
        done += status == WIRE_OK;
        flash.fault_one_in = 0;
        assert_int_equal(push(images[2], 4, WIRE_4K, 0), WIRE_OK);
        power(-1, seed);
        assert_true(holds(images[2], 4));
    }
    assert_true(failed > 20 && done > 20);
}

/* The flash these tests stand on: programming only clears bits, and only an erase sets them. */
static void test_the_flash_is_a_flash(void **state) {
    (void)state;
    uint8_t page[FLASH_PAGE];
    power(-1, 1);
    struct flash_ops ops = virtual_flash_ops(&flash);
    memset(page, 0xF0, sizeof page);
    assert_true(ops.program(ops.state, FLASH_PAGE, page));
    memset(page, 0x3C, sizeof page);
    assert_true(ops.program(ops.state, FLASH_PAGE, page));
    assert_true(flash_bytes[FLASH_PAGE - 1] == 0xFF && flash_bytes[FLASH_PAGE] == 0x30);
    assert_true(flash_bytes[2 * FLASH_PAGE - 1] == 0x30 && flash_bytes[2 * FLASH_PAGE] == 0xFF);
    assert_true(ops.erase(ops.state, 0));
    assert_int_equal(flash_bytes[FLASH_PAGE], 0xFF);
    assert_false(ops.program(ops.state, 1, page));
    assert_false(ops.erase(ops.state, FLASH_PAGE));
    assert_false(ops.erase(ops.state, STORE_BYTES));
    assert_false(ops.read(ops.state, STORE_BYTES - 1, page, 2));
}

/* A program operation that says it worked and did not. */
static bool lie(void *state, uint32_t page, const uint8_t *bytes) {
    uint8_t wrong[FLASH_PAGE];
    memcpy(wrong, bytes, sizeof wrong);
    wrong[page % 251] |= 0x10;
    wrong[page % 241] |= 0x01;
    struct flash_ops ops = virtual_flash_ops(state);
    return ops.program(state, page, wrong);
}

static void test_a_lie_is_found_by_reading_back(void **state) {
    (void)state;
    power(-1, 1);
    memset(images[3], 0, MAX);
    store.flash.program = lie;
    assert_int_equal(push(images[3], 2, WIRE_2K, 0), WIRE_FLASH_FAILED);
    assert_int_equal(store_have(&store), 0);
}

/* A program operation that clears a bit too many, the `slips`th from now on: only an erase mends that. */
static int slips;
static bool slip(void *state, uint32_t page, const uint8_t *bytes) {
    uint8_t wrong[FLASH_PAGE];
    memcpy(wrong, bytes, sizeof wrong);
    for (int i = 0; i < FLASH_PAGE && slips == 0; i++) {
        if (wrong[i]) {
            wrong[i] &= (uint8_t)(wrong[i] - 1);
            break;
        }
    }
    slips--;
    struct flash_ops ops = virtual_flash_ops(state);
    return ops.program(state, page, wrong);
}

static void test_the_same_push_mends_what_an_operation_spoilt(void **state) {
    (void)state;
    enum { PAGES = 8 * 1024 / FLASH_PAGE };
    for (int at = 0; at <= PAGES; at++) { /* the last one is the header's */
        blank_flash();
        power(-1, 1);
        assert_int_equal(push(images[0], 8, WIRE_F8, 0), WIRE_OK);
        memcpy(images[3], images[0], MAX);
        images[3][8191] ^= 0x55;
        store.flash.program = slip;
        slips = at;
        uint32_t keep = at % 2 ? 0x7E : 0;
        assert_int_equal(push(images[3], 8, WIRE_F8, keep), WIRE_FLASH_FAILED);
        assert_true(holds(images[0], 8));
        if (push(images[3], 8, WIRE_F8, keep) != WIRE_OK) {
            fail_msg("operation %d spoilt a page, and pushing again does not help", at);
        }
        assert_true(holds(images[3], 8));
        power(-1, 1);
        assert_true(holds(images[3], 8));
    }
}

/* A programmed 0 that is not erased first would stay 0: sectors in use are erased, each once. */
static int erases[STORE_BYTES / FLASH_SECTOR];
static bool count_erase(void *state, uint32_t sector) {
    erases[sector / FLASH_SECTOR]++;
    struct flash_ops ops = virtual_flash_ops(state);
    return ops.erase(state, sector);
}

static void test_sectors_are_erased_when_they_are_needed(void **state) {
    (void)state;
    memset(flash_bytes, 0, sizeof flash_bytes);
    power(-1, 1);
    memset(erases, 0, sizeof erases);
    store.flash.erase = count_erase;
    struct store_image image = describe(images[0], 8, WIRE_F8);
    assert_int_equal(store_begin(&store, &image, 0), WIRE_OK);
    assert_true(erases[0] == 1 && erases[1] == 0 && erases[2] == 0);
    assert_int_equal(store_block(&store, 4, images[0] + 4096), WIRE_OK);
    assert_true(erases[0] == 1 && erases[1] == 0 && erases[2] == 1);
    assert_int_equal(send_blocks(images[0], 8), WIRE_OK);
    assert_int_equal(store_commit(&store), WIRE_OK);
    for (int i = 0; i < STORE_BYTES / FLASH_SECTOR; i++) {
        assert_int_equal(erases[i], i < 3 ? 1 : 0);
    }
    assert_true(holds(images[0], 8));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_empty_flash_holds_nothing, prepare),
        cmocka_unit_test_setup(test_images_of_every_scheme, prepare),
        cmocka_unit_test_setup(test_a_sink_gets_the_image_that_counts, prepare),
        cmocka_unit_test_setup(test_the_same_push_goes_on, prepare),
        cmocka_unit_test_setup(test_kept_blocks_are_copied, prepare),
        cmocka_unit_test_setup(test_wrong_bytes_never_count, prepare),
        cmocka_unit_test_setup(test_every_bit_of_a_header_counts, prepare),
        cmocka_unit_test_setup(test_a_header_that_makes_no_sense, prepare),
        cmocka_unit_test_setup(test_generations_wrap, prepare),
        cmocka_unit_test_setup(test_power_cut_at_every_operation, prepare),
        cmocka_unit_test_setup(test_power_cut_while_blocks_are_kept, prepare),
        cmocka_unit_test_setup(test_flash_that_fails, prepare),
        cmocka_unit_test_setup(test_the_same_push_mends_what_an_operation_spoilt, prepare),
        cmocka_unit_test_setup(test_the_flash_is_a_flash, prepare),
        cmocka_unit_test_setup(test_a_lie_is_found_by_reading_back, prepare),
        cmocka_unit_test_setup(test_sectors_are_erased_when_they_are_needed, prepare),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
