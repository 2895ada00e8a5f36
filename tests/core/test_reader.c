/* A reader's messages, its supply, and the course of a task, over a bus that is arithmetic. */
#include "core/fake_bus.h"

#include "core/bytes.h"
#include "core/talk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

enum { SECOND = 1000000, PIECE_US = 6000 /* a few milliseconds: the wire's promise */ };

static struct fake_bus fake;
static struct reader reader;
static struct fake_answer answer;

static void begin(int scheme, bool ram) {
    fake_begin(&reader, &fake, scheme, ram);
}

static const struct reader_task read_f8 = {.task = WIRE_TASK_READ, .scheme = WIRE_F8};

static void ask_state(void) {
    assert_true(fake_ask(&reader, &fake, WIRE_TASK_STATE, 99, NULL, 0, &answer));
    assert_int_equal(answer.type, WIRE_TASK_STATE | WIRE_REPLY);
    assert_int_equal(answer.count, 26);
    assert_int_equal(answer.payload[0], WIRE_OK);
}

static void assert_failed(enum wire_supply trouble) {
    ask_state();
    assert_int_equal(answer.payload[2], WIRE_TASK_FAILED);
    assert_int_equal(answer.payload[19], trouble);
    assert_int_equal(get32(answer.payload + 11), 0);
    assert_false(fake.on);
}

/* ---- messages ---- */

static void test_hello(void **state) {
    (void)state;
    static const uint8_t versions[] = {WIRE_VERSION, WIRE_VERSION}, others[] = {2, 9};
    static const uint8_t serial[] = {1, 2, 3, 4, 5, 6, 7, 8};
    begin(WIRE_F8, false);
    assert_true(fake_ask(&reader, &fake, WIRE_HELLO, 7, versions, 2, &answer));
    assert_int_equal(answer.type, WIRE_HELLO | WIRE_REPLY);
    assert_int_equal(answer.sequence, 7);
    assert_int_equal(answer.count, 25);
    assert_int_equal(answer.payload[0], WIRE_OK);
    assert_int_equal(get32(answer.payload + 4), WIRE_CAN_READ | WIRE_CAN_LOADER);
    assert_memory_equal(answer.payload + 17, serial, 8);
    assert_true(fake_ask(&reader, &fake, WIRE_HELLO, 8, others, 2, &answer));
    assert_int_equal(answer.payload[0], WIRE_BAD_VERSION);
}

static void assert_refused(uint8_t type, size_t count, enum wire_status status) {
    static const uint8_t zeros[WIRE_PAYLOAD_MAX];
    assert_true(fake_ask(&reader, &fake, type, 3, zeros, count, &answer));
    assert_int_equal(answer.type, WIRE_ERROR);
    assert_int_equal(answer.sequence, 3);
    assert_int_equal(answer.count, 2);
    assert_int_equal(answer.payload[0], status);
    assert_int_equal(answer.payload[1], type);
}

/* Every message that it knows, with every wrong length up to 16 and the longest; every other type. */
static void test_lengths_and_types(void **state) {
    (void)state;
    static const struct {
        uint8_t type, length;
    } known[] = {{WIRE_HELLO, 2}, {WIRE_LOG_LEVEL, 1},  {WIRE_LOADER, 4},     {WIRE_SUPPLY, 1},
                 {WIRE_TASK, 12}, {WIRE_TASK_STATE, 0}, {WIRE_TASK_RESULT, 6}};
    begin(WIRE_F8, false);
    bool is_known[128] = {false};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        is_known[known[i].type] = true;
        for (size_t length = 0; length <= 16; length++) {
            if (length != known[i].length) {
                assert_refused(known[i].type, length, WIRE_BAD_LENGTH);
            }
        }
        assert_refused(known[i].type, WIRE_PAYLOAD_MAX, WIRE_BAD_LENGTH);
    }
    for (unsigned type = 0; type < 128; type++) {
        if (!is_known[type]) {
            assert_refused((uint8_t)type, 0, WIRE_UNKNOWN);
        }
    }
    for (unsigned type = 128; type < 256; type++) {
        assert_false(fake_ask(&reader, &fake, (uint8_t)type, 3, NULL, 0, &answer));
    }
    assert_false(fake.on);
}

static void test_board_refuses(void **state) {
    (void)state;
    static const uint8_t types[] = {WIRE_SUPPLY, WIRE_TASK, WIRE_TASK_STATE, WIRE_TASK_RESULT};
    static const uint8_t zeros[12];
    static struct talk talk;
    struct virtual_board_options options;
    struct problem problem = {0};
    virtual_board_defaults(&options);
    struct virtual_board *board = virtual_board_new(&options, &problem);
    assert_non_null(board);
    talk_start(&talk, board);
    for (size_t i = 0; i < sizeof types; i++) {
        assert_int_equal(talk_ask(&talk, types[i], zeros, sizeof zeros), WIRE_UNKNOWN);
        assert_int_equal(talk.type, WIRE_ERROR);
    }
    virtual_board_free(board);
}

static void test_values_that_cannot_be(void **state) {
    (void)state;
    static const struct reader_task bad[] = {
        {.task = WIRE_TASK_NONE, .scheme = WIRE_F8},
        {.task = WIRE_TASKS, .scheme = WIRE_F8},
        {.task = WIRE_TASK_READ, .scheme = WIRE_SCHEMES},
        {.task = WIRE_TASK_READ, .scheme = WIRE_F8, .flags = 2},
        {.task = WIRE_TASK_READ, .scheme = WIRE_F8, .option = 65536},
        {.task = WIRE_TASK_MAP, .scheme = WIRE_F8, .bank = 2, .first = 0x1000, .count = 1},
        {.task = WIRE_TASK_MAP, .scheme = WIRE_F8, .first = 0x0FFF, .count = 1},
        {.task = WIRE_TASK_MAP, .scheme = WIRE_F8, .first = 0x1000, .count = 0},
        {.task = WIRE_TASK_MAP, .scheme = WIRE_F8, .first = 0x1000, .count = 4097},
        {.task = WIRE_TASK_MAP, .scheme = WIRE_F8, .first = 0x1FFF, .count = 2},
        {.task = WIRE_TASK_MAP, .scheme = WIRE_F8, .first = 0x2000, .count = 1},
        {.task = WIRE_TASK_HOTSPOTS, .scheme = WIRE_4K, .option = 0x1200},
        {.task = WIRE_TASK_HOTSPOTS, .scheme = WIRE_F8, .option = 0x1FF8},
        {.task = WIRE_TASK_HOTSPOTS, .scheme = WIRE_F8, .option = 0x11200},
        {.task = WIRE_TASK_HOTSPOTS, .scheme = WIRE_F8, .flags = 1, .option = 0x1040},
        {.task = WIRE_TASK_RELEASE, .scheme = WIRE_F8, .first = 0x1FF0, .count = 9},
        {.task = WIRE_TASK_RELEASE, .scheme = WIRE_F8, .first = 0x1200, .count = 0},
        {.task = WIRE_TASK_RELEASE, .scheme = WIRE_4K, .first = 0x1FFF, .count = 65535},
        {.task = WIRE_TASK_RAM, .scheme = WIRE_F8},
        {.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x0200},
        {.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x1200, .count = 0x1FF9},
        {.task = WIRE_TASK_WAKE, .scheme = WIRE_F8, .first = 0x1200, .option = 60001},
    };
    begin(WIRE_F8, false);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        if (fake_task(&reader, &fake, &bad[i], 1) != WIRE_BAD_VALUE) {
            fail_msg("row %zu is taken", i);
        }
    }
    assert_false(reader_poll(&reader, 2000));
    assert_int_equal(fake.switched_on, 0);
    static const uint8_t two[] = {2};
    assert_true(fake_ask(&reader, &fake, WIRE_SUPPLY, 1, two, 1, &answer));
    assert_int_equal(answer.payload[0], WIRE_BAD_VALUE);
    assert_int_equal(answer.count, 1);
}

/* ---- the course of a task ---- */

static void test_course(void **state) {
    (void)state;
    struct reader_task other = read_f8;
    other.option = 3;
    begin(WIRE_F8, false);
    ask_state();
    assert_int_equal(answer.payload[2], WIRE_TASK_IDLE);
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 5), WIRE_OK);
    assert_false(fake.on); /* it begins in the next poll */
    assert_true(reader_poll(&reader, fake.now_ns / 1000));
    assert_true(fake.on);
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 6), WIRE_OK);
    assert_int_equal(fake_task(&reader, &fake, &other, 7), WIRE_BUSY);
    ask_state();
    assert_int_equal(answer.payload[1], WIRE_TASK_READ);
    assert_int_equal(answer.payload[2], WIRE_TASK_RUNNING);
    assert_int_equal(get32(answer.payload + 7), 2 * 8192);
    assert_int_equal(get32(answer.payload + 20), FAKE_CYCLE_PS);
    assert_int_equal(get16(answer.payload + 24), FAKE_OWN);
    assert_true(fake_run(&reader, &fake, SECOND) < PIECE_US);
    ask_state();
    assert_int_equal(answer.payload[2], WIRE_TASK_DONE);
    assert_int_equal(get32(answer.payload + 3), get32(answer.payload + 7));
    assert_int_equal(get32(answer.payload + 11), 2 * 8192 + 9);
    assert_true(fake.on);
}

/* What the line delivers once more after the end does not start the task again; a new question does. */
static void test_echo(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 5), WIRE_OK);
    fake_run(&reader, &fake, SECOND);
    const uint64_t reads = fake.reads;
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 5), WIRE_OK);
    ask_state();
    assert_int_equal(answer.payload[2], WIRE_TASK_DONE);
    fake_run(&reader, &fake, SECOND);
    assert_int_equal(fake.reads, reads);
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 6), WIRE_OK);
    ask_state();
    assert_int_equal(answer.payload[2], WIRE_TASK_RUNNING);
    fake_run(&reader, &fake, SECOND);
    assert_true(fake.reads > reads);
}

static int ask_result(uint32_t offset, uint16_t count) {
    uint8_t ask[6];
    put32(ask, offset);
    put16(ask + 4, count);
    assert_true(fake_ask(&reader, &fake, WIRE_TASK_RESULT, 1, ask, sizeof ask, &answer));
    return answer.payload[0];
}

static void test_results(void **state) {
    (void)state;
    const uint32_t size = 2 * 8192 + 9;
    begin(WIRE_F8, false);
    assert_int_equal(ask_result(0, 1), WIRE_NOT_BEGUN);
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 5), WIRE_OK);
    assert_int_equal(ask_result(0, 1), WIRE_NOT_BEGUN);
    fake_run(&reader, &fake, SECOND);
    assert_int_equal(ask_result(0, 1024), WIRE_OK);
    assert_int_equal(answer.count, 1025);
    assert_int_equal(ask_result(size - 9, 9), WIRE_OK);
    assert_int_equal(ask_result(size - 9, 10), WIRE_BAD_VALUE);
    assert_int_equal(ask_result(size, 1), WIRE_BAD_VALUE);
    assert_int_equal(ask_result(UINT32_MAX, 1024), WIRE_BAD_VALUE);
    assert_int_equal(ask_result(0, 0), WIRE_BAD_VALUE);
    assert_int_equal(ask_result(0, 1025), WIRE_BAD_VALUE);
}

/* The wire is looked at within milliseconds, whatever the task. */
static void test_pieces(void **state) {
    (void)state;
    for (uint8_t task = WIRE_TASK_READ; task < WIRE_TASKS; task++) {
        const struct reader_task ask = {.task = task,
                                        .scheme = WIRE_F4,
                                        .flags = WIRE_IMAGE_RAM,
                                        .bank = 1,
                                        .first = 0x1200,
                                        .count = task == WIRE_TASK_WAKE ? 0x1300 : 64,
                                        .option = task == WIRE_TASK_HOTSPOTS ? 0x1300 : 0};
        begin(WIRE_F4, true);
        assert_int_equal(fake_task(&reader, &fake, &ask, task), WIRE_OK);
        assert_true(fake_run(&reader, &fake, 5 * SECOND) < PIECE_US);
        ask_state();
        assert_int_equal(answer.payload[2], WIRE_TASK_DONE);
    }
}

/* ---- the supply ---- */

static void start_reading(void) {
    const struct reader_task longest = {.task = WIRE_TASK_READ, .scheme = WIRE_F8, .option = 65535};
    assert_int_equal(fake_task(&reader, &fake, &longest, 5), WIRE_OK);
    fake_run(&reader, &fake, 20000);
    assert_true(fake.on);
}

static void test_overload(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    start_reading();
    fake.trouble = WIRE_SUPPLY_OVERLOAD;
    fake_run(&reader, &fake, SECOND);
    assert_failed(WIRE_SUPPLY_OVERLOAD);
    static const uint8_t on[] = {1};
    assert_true(fake_ask(&reader, &fake, WIRE_SUPPLY, 9, on, 1, &answer));
    assert_int_equal(answer.count, 3);
    assert_int_equal(answer.payload[2], WIRE_SUPPLY_OVERLOAD);
    reader_poll(&reader, fake.now_ns / 1000);
    assert_false(fake.on);
}

static void test_no_voltage(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    fake.trouble = WIRE_SUPPLY_MISSING;
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 5), WIRE_OK);
    const uint64_t began = fake.now_ns;
    fake_run(&reader, &fake, SECOND);
    assert_failed(WIRE_SUPPLY_MISSING);
    assert_in_range(fake.now_ns - began, 90000000, 200000000);
}

static void test_silence(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    start_reading();
    fake_run(&reader, &fake, 59 * (uint64_t)SECOND);
    assert_true(fake.on);
    fake_run(&reader, &fake, 2 * SECOND);
    assert_failed(WIRE_SUPPLY_GOOD);
}

/* The same with nothing to do, and with a host that does ask. */
static void test_silence_when_idle(void **state) {
    (void)state;
    static const uint8_t on[] = {1};
    begin(WIRE_F8, false);
    assert_true(fake_ask(&reader, &fake, WIRE_SUPPLY, 1, on, 1, &answer));
    assert_int_equal(answer.payload[1], 1);
    for (int i = 0; i < 5; i++) {
        fake.now_ns += UINT64_C(50000000000);
        ask_state();
        reader_poll(&reader, fake.now_ns / 1000);
        assert_true(fake.on);
    }
    fake.now_ns += UINT64_C(60000000000);
    reader_poll(&reader, fake.now_ns / 1000);
    assert_false(fake.on);
}

static void test_off_ends_a_task(void **state) {
    (void)state;
    static const uint8_t off[] = {0};
    begin(WIRE_F8, false);
    start_reading();
    assert_true(fake_ask(&reader, &fake, WIRE_SUPPLY, 9, off, 1, &answer));
    assert_int_equal(answer.payload[1], 0);
    assert_failed(WIRE_SUPPLY_GOOD);
    assert_false(reader_poll(&reader, fake.now_ns / 1000));
}

/* ---- is there a cartridge? ---- */

static void test_pulled_out(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    start_reading();
    fake.gone_at_us = fake.now_ns / 1000 + 5000;
    const uint64_t began = fake.now_ns;
    fake_run(&reader, &fake, SECOND);
    assert_failed(WIRE_SUPPLY_GONE);
    assert_in_range((fake.now_ns - began) / 1000, 5000, 20000);
}

static void test_pulled_out_between_tasks(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 5), WIRE_OK);
    fake_run(&reader, &fake, SECOND);
    assert_true(fake.on);
    fake.gone_at_us = fake.now_ns / 1000;
    for (int i = 0; i < 3; i++) {
        fake.now_ns += 60000000;
        reader_poll(&reader, fake.now_ns / 1000);
    }
    assert_false(fake.on);
    ask_state(); /* what was done stays done */
    assert_int_equal(answer.payload[2], WIRE_TASK_DONE);
    assert_int_equal(answer.payload[19], WIRE_SUPPLY_GONE);
}

/* It is waited for, so that what is read is the cartridge's. */
static void test_late(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    fake.late_us = 1500000;
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 5), WIRE_OK);
    fake_run(&reader, &fake, 3 * SECOND);
    ask_state();
    assert_int_equal(answer.payload[2], WIRE_TASK_DONE);
    assert_true(get32(answer.payload + 15) < 100000); /* the waiting is not counted */
    assert_int_equal(ask_result(0, 1), WIRE_OK);
    assert_int_equal(answer.payload[1], fake_byte(0, 0x1000));
}

/* A dead one, or none: what is read then is told, with all lines floating. */
static void test_dead(void **state) {
    (void)state;
    begin(WIRE_F8, false);
    fake.dead = true;
    assert_int_equal(fake_task(&reader, &fake, &read_f8, 5), WIRE_OK);
    const uint64_t began = fake.now_ns;
    fake_run(&reader, &fake, 5 * SECOND);
    ask_state();
    assert_int_equal(answer.payload[2], WIRE_TASK_DONE);
    assert_in_range((fake.now_ns - began) / 1000, 2000000, 2200000);
    assert_int_equal(ask_result(2 * 8192 + 8, 1), WIRE_OK);
    assert_int_equal(answer.payload[1], 0xFF);
}

static void test_loader(void **state) {
    (void)state;
    uint8_t key[4];
    begin(WIRE_F8, false);
    start_reading();
    put32(key, 1);
    assert_true(fake_ask(&reader, &fake, WIRE_LOADER, 1, key, 4, &answer));
    assert_int_equal(answer.payload[0], WIRE_BAD_VALUE);
    put32(key, WIRE_LOADER_KEY);
    assert_true(fake_ask(&reader, &fake, WIRE_LOADER, 2, key, 4, &answer));
    assert_int_equal(answer.payload[0], WIRE_OK);
    fake.now_ns += 60000000;
    reader_poll(&reader, fake.now_ns / 1000);
    assert_true(fake.in_loader);
    assert_false(fake.loader_with_supply);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_hello),
        cmocka_unit_test(test_lengths_and_types),
        cmocka_unit_test(test_board_refuses),
        cmocka_unit_test(test_values_that_cannot_be),
        cmocka_unit_test(test_course),
        cmocka_unit_test(test_echo),
        cmocka_unit_test(test_results),
        cmocka_unit_test(test_pieces),
        cmocka_unit_test(test_overload),
        cmocka_unit_test(test_no_voltage),
        cmocka_unit_test(test_silence),
        cmocka_unit_test(test_silence_when_idle),
        cmocka_unit_test(test_off_ends_a_task),
        cmocka_unit_test(test_pulled_out),
        cmocka_unit_test(test_pulled_out_between_tasks),
        cmocka_unit_test(test_late),
        cmocka_unit_test(test_dead),
        cmocka_unit_test(test_loader),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
