/* A reader through the host's end of the wire, over the virtual transport: known times, spoilt lines,
 * trouble. */
#include "link/reader.h"
#include "virtual/board.h"
#include "virtual/reader.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { WAIT_MS = 20000, CYCLE_NS = 8, RESULT_MAX = 2 * WIRE_IMAGE_MAX + 9, TELLS = 0x1FEF };

static struct cart_model cartridge;
static struct cart_faults faults;
static uint8_t image[WIRE_IMAGE_MAX], result[RESULT_MAX];
static size_t size;
static struct virtual_reader *reader;
static struct transport transport;
static struct link *wire;
static struct link_task_state task_state;
static struct problem problem;

/* ---- the stage ---- */

static void fill_image(uint32_t seed) {
    for (size_t i = 0; i < sizeof image; i++) {
        seed = seed * 1664525U + 1013904223U;
        image[i] = (uint8_t)(seed >> 24);
    }
    for (size_t bank = 0; bank < 8; bank++) {
        image[bank * 4096 + (TELLS & 0xFFF)] = (uint8_t)(0x10 + bank);
    }
}

/* With `faults` as they are. */
static void insert(int scheme, bool ram) {
    fill_image(7);
    cart_model_init(&cartridge, scheme, ram, image, &faults, 11);
    reader = virtual_reader_new(&cartridge, 1, &problem);
    assert_non_null(reader);
    virtual_reader_transport(reader, &transport);
}

static void plug(int scheme, bool ram) {
    insert(scheme, ram);
    if (!link_open(&transport, NULL, &wire, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static void good_plug(int scheme, bool ram) {
    cart_faults_none(scheme, &faults);
    plug(scheme, ram);
}

static void unplug(void) {
    link_close(wire);
    virtual_reader_free(reader);
}

static bool do_task(struct link_task task) {
    return link_task(wire, &task, WAIT_MS, result, sizeof result, &size, &task_state, &problem);
}

static void must(struct link_task task) {
    if (!do_task(task)) {
        fail_msg("task %d: %s", task.task, problem.text);
    }
}

static void assert_says(enum problem_kind kind, const char *words) {
    if (problem.kind != kind || strstr(problem.text, words) == NULL) {
        fail_msg("'%s' is not in: %s (%d)", words, problem.text, problem.kind);
    }
}

/* ---- what is read ---- */

static void test_bytes(void **state) {
    (void)state;
    for (int scheme = 0; scheme < WIRE_SCHEMES; scheme++) {
        good_plug(scheme, false);
        must((struct link_task){.task = WIRE_TASK_READ, .scheme = scheme});
        const size_t bytes = scheme_bytes(scheme);
        assert_int_equal(size, 2 * bytes + 9);
        for (size_t i = 0; i < bytes; i++) {
            int bank;
            const uint16_t address = scheme_address(scheme, i, &bank);
            const int selects = scheme_selects(scheme, address);
            const size_t shows = selects < 0 ? i : scheme_offset(scheme, selects, address);
            assert_int_equal(result[i], image[shows]);
            assert_int_equal(result[bytes + i], 0);
        }
        unplug();
    }
}

/* Of the reader's own clock: 0.2 s for the largest image read twice, 2 s for the times of 4 KiB. */
static void test_chip_time(void **state) {
    (void)state;
    good_plug(WIRE_F4, false);
    must((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_F4});
    printf("  32 KiB read twice: %u us\n", task_state.took_us);
    assert_true(task_state.took_us <= 200000);
    must((struct link_task){
        .task = WIRE_TASK_MAP, .scheme = WIRE_F4, .bank = 3, .first = 0x1000, .count = 4096});
    printf("  times of 4 KiB: %u us\n", task_state.took_us);
    assert_true(task_state.took_us <= 2000000);
    unplug();
}

/* ---- known times ---- */

/* The first whole cycle at which it is there, after the reader's own [A]; 0 where the lines showed the byte
 * before. */
static unsigned cycles(unsigned ns, bool differs) {
    return differs ? (unsigned)task_state.own + (ns + CYCLE_NS - 1) / CYCLE_NS : 0;
}

static uint8_t byte_of(int scheme, int bank, uint16_t address) {
    const int selects = scheme_selects(scheme, address);
    return image[scheme_offset(scheme, selects < 0 ? bank : selects, address)];
}

static unsigned access_ns(int scheme, int bank, uint16_t address) {
    return cartridge.access_ns[scheme_offset(scheme, bank, address) / SCHEME_PAGE];
}

static bool may_come_from(int scheme, int bank, uint16_t address) {
    const int selects = scheme_selects(scheme, address);
    return selects < 0 || selects == bank;
}

static void assert_times(int scheme, int bank, uint16_t to, const uint8_t *got) {
    const unsigned ns = access_ns(scheme, bank, to);
    const uint8_t byte = byte_of(scheme, bank, to);
    bool one = false;
    for (int line = 0; line < 12; line++) {
        const uint16_t from = (uint16_t)(to ^ 1U << line);
        one = one || (may_come_from(scheme, bank, from) && byte_of(scheme, bank, from) != byte);
    }
    const uint16_t far = to ^ 0xFFF, from_far = may_come_from(scheme, bank, far) ? far : far ^ 0x80;
    const unsigned rising = cycles(ns, byte != 0xFF); /* pulled high before */
    const unsigned all = cycles(ns, byte_of(scheme, bank, from_far) != byte);
    if (got[0] != rising || got[1] != cycles(ns, one) || got[2] != all) {
        fail_msg("$%04X, %u ns: %d %d %d, not %u %u %u", to, ns, got[0], got[1], got[2], rising,
                 cycles(ns, one), all);
    }
}

/* Every address of a bank, with pages of their own times; hotspots are left to tests/core. */
static void test_pages(void **state) {
    (void)state;
    cart_faults_none(WIRE_F8, &faults);
    faults.access_ns = 97;
    faults.slow_pages = CART_SLOW_MAX;
    for (unsigned i = 0; i < CART_SLOW_MAX; i++) {
        faults.slow[i] = (struct cart_slow){(uint8_t)(16 + 2 * i), (uint16_t)(120 + 231 * i)};
    }
    plug(WIRE_F8, false);
    must((struct link_task){
        .task = WIRE_TASK_MAP, .scheme = WIRE_F8, .bank = 1, .first = 0x1000, .count = 0xFF0});
    for (uint16_t at = 0; at < 0xFF0; at++) {
        if (((0x1000 | at) & 0xFF0) < 0xFF0) {
            assert_times(WIRE_F8, 1, 0x1000 | at, result + 3 * at);
        }
    }
    unplug();
}

/* Each time to one step, from where hotspots and writes need to stand (100 ns) to all that can be measured.
 */
static void test_every_step(void **state) {
    (void)state;
    const unsigned step = getenv("SLOTJIG_TEST_SMALL") != NULL ? 37 : 3;
    for (unsigned ns = 1; ns <= 2000; ns += step) {
        cart_faults_none(WIRE_4K, &faults);
        faults.access_ns = (uint16_t)ns;
        plug(WIRE_4K, false);
        must((struct link_task){.task = WIRE_TASK_MAP, .scheme = WIRE_4K, .first = 0x1A40, .count = 4});
        for (uint16_t at = 0; at < 4; at++) {
            assert_times(WIRE_4K, 0, 0x1A40 + at, result + 3 * at);
        }
        unplug();
    }
}

static void test_release_times(void **state) {
    (void)state;
    for (unsigned ns = 1; ns <= 1900; ns += 73) {
        cart_faults_none(WIRE_4K, &faults);
        faults.release_ns = (uint16_t)ns;
        plug(WIRE_4K, false);
        must((struct link_task){.task = WIRE_TASK_RELEASE, .scheme = WIRE_4K, .first = 0x1900, .count = 8});
        for (uint16_t at = 0; at < 8; at++) {
            const uint8_t byte = byte_of(WIRE_4K, 0, 0x1900 + at);
            assert_int_equal(result[2 * at], cycles(ns, byte != 0xFF));
            assert_int_equal(result[2 * at + 1], cycles(ns, byte != 0x00));
        }
        unplug();
    }
}

static void test_wake_times(void **state) {
    (void)state;
    static const uint32_t lates[] = {0, 3000, 444000, 1990000};
    for (size_t i = 0; i < sizeof lates / sizeof lates[0]; i++) {
        cart_faults_none(WIRE_F6, &faults);
        faults.late_us = lates[i];
        faults.first_bank = 2;
        plug(WIRE_F6, false);
        must((struct link_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_F6, .first = 0x1900, .count = TELLS});
        const uint32_t us =
            (uint32_t)(result[0] | result[1] << 8 | result[2] << 16 | (uint32_t)result[3] << 24);
        assert_in_range(us + 1, lates[i], lates[i] + 300); /* two readings of whole microseconds */
        assert_int_equal(result[4], 2);
        unplug();
    }
}

/* One that is slower than the console takes its data is awake all the same. */
static void test_slow_but_awake(void **state) {
    (void)state;
    cart_faults_none(WIRE_F8, &faults);
    faults.access_ns = 1200;
    plug(WIRE_F8, false);
    must((struct link_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x1900, .count = TELLS});
    assert_int_equal(result[2] | result[3], 0);
    assert_int_equal(result[4], 1);
    unplug();
}

/* A contact that comes and goes is no cartridge that was pulled out. */
static void test_loose_but_awake(void **state) {
    (void)state;
    const unsigned seeds = getenv("SLOTJIG_TEST_SMALL") != NULL ? 8 : 60;
    for (unsigned seed = 1; seed <= seeds; seed++) {
        cart_faults_none(WIRE_F8, &faults);
        faults.loose_data = 1 << 2;
        faults.loose_rate = UINT32_MAX / 5;
        fill_image(seed);
        cart_model_init(&cartridge, WIRE_F8, false, image, &faults, seed);
        reader = virtual_reader_new(&cartridge, 1, &problem);
        assert_non_null(reader);
        virtual_reader_transport(reader, &transport);
        assert_true(link_open(&transport, NULL, &wire, &problem));
        must((struct link_task){.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x1900, .count = TELLS});
        assert_int_equal(result[2] | result[3], 0); /* soon */
        unplug();
    }
}

static void test_ram_and_quiet(void **state) {
    (void)state;
    good_plug(WIRE_F8, true);
    must((struct link_task){.task = WIRE_TASK_RAM, .scheme = WIRE_F8, .ram = true});
    assert_int_equal(size, 4);
    must((struct link_task){.task = WIRE_TASK_QUIET, .scheme = WIRE_F8, .ram = true});
    static const uint8_t quiet[6];
    assert_memory_equal(result, quiet, 6);
    must((struct link_task){.task = WIRE_TASK_HOTSPOTS, .scheme = WIRE_F8, .ram = true, .option = TELLS});
    assert_int_equal(size, 17 * 4);
    for (int i = 0; i < 17 * 4; i++) { /* the hotspot's bank, or the one that was selected: the column */
        assert_int_equal(result[i], 0x10 + i % 2);
    }
    unplug();
}

/* ---- lines that lose and double ---- */

static uint8_t clean[RESULT_MAX];
static unsigned opened;

/* Runs a task over a line with such faults; what comes is what came over a good one. */
static void over_a_bad_line(const struct transport_faults *how, struct link_task task, size_t clean_size) {
    struct transport bad;
    struct link_options options;
    link_defaults(&options);
    options.retries = 20; /* so that a line this bad is never given up */
    cart_faults_none(WIRE_4K, &faults);
    insert(WIRE_4K, false);
    assert_true(transport_faulty(&transport, how, &bad, &problem));
    if (!link_open(&bad, &options, &wire, &problem)) {
        assert_true(how->unplug > 0); /* a board that goes while it is greeted is not waited for */
        virtual_reader_free(reader);
        return;
    }
    opened++;
    if (!do_task(task)) {
        fail_msg("seed %u: %s", (unsigned)how->seed, problem.text);
    }
    assert_int_equal(size, clean_size);
    assert_memory_equal(result, clean, size);
    unplug();
}

static void test_bad_lines(void **state) {
    (void)state;
    static const struct link_task tasks[] = {
        {.task = WIRE_TASK_READ, .scheme = WIRE_4K},
        {.task = WIRE_TASK_MAP, .scheme = WIRE_4K, .first = 0x1400, .count = 600},
        {.task = WIRE_TASK_RELEASE, .scheme = WIRE_4K, .first = 0x1400, .count = 40}};
    const uint64_t seeds = getenv("SLOTJIG_TEST_SMALL") != NULL ? 4 : 25;
    opened = 0;
    for (size_t i = 0; i < sizeof tasks / sizeof tasks[0]; i++) {
        good_plug(WIRE_4K, false);
        must(tasks[i]);
        const size_t clean_size = size;
        memcpy(clean, result, size);
        unplug();
        for (uint64_t seed = 1; seed <= seeds; seed++) {
            over_a_bad_line(&(struct transport_faults){.seed = seed, .drop = 0.1, .flip = 0.05, .twice = 0.2},
                            tasks[i], clean_size);
            over_a_bad_line(
                &(struct transport_faults){.seed = seed, .twice = 0.3, .reorder = 0.3, .cut = 0.05}, tasks[i],
                clean_size);
            over_a_bad_line(
                &(struct transport_faults){.seed = seed, .unplug = 0.05, .stall = 0.1, .stall_ms_max = 900},
                tasks[i], clean_size);
        }
    }
    assert_true(opened > 8 * seeds);
}

/* ---- trouble ---- */

static void test_pulled_out(void **state) {
    (void)state;
    for (uint64_t us = 0; us < 60000; us += 4321) {
        good_plug(WIRE_F4, false);
        virtual_reader_pull_after(reader, 10000 + us);
        bool good = true;
        for (int i = 0; good && i < 3; i++) {
            good = do_task((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_F4, .option = 3});
        }
        assert_false(good);
        assert_says(PROBLEM_BENCH, "pulled out");
        unplug();
    }
}

/* In again, it is read as if nothing had been. */
static void test_back_in(void **state) {
    (void)state;
    good_plug(WIRE_4K, false);
    must((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K});
    virtual_reader_insert(reader, false);
    assert_false(do_task((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K}));
    assert_says(PROBLEM_BENCH, "pulled out");
    virtual_reader_insert(reader, true);
    must((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K});
    assert_memory_equal(result, image, 4096);
    unplug();
}

static void test_empty_socket(void **state) {
    (void)state;
    good_plug(WIRE_4K, false);
    virtual_reader_insert(reader, false);
    must((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K});
    assert_int_equal(result[2 * 4096 + 8], 0xFF);
    unplug();
}

static void test_too_long(void **state) {
    (void)state;
    good_plug(WIRE_F4, false);
    const struct link_task endless = {.task = WIRE_TASK_READ, .scheme = WIRE_F4, .option = 65535};
    const uint64_t began = virtual_reader_now_us(reader);
    assert_false(link_task(wire, &endless, 500, result, sizeof result, &size, &task_state, &problem));
    assert_says(PROBLEM_BENCH, "is not done with its task after 500 ms");
    assert_true(virtual_reader_now_us(reader) - began < 1000000);
    assert_false(do_task((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K}));
    assert_says(PROBLEM_BENCH, "another task");
    assert_true(link_supply(wire, false, &problem)); /* which ends it */
    must((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_F4});
    unplug();
}

static void test_values_that_cannot_be(void **state) {
    (void)state;
    good_plug(WIRE_4K, false);
    assert_false(do_task((struct link_task){.task = WIRE_TASK_HOTSPOTS, .scheme = WIRE_4K, .option = TELLS}));
    assert_says(PROBLEM_BENCH, "cannot do that with this scheme");
    assert_false(link_task(wire, &(struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K}, WAIT_MS,
                           result, 100, &size, &task_state, &problem));
    assert_says(PROBLEM_BENCH, "cannot be");
    unplug();
}

/* ---- the other kind of board ---- */

static void test_reader_takes_no_image(void **state) {
    (void)state;
    struct link_push push;
    struct link_status status;
    good_plug(WIRE_4K, false);
    assert_true(link_is_reader(wire));
    assert_int_equal(link_facts(wire)->capabilities & WIRE_CAN_SELECT, 0);
    const struct link_image given = {.bytes = image, .size = 4096, .scheme = WIRE_4K};
    assert_false(link_push(wire, &given, &push, &problem));
    assert_says(PROBLEM_INPUT, "is a reader");
    assert_false(link_status(wire, &status, &problem));
    assert_says(PROBLEM_BENCH, "it is a reader");
    unplug();
}

static void test_board_is_no_reader(void **state) {
    (void)state;
    struct virtual_board_options options;
    virtual_board_defaults(&options);
    struct virtual_board *board = virtual_board_new(&options, &problem);
    assert_non_null(board);
    assert_true(transport_virtual(board, &transport, &problem));
    assert_true(link_open(&transport, NULL, &wire, &problem));
    assert_false(link_is_reader(wire));
    assert_false(do_task((struct link_task){.task = WIRE_TASK_READ, .scheme = WIRE_4K}));
    assert_says(PROBLEM_BENCH, "is a cartridge board");
    assert_false(link_supply(wire, true, &problem));
    assert_says(PROBLEM_BENCH, "is a cartridge board");
    link_close(wire);
    virtual_board_free(board);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bytes),
        cmocka_unit_test(test_chip_time),
        cmocka_unit_test(test_pages),
        cmocka_unit_test(test_every_step),
        cmocka_unit_test(test_release_times),
        cmocka_unit_test(test_wake_times),
        cmocka_unit_test(test_slow_but_awake),
        cmocka_unit_test(test_loose_but_awake),
        cmocka_unit_test(test_ram_and_quiet),
        cmocka_unit_test(test_bad_lines),
        cmocka_unit_test(test_pulled_out),
        cmocka_unit_test(test_back_in),
        cmocka_unit_test(test_empty_socket),
        cmocka_unit_test(test_too_long),
        cmocka_unit_test(test_values_that_cannot_be),
        cmocka_unit_test(test_reader_takes_no_image),
        cmocka_unit_test(test_board_is_no_reader),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
