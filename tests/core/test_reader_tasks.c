/* What each of a reader's tasks gives, to the byte, over a bus that is arithmetic [A throughout]. */
#include "core/fake_bus.h"

#include "core/bytes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

enum { SECOND = 1000000, TELLS = 0x1E55 };

static struct fake_bus fake;
static struct reader reader;
static uint32_t took_us;

static const size_t sizes[] = {2048, 4096, 8192, 16384, 32768};

static void begin(int scheme, bool ram) {
    fake_begin(&reader, &fake, scheme, ram);
}

static void run(struct reader_task task, uint32_t size) {
    took_us = fake_whole_task(&reader, &fake, &task, size);
}

/* ---- READ ---- */

/* What a good cartridge shows: at another bank's hotspot that bank's byte, for it is selected by then. */
static uint8_t right_byte(int scheme, bool ram, size_t place) {
    const size_t bytes = sizes[scheme] < 4096 ? sizes[scheme] : 4096;
    const uint16_t address = (uint16_t)(0x2000 - bytes + place % bytes);
    int bank = (int)(place / bytes);
    if (fake.first_hotspot != 0 && address >= fake.first_hotspot &&
        address < fake.first_hotspot + fake.banks) {
        bank = address - fake.first_hotspot;
    }
    return ram && address < 0x1100 ? 0 : fake_byte(bank, address);
}

static void test_read(void **state) {
    (void)state;
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        for (int ram = 0; ram < 2; ram++) {
            begin(scheme, ram);
            run((struct reader_task){.task = WIRE_TASK_READ,
                                     .scheme = (uint8_t)scheme,
                                     .flags = (uint8_t)ram},
                (uint32_t)(2 * sizes[scheme] + 9));
            for (size_t place = 0; place < sizes[scheme]; place++) {
                if (reader.result[place] != right_byte(scheme, ram, place) ||
                    reader.result[sizes[scheme] + place] != 0) {
                    fail_msg("scheme %d, RAM %d, place %zu: %02X, %02X", scheme, ram, place,
                             reader.result[place], reader.result[sizes[scheme] + place]);
                }
            }
            const uint8_t *const end = reader.result + 2 * sizes[scheme];
            assert_int_equal(get32(end), 2);
            assert_int_equal(get32(end + 4), 0);
            assert_int_equal(end[8], 0);
            for (uint16_t address = 0x1000; ram && address < 0x1100; address++) {
                assert_int_equal(fake.seen[address], 0);
            }
        }
    }
}

/* Of two readings: each bank's hotspot once at its beginning; then each of the others once as a byte, and its
 * own again after it. So much, and no more. */
static void test_read_accesses(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    run((struct reader_task){.task = WIRE_TASK_READ, .scheme = WIRE_F8}, 2 * 8192 + 9);
    assert_int_equal(fake.reads, 2 * 2 * (4096 + 1 + 1));
    assert_int_equal(fake.seen[0x1FF8], 2 * (2 + 2));
    assert_int_equal(fake.seen[0x1FF9], 2 * (2 + 2));
    assert_int_equal(fake.seen[0x1FF7], 2 * 2);
}

/* The largest, read twice: 2 * 8 * (4096 + 1 + 7) accesses of 838 ns are 55 ms; 0.2 s are allowed. */
static void test_read_time(void **state) {
    (void)state;
    begin(WIRE_F4, false);
    run((struct reader_task){.task = WIRE_TASK_READ, .scheme = WIRE_F4}, 2 * 32768 + 9);
    assert_int_equal(fake.reads, 2 * 8 * (4096 + 1 + 7));
    assert_true(took_us < 200000);
    assert_in_range(took_us, 55000, 70000);
}

static void test_read_unsteady(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    fake.unsteady_one_in =
        5 * 4096 + 77; /* of twenty readings, four come at such a read, each another byte */
    run((struct reader_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K, .option = 20}, 2 * 4096 + 9);
    size_t unsteady = 0;
    for (size_t place = 0; place < 4096; place++) {
        assert_int_equal(reader.result[place], right_byte(WIRE_4K, false, place));
        assert_true(reader.result[4096 + place] == 0 || reader.result[4096 + place] == 0x08);
        unsteady += reader.result[4096 + place] != 0;
    }
    const size_t wrong = 20 * 4096 / (5 * 4096 + 77);
    assert_int_equal(unsteady, wrong);
    assert_int_equal(get32(reader.result + 2 * 4096), 20);
    assert_int_equal(get32(reader.result + 2 * 4096 + 4), wrong);
}

/* Each byte that differs is counted, however many a reading has: of two readings, one in 1000 accesses; the
 * first one's own are wrong in the second as well. */
static void test_read_differing(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    fake.unsteady_one_in = 1000;
    run((struct reader_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K}, 2 * 4096 + 9);
    assert_int_equal(get32(reader.result + 2 * 4096 + 4), 2 * 4096 / 1000);
}

static void test_read_floating(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    fake.open = 0x24;
    run((struct reader_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K}, 2 * 4096 + 9);
    assert_int_equal(reader.result[2 * 4096 + 8], 0x24);
    for (size_t place = 0; place < 4096; place++) {
        assert_int_equal(reader.result[place], right_byte(WIRE_4K, false, place) | 0x24);
    }
}

/* ---- HOTSPOTS ---- */

static void test_hotspots(void **state) {
    (void)state;
    for (int scheme = WIRE_F8; scheme < WIRE_SCHEMES; scheme++) {
        begin(scheme, false);
        const int banks = fake.banks;
        run((struct reader_task){.task = WIRE_TASK_HOTSPOTS, .scheme = (uint8_t)scheme, .option = TELLS},
            (uint32_t)(17 * banks * banks));
        const uint8_t *got = reader.result;
        for (int manner = 0; manner < 2; manner++) {
            for (int from = 0; from < banks; from++) {
                for (int to = 0; to < banks; to++) {
                    assert_int_equal(*got++, fake_byte(to, TELLS));
                }
            }
        }
        for (int i = 0; i < 15 * banks; i++) {
            for (int from = 0; from < banks; from++) {
                assert_int_equal(*got++, fake_byte(from, TELLS));
            }
        }
        assert_int_equal(fake.writes, banks * banks);
        assert_true(fake.seen[fake.first_hotspot - 1] >= (uint32_t)banks);
        assert_true(fake.seen[fake.first_hotspot + banks] >= (uint32_t)banks);
    }
}

/* The address of a place, worked out once more; 0: it has none. */
static uint16_t neighbour(unsigned place, unsigned hotspot) {
    const uint16_t address = place == 13   ? fake.first_hotspot - 1
                             : place == 14 ? (uint16_t)(fake.first_hotspot + fake.banks)
                                           : (uint16_t)((fake.first_hotspot + hotspot) ^ 1U << place);
    return (place > 12 && hotspot > 0) || fake_is_hot(&fake, address) ? 0 : address;
}

/* A neighbour that switches shows in all places that it has, and nowhere else. */
static void test_neighbours(void **state) {
    (void)state;
    enum { BANKS = 4 };
    for (unsigned which = 0; which < 15 * BANKS; which++) {
        begin(WIRE_F6, false);
        fake.also_at = neighbour(which / BANKS, which % BANKS);
        if (fake.also_at == 0) {
            continue;
        }
        run((struct reader_task){.task = WIRE_TASK_HOTSPOTS, .scheme = WIRE_F6, .option = TELLS},
            17 * BANKS * BANKS);
        const uint8_t *got = reader.result + 2 * BANKS * BANKS;
        for (unsigned row = 0; row < 15 * BANKS; row++) {
            const bool switches = neighbour(row / BANKS, row % BANKS) == fake.also_at;
            for (int from = 0; from < BANKS; from++) {
                assert_int_equal(*got++, fake_byte(switches ? 0 : from, TELLS));
            }
        }
    }
}

/* ---- RELEASE ---- */

static void test_release(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    fake.release = 23;
    run(
        (struct reader_task){
            .task = WIRE_TASK_RELEASE, .scheme = WIRE_F8, .bank = 1, .first = 0x1200, .count = 100},
        200);
    for (uint16_t i = 0; i < 100; i++) {
        const uint8_t byte = fake_byte(1, 0x1200 + i);
        assert_int_equal(reader.result[2 * i], byte == 0xFF ? 0 : 23);
        assert_int_equal(reader.result[2 * i + 1], byte == 0x00 ? 0 : 23);
    }
    fake.held_low = 0x10;
    run(
        (struct reader_task){
            .task = WIRE_TASK_RELEASE, .scheme = WIRE_F8, .bank = 1, .first = 0x1200, .count = 1},
        2);
    assert_int_equal(reader.result[0], 255);
}

/* ---- RAM ---- */

static void test_good_ram(void **state) {
    (void)state;
    begin(WIRE_F8, true);
    run((struct reader_task){.task = WIRE_TASK_RAM, .scheme = WIRE_F8, .flags = WIRE_IMAGE_RAM}, 4);
    assert_int_equal(get32(reader.result), 0);
    /* March C- has ten operations for each cell: five writes, five reads; eight backgrounds. */
    assert_int_equal(fake.writes, 8 * 128 * 5);
    for (uint16_t cell = 0; cell < 128; cell++) {
        assert_int_equal(fake.seen[0x1000 + cell], 8 * 5);
        assert_int_equal(fake.seen[0x1080 + cell], 8 * 5);
    }
    /* Three elements go up, three down. */
    assert_int_equal(fake.up, 8 * 3 * 127);
    assert_int_equal(fake.down, 8 * 3 * 127);
}

/* Bit 1 of cell 77 always 0: wrong are just the reads that expect it set. */
static void test_stuck_bit(void **state) {
    (void)state;
    static const uint8_t backgrounds[] = {0x00, 0x55, 0x33, 0x0F, 0xFF, 0xAA, 0xCC, 0xF0};
    begin(WIRE_F8, true);
    fake.stuck_cell = 77;
    fake.stuck_mask = 0x02;
    const struct reader_task task = {.task = WIRE_TASK_RAM, .scheme = WIRE_F8, .flags = WIRE_IMAGE_RAM};
    uint8_t expected[256 * 5];
    size_t count = 0;
    for (uint8_t background = 0; background < 8; background++) {
        for (uint8_t element = 1; element <= 5; element++) {
            const uint8_t right = backgrounds[background] ^ (element == 2 || element == 4 ? 0xFF : 0x00);
            if (right & 0x02) {
                const uint8_t entry[] = {background, element, 77, (uint8_t)(right & ~0x02), right};
                memcpy(expected + 5 * count++, entry, 5);
            }
        }
    }
    run(task, (uint32_t)(4 + 5 * count));
    assert_int_equal(get32(reader.result), count);
    assert_memory_equal(reader.result + 4, expected, 5 * count);
}

/* Without RAM every read is wrong where the floating lines are not what is expected; the log has an end. */
static void test_no_ram(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    run((struct reader_task){.task = WIRE_TASK_RAM, .scheme = WIRE_F8, .flags = WIRE_IMAGE_RAM},
        4 + 5 * WIRE_RAM_LOG);
    assert_true(get32(reader.result) > WIRE_RAM_LOG);
}

/* ---- WAKE ---- */

static void test_wake(void **state) {
    (void)state;
    static const uint64_t lates[] = {0, 7000, 350000, 1900000};
    for (size_t i = 0; i < sizeof lates / sizeof lates[0]; i++) {
        begin(WIRE_F4, false);
        fake.late_us = lates[i];
        fake.comes_up = 5;
        run(
            (struct reader_task){
                .task = WIRE_TASK_WAKE, .scheme = WIRE_F4, .first = 0x1300, .count = TELLS, .option = 40},
            5);
        assert_in_range(get32(reader.result), lates[i], lates[i] + 500);
        assert_int_equal(reader.result[4], 5);
        assert_int_equal(fake.switched_on, 2);
    }
}

static void test_wakes_never(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    fake.late_us = 2500000;
    run((struct reader_task){.task = WIRE_TASK_READ, .scheme = WIRE_F8}, 2 * 8192 + 9);
    fake.now_ns += UINT64_C(1000000000);
    run((struct reader_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x1300, .count = TELLS}, 5);
    assert_int_equal(get32(reader.result), UINT32_MAX);
    assert_int_equal(reader.result[4], 255);
}

/* It did answer in time, and then not: pulled out meanwhile, more likely. */
static void test_gone_while_it_was_off(void **state) {
    (void)state;
    const struct reader_task wake = {.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x1300};
    begin(WIRE_F8, false);
    run((struct reader_task){.task = WIRE_TASK_READ, .scheme = WIRE_F8}, 2 * 8192 + 9);
    assert_int_equal(fake_task(&reader, &fake, &wake, 77), WIRE_OK);
    fake_run(&reader, &fake, 100000);
    assert_false(fake.on);
    fake.dead = true;
    fake_run(&reader, &fake, 10 * (uint64_t)SECOND);
    assert_int_equal(reader.state, WIRE_TASK_FAILED);
    assert_int_equal(reader.trouble, WIRE_SUPPLY_GONE);
    assert_false(fake.on);
}

/* A data line that nobody drives, then or ever, is no reason not to be awake; nothing that answers is. */
static void test_wakes_with_an_open_line(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    fake.open = 0x08;
    fake.late_us = 7000;
    run((struct reader_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_4K, .first = 0x1300}, 5);
    assert_in_range(get32(reader.result), 7000, 7500);
    begin(WIRE_4K, false);
    fake.dead = true;
    run((struct reader_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_4K, .first = 0x1300}, 5);
    assert_int_equal(get32(reader.result), UINT32_MAX);
}

static void test_wakes_with_which_bank(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    run((struct reader_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_4K, .first = 0x1300}, 5);
    assert_int_equal(reader.result[4], 0);
    begin(WIRE_F8, false);
    run((struct reader_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x1300}, 5);
    assert_int_equal(reader.result[4], 255); /* no address was given that tells */
    begin(WIRE_F8, false);
    fake.same_at = 0x1200;
    run((struct reader_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x1300, .count = 0x1200}, 5);
    assert_int_equal(reader.result[4], 255); /* this one does not */
}

/* Not before it answers for good. */
static void test_wakes_twice(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    fake.late_us = 7000;
    fake.away_us = 9000;
    fake.back_us = 30000;
    run((struct reader_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_4K, .first = 0x1300}, 5);
    assert_in_range(get32(reader.result), 30000, 30500);
}

/* ---- QUIET ---- */

static void test_quiet(void **state) {
    (void)state;
    const struct reader_task task = {.task = WIRE_TASK_QUIET, .scheme = WIRE_F8};
    begin(WIRE_F8, false);
    run(task, 6);
    assert_int_equal(get16(reader.result), 0);
    assert_int_equal(get32(reader.result + 2), 0);
    for (uint16_t address = 0; address < 0x1000; address++) {
        assert_int_equal(fake.seen[address], 4); /* pulled high and low; `from` and `to` are the same */
    }
    fake.held_low = 0x08;
    fake.held_high = 0x41;
    run(task, 6);
    assert_int_equal(reader.result[0], 0x08);
    assert_int_equal(reader.result[1], 0x41);
    assert_int_equal(get32(reader.result + 2), 4096);
    assert_true(fake.pull_high);
    begin(WIRE_F8, false);
    fake.dead = true;
    run(task, 6);
    assert_true(fake.pull_high);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_read),
        cmocka_unit_test(test_read_accesses),
        cmocka_unit_test(test_read_time),
        cmocka_unit_test(test_read_unsteady),
        cmocka_unit_test(test_read_differing),
        cmocka_unit_test(test_read_floating),
        cmocka_unit_test(test_hotspots),
        cmocka_unit_test(test_neighbours),
        cmocka_unit_test(test_release),
        cmocka_unit_test(test_good_ram),
        cmocka_unit_test(test_stuck_bit),
        cmocka_unit_test(test_no_ram),
        cmocka_unit_test(test_wake),
        cmocka_unit_test(test_wakes_never),
        cmocka_unit_test(test_gone_while_it_was_off),
        cmocka_unit_test(test_wakes_with_an_open_line),
        cmocka_unit_test(test_wakes_with_which_bank),
        cmocka_unit_test(test_wakes_twice),
        cmocka_unit_test(test_quiet),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
