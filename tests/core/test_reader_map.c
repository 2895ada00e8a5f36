/* A reader's times of every address, to the cycle, over a bus that is arithmetic [A throughout]. */
#include "core/fake_bus.h"

#include "core/bytes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

static struct fake_bus fake;
static struct reader reader;
static uint32_t took_us;

static void begin(int scheme, bool ram) {
    fake_begin(&reader, &fake, scheme, ram);
}

static void run(struct reader_task task, uint32_t size) {
    took_us = fake_whole_task(&reader, &fake, &task, size);
}

/* Where the lines may come from, while that bank is looked at. */
static bool may_come_from(uint16_t address, int bank, bool ram) {
    const bool writes = ram && address >= 0x1000 && address < 0x1080;
    return !writes && (!fake_is_hot(&fake, address) || address == fake.first_hotspot + bank);
}

static unsigned slowest_line(uint16_t to, int bank, bool ram) {
    unsigned slowest = 0;
    for (int line = 0; line < 12; line++) {
        const uint16_t from = (uint16_t)(to ^ 1U << line);
        if (may_come_from(from, bank, ram)) {
            const unsigned time = fake_time(from, to);
            slowest = time > slowest ? time : slowest;
        }
    }
    return slowest;
}

static void assert_times(uint16_t first, uint32_t count, int bank, bool ram) {
    for (uint32_t i = 0; i < count; i++) {
        const uint16_t to = (uint16_t)(first + i), far = to ^ 0xFFF;
        const uint8_t *const got = reader.result + 3 * i;
        const uint16_t all_from = may_come_from(far, bank, ram) ? far : far ^ 0x80;
        if (ram && to < 0x1080) {
            assert_int_equal(got[0] & got[1] & got[2], 255);
        } else if (got[0] != fake_time(to & 0xFFF, to) || got[1] != slowest_line(to, bank, ram) ||
                   got[2] != fake_time(all_from, to)) {
            fail_msg("$%04X: %d %d %d, not %d %d %d", to, got[0], got[1], got[2], fake_time(to & 0xFFF, to),
                     slowest_line(to, bank, ram), fake_time(all_from, to));
        }
    }
}

/* Every address of every kind of window; and 4 KiB in at most 2 s, with a sample at 3.6 us. */
static void test_map(void **state) {
    (void)state;
    static const uint8_t schemes[] = {WIRE_2K, WIRE_4K, WIRE_F8, WIRE_F4};
    for (size_t i = 0; i < sizeof schemes; i++) {
        const uint32_t count = schemes[i] == WIRE_2K ? 2048 : 4096;
        const uint16_t first = (uint16_t)(0x2000 - count);
        begin(schemes[i], false);
        run((struct reader_task){.task = WIRE_TASK_MAP,
                                 .scheme = schemes[i],
                                 .bank = (uint8_t)(fake.banks - 1),
                                 .first = first,
                                 .count = (uint16_t)count},
            3 * count);
        assert_times(first, count, fake.banks - 1, false);
        assert_true(took_us < 2000000);
        assert_true(fake.samples < 120 * (uint64_t)count);
        assert_int_equal(fake_is_hot(&fake, 0x1FF8), schemes[i] >= WIRE_F8);
    }
}

/* Another bank is there before, and again after its own hotspot was looked at. */
static void test_map_of_its_bank(void **state) {
    (void)state;
    static const uint16_t firsts[] = {0x1400, 0x1FF4};
    for (size_t i = 0; i < 2; i++) {
        begin(WIRE_F8, false);
        fake.comes_up = 1;
        run((struct reader_task){.task = WIRE_TASK_MAP, .scheme = WIRE_F8, .first = firsts[i], .count = 12},
            3 * 12);
        assert_times(firsts[i], 12, 0, false);
        assert_int_equal(fake.bank, 0);
    }
}

static void test_map_beside_ram(void **state) {
    (void)state;
    begin(WIRE_F8, true);
    run((struct reader_task){.task = WIRE_TASK_MAP,
                             .scheme = WIRE_F8,
                             .flags = WIRE_IMAGE_RAM,
                             .first = 0x1000,
                             .count = 4096},
        3 * 4096);
    assert_times(0x1000, 4096, 0, true);
    for (uint16_t address = 0x1000; address < 0x1080; address++) {
        assert_int_equal(fake.seen[address], 0);
    }
}

/* A sample that is wrong once more, later: the time is after it. */
static void test_map_not_steady_at_once(void **state) {
    (void)state;
    static const unsigned lates[] = {1, 4};
    for (size_t i = 0; i < 2; i++) {
        begin(WIRE_4K, false);
        fake.late_sample = lates[i];
        run((struct reader_task){.task = WIRE_TASK_MAP, .scheme = WIRE_4K, .first = 0x1800, .count = 256},
            3 * 256);
        for (uint32_t at = 0; at < 256; at++) {
            const uint16_t to = (uint16_t)(0x1800 + at);
            assert_int_equal(reader.result[3 * at], fake_time(to & 0xFFF, to) + lates[i] + 1);
            assert_int_equal(reader.result[3 * at + 2], fake_time(to ^ 0xFFF, to) + lates[i] + 1);
            assert_true(reader.result[3 * at + 1] > slowest_line(to, 0, false));
        }
    }
}

/* What stands there is not the same each time: no time. */
static void test_map_two_ways(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    fake.two_ways = true;
    run((struct reader_task){.task = WIRE_TASK_MAP, .scheme = WIRE_4K, .first = 0x1800, .count = 64}, 3 * 64);
    size_t never = 0;
    for (size_t i = 0; i < 3 * 64; i++) {
        never += reader.result[i] == 255;
    }
    assert_true(never > 0);
}

/* Whatever a cartridge does, a map has an end: one sample in three is wrong. */
static void test_map_never_steady(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    fake.wrong_sample_in = 3;
    run((struct reader_task){.task = WIRE_TASK_MAP, .scheme = WIRE_4K, .first = 0x1000, .count = 4096},
        3 * 4096);
    assert_true(took_us < 2000000);
}

/* One in a hundred: no address looks slow for that. */
static void test_map_of_a_loose_contact(void **state) {
    (void)state;
    begin(WIRE_4K, false);
    fake.wrong_sample_in = 101;
    run((struct reader_task){.task = WIRE_TASK_MAP, .scheme = WIRE_4K, .first = 0x1000, .count = 4096},
        3 * 4096);
    for (size_t i = 0; i < 3 * 4096; i++) {
        assert_in_range(reader.result[i], 1, 100);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_map),
        cmocka_unit_test(test_map_of_its_bank),
        cmocka_unit_test(test_map_beside_ram),
        cmocka_unit_test(test_map_not_steady_at_once),
        cmocka_unit_test(test_map_two_ways),
        cmocka_unit_test(test_map_never_steady),
        cmocka_unit_test(test_map_of_a_loose_contact),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
