/*
 * What rounds of plan `cartridge` say of a cartridge that is not good, on the console model with the faults
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

#include "rom/check_kernel.h"
#include "rom/check_rounds.h"

enum { SEED = 20, PLACES = 64, TOGETHER = 8, MOST_FIELDS = 4000 };

static struct plan *plan;
static struct image *image;
static struct round_seen seen;

static bool is_small(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL;
}

/* splitmix64 */
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

static void begin(int scheme, bool ram) {
    plan = check_plan_of(scheme, ram, STANDARD_NTSC);
    image = check_image_of(plan, 1, 0);
}

static void end(void) {
    rom_free(image);
    plan_free(plan);
}

static struct cart_faults good(void) {
    struct cart_faults faults;
    cart_faults_none(plan->check.scheme, &faults);
    return faults;
}

static bool watch(const struct cart_faults *faults, const struct cartridge *slot) {
    round_power_on(plan, image, faults, slot, SEED);
    return round_begin(plan) && round_watch(plan, &seen, MOST_FIELDS);
}

static void must_watch(const struct cart_faults *faults, const struct cartridge *slot, const char *what) {
    const int odd = round_odd;
    if (!watch(faults, slot) || round_odd != odd) {
        fail_msg("%s, %s: no round after %d fields, %zu items, the last %05X",
                 scheme_name(plan->check.scheme), what, seen.fields, seen.count,
                 check_pack(seen.item[seen.count - 1]));
    }
}

static int what_of(enum check_kind kind, int place) {
    const struct check_item *item = round_item(&seen, kind, place);
    if (item == NULL) {
        fail_msg("%s: no item %s of place %d", scheme_name(plan->check.scheme), check_kind_name(kind), place);
        return -1;
    }
    return item->what;
}

/* Items of a kind that say something is wrong. */
static int wrong_of(enum check_kind kind) {
    int wrong = 0;
    for (size_t i = 0; i < seen.count; i++) {
        wrong += seen.item[i].kind == kind && seen.item[i].what != 0;
    }
    return wrong;
}

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

/* ---- RAM ---- */

static void ram_fault(const struct cart_ram_fault *fault) {
    struct cart_faults faults = good();
    char what[80];
    faults.ram_faults = 1;
    faults.ram[0] = *fault;
    snprintf(what, sizeof what, "RAM fault %d at %d.%d, value %d, by %d.%d when %d", fault->kind, fault->cell,
             fault->bit, fault->value, fault->by_cell, fault->by, fault->when);
    must_watch(&faults, NULL, what);
    if (wrong_of(CHECK_RAM) == 0) {
        fail_msg("%s: not found", what);
    }
    const struct check_item *cell = round_item(&seen, CHECK_RAM_CELL, -1);
    const struct check_item *when = round_item(&seen, CHECK_RAM_WHEN, -1);
    assert_non_null(cell);
    assert_non_null(when);
    if (fault->kind <= CART_RAM_STATE) {
        assert_int_equal(cell->place, fault->cell);
        assert_int_equal(cell->what, 1 << fault->bit);
    }
    assert_int_not_equal(what_of(CHECK_RAM, when->place >> 4) & 1 << (when->place & 15), 0);
    assert_true(when->what > 0);
}

static void test_ram(void **state) {
    (void)state;
    static const uint8_t cells[] = {0, 37, 127};
    /* Which of value (1) and when (2) a kind has; the last three have neither. */
    static const int senses_of[CART_RAM_KINDS] = {[CART_RAM_STUCK] = 1,
                                                  [CART_RAM_TRANSITION] = 1,
                                                  [CART_RAM_INVERSION] = 2,
                                                  [CART_RAM_IDEMPOTENT] = 3,
                                                  [CART_RAM_STATE] = 3};
    begin(WIRE_4K, true);
    for (int kind = 0; kind < CART_RAM_KINDS; kind++) {
        for (size_t i = 0; i < (is_small() ? 1 : sizeof cells); i++) {
            const int senses = i == 0 && !is_small() ? senses_of[kind] : 0;
            for (int sense = 3 & ~senses; sense < 4; sense++) {
                if ((sense | senses) != 3) {
                    continue;
                }
                const struct cart_ram_fault fault = {.kind = (uint8_t)kind,
                                                     .cell = cells[i],
                                                     .bit = (uint8_t)(i + 2),
                                                     .value = sense & 1,
                                                     .by_cell = cells[(i + 1) % 3],
                                                     .by = (uint8_t)(2 * i),
                                                     .when = (uint8_t)(sense >> 1)};
                ram_fault(&fault);
            }
        }
    }
    end();
}

/* Between the same bits of two cells no background helps: it takes the elements that go down, too. */
static void test_ram_of_one_bit(void **state) {
    (void)state;
    begin(WIRE_4K, true);
    for (int sense = 0; sense < 8; sense += is_small() ? 3 : 1) {
        const struct cart_ram_fault fault = {.kind = CART_RAM_IDEMPOTENT,
                                             .cell = sense & 4 ? 90 : 12,
                                             .by_cell = sense & 4 ? 12 : 90,
                                             .bit = 5,
                                             .by = 5,
                                             .value = sense & 1,
                                             .when = (uint8_t)(sense >> 1 & 1)};
        ram_fault(&fault);
    }
    end();
}

static void test_no_ram(void **state) {
    (void)state;
    begin(WIRE_F8, true);
    struct cart_faults faults = good();
    faults.no_ram = true;
    must_watch(&faults, NULL, "no RAM");
    assert_int_equal(wrong_of(CHECK_RAM), CHECK_BACKGROUNDS);
    assert_int_equal(round_item(&seen, CHECK_RAM_WHEN, -1)->what, 255);
    end();
}

/* ---- what is quiet ---- */

/* Drives a line while a port's direction or pins are read or written. */
static uint8_t holds_ports(void *state, uint16_t address, uint8_t driven, uint8_t bus) {
    (void)driven;
    check_slot_pass(state, address, bus);
    return (address & 0x0284) == 0x0280 ? bus & 0xF7 : bus;
}

static void test_ports(void **state) {
    (void)state;
    const struct cartridge slot = {
        .state = &check_cart, .read = check_slot_read, .write = check_slot_write, .hold = holds_ports};
    begin(WIRE_4K, false);
    const struct cart_faults faults = good();
    must_watch(&faults, &slot, "ports held");
    assert_int_equal(what_of(CHECK_QUIET, CHECK_QUIET_PORTS), 0x08);
    assert_int_equal(wrong_of(CHECK_QUIET), 1);
    assert_int_equal(check_console.riot.direction[0] | check_console.riot.direction[1], 0);
    end();
}

/* Drives D3 low in the cycles with A12 = 0 that follow one operand of the check's own code, when it is
 * fetched right behind the byte before it, and in no other. */
static uint16_t last_fetch, holds_after;
static bool in_a_row, follows;

static uint8_t note_fetch(void *state, uint16_t address, uint8_t bus) {
    follows = in_a_row && address == last_fetch + 1;
    last_fetch = address;
    in_a_row = true;
    return check_slot_read(state, address, bus);
}

static uint8_t holds_there(void *state, uint16_t address, uint8_t driven, uint8_t bus) {
    (void)driven;
    in_a_row = false;
    check_slot_pass(state, address, bus);
    return follows && last_fetch == holds_after ? bus & 0xF7 : bus;
}

static uint16_t address_of(const uint8_t *code, size_t count) {
    for (size_t at = 0; at + count <= image->size; at++) {
        if (memcmp(image->bytes + at, code, count) == 0) {
            return (uint16_t)(0x1000 + at);
        }
    }
    fail_msg("the check has another code");
    return 0;
}

/* A line that is held while RAM, timer or the open inputs are read back, one after the other. */
static void test_held(void **state) {
    (void)state;
    static const struct {
        const char *what;
        uint8_t code[8];
        size_t count, fetch; /* the operand's last byte before the read */
        int place, least, errors;
    } reads[] = {
        {"EOR $80,X", {0x95, 0x80, 0x55, 0x80}, 4, 3, CHECK_QUIET_RAM, 0x08, 1},
        {"LDY INTIM", {0x84, 0x80, 0xAC, 0x84, 0x02, 0xC4, 0x80}, 7, 4, CHECK_QUIET_TIMER, 0x08, 1},
        {"LDA $0A", {0xA5, 0x0A, 0x49, 0x0A}, 4, 1, CHECK_QUIET_OPEN, 0x08, 0},
    };
    const struct cartridge slot = {
        .state = &check_cart, .read = note_fetch, .write = check_slot_write, .hold = holds_there};
    begin(WIRE_4K, false);
    for (size_t i = 0; i < sizeof reads / sizeof reads[0]; i++) {
        const struct cart_faults faults = good();
        holds_after = (uint16_t)(address_of(reads[i].code, reads[i].count) + reads[i].fetch);
        must_watch(&faults, &slot, reads[i].what);
        assert_int_equal(what_of(CHECK_QUIET, reads[i].place) & reads[i].least, reads[i].least);
        assert_int_equal(wrong_of(CHECK_QUIET), 1);
        /* Open inputs are told, and are no error. */
        const struct check_item *errors = round_item(&seen, CHECK_ERRORS, -1);
        assert_int_equal(errors->place << 8 | errors->what,
                         reads[i].errors * check_console.riot.ram[0xD3 - 0x80]);
    }
    end();
}

/* ---- starts ---- */

static int starts[SCHEME_BANKS_MAX];

/* A start: the reset vector's two bytes, and a fetch from where they point. */
static uint8_t count_starts(void *state, uint16_t address, uint8_t bus) {
    const uint16_t reset =
        (uint16_t)((image->bytes[image->size - 4] | image->bytes[image->size - 3] << 8) & 0x1FFF);
    const bool begins = last_fetch == 0x1FFD && address == reset;
    const uint8_t byte = note_fetch(state, address, bus);
    starts[check_cart.bank] += begins;
    return byte;
}

/* Of each bank, but of one with a wrong byte. */
static void test_each_start(void **state) {
    (void)state;
    const struct cartridge slot = {
        .state = &check_cart, .read = count_starts, .write = check_slot_write, .pass = check_slot_pass};
    begin(WIRE_F6, false);
    for (int wrong = 0; wrong < 2; wrong++) {
        struct cart_faults faults = good();
        faults.bytes = (uint8_t)wrong;
        faults.byte[0] = (struct cart_byte){0x0345, 0x11};
        memset(starts, 0, sizeof starts);
        must_watch(&faults, &slot, "starts");
        assert_int_equal(starts[0] > 0, !wrong);
        assert_true(starts[1] > 0);
        assert_true(starts[2] > 0);
        assert_true(starts[3] > 1); /* at power-on, and then as the others */
    }
    end();
}

/* Rounds and errors go on beyond a byte; errors stop at FFFF. */
static void test_counts(void **state) {
    (void)state;
    uint8_t *const ram = check_console.riot.ram;
    begin(WIRE_4K, false);
    struct cart_faults faults = good();
    faults.bytes = 1;
    faults.byte[0] = (struct cart_byte){0x0045, 0x11};
    static const struct {
        uint8_t before[2];
        int errors;
    } counts[] = {{{0xFF, 0x00}, 0x0100}, {{0xFE, 0xFF}, 0xFFFF}, {{0xFF, 0xFF}, 0xFFFF}};
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        round_power_on(plan, image, &faults, NULL, SEED);
        assert_true(round_begin(plan));
        memcpy(ram + (0xD1 - 0x80), counts[i].before, 2);
        ram[0xD3 - 0x80] = 0xFF;
        assert_true(round_watch(plan, &seen, MOST_FIELDS));
        const struct check_item *errors = round_item(&seen, CHECK_ERRORS, -1);
        const struct check_item *rounds = round_item(&seen, CHECK_ROUND, -1);
        assert_int_equal(errors->place << 8 | errors->what, counts[i].errors);
        assert_int_equal(rounds->place << 8 | rounds->what, 0x0100);
    }
    end();
}

/* The first wrong item is kept, and all are counted. */
static void test_errors(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    struct cart_faults faults = good();
    faults.bytes = 2;
    faults.byte[0] = (struct cart_byte){0x0345, 0x11};
    faults.byte[1] = (struct cart_byte){0x0745, 0x80};
    must_watch(&faults, NULL, "two bytes");
    const struct check_item *errors = round_item(&seen, CHECK_ERRORS, -1);
    const int rounds = check_console.riot.ram[0xD3 - 0x80];
    assert_int_equal(errors->place << 8 | errors->what, 2 * rounds);
    const uint8_t *first = check_console.riot.ram + (0xD5 - 0x80);
    assert_int_equal(first[2], CHECK_PAGE);
    assert_int_equal(first[1], 3);
    assert_int_equal(first[0], 3);
    end();
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bytes),          cmocka_unit_test(test_bytes_of_one_bank),
        cmocka_unit_test(test_hotspots),       cmocka_unit_test(test_write_only),
        cmocka_unit_test(test_extra_cycles),   cmocka_unit_test(test_neighbours),
        cmocka_unit_test(test_vectors),        cmocka_unit_test(test_ram),
        cmocka_unit_test(test_ram_of_one_bit), cmocka_unit_test(test_no_ram),
        cmocka_unit_test(test_ports),          cmocka_unit_test(test_held),
        cmocka_unit_test(test_each_start),     cmocka_unit_test(test_counts),
        cmocka_unit_test(test_errors),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
