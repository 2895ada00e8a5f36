/* The virtual bench's board as a thing of its own: its time, its power cut, its unplugging. */
#include "core/talk.h"

#include "core/bytes.h"
#include "core/idle.h"
#include "core/store.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

enum { BUS = 0x5A };

static uint8_t flash[STORE_BYTES], image[4096];
static struct virtual_board_options options;
static struct virtual_board *board;
static struct talk talk;
static const struct talk_image four = {image, 4, WIRE_4K, 0};

static int prepare(void **state) {
    (void)state;
    memset(flash, 0xFF, sizeof flash);
    talk_fill(image, sizeof image, 21);
    virtual_board_defaults(&options);
    options.flash = flash;
    board = NULL;
    return 0;
}

static int stop(void **state) {
    (void)state;
    virtual_board_free(board);
    return 0;
}

static void power_on(void) {
    struct problem problem;
    virtual_board_free(board);
    board = virtual_board_new(&options, &problem);
    assert_non_null(board);
    talk_start(&talk, board);
}

static void test_it_serves_as_soon_as_it_is_there(void **state) {
    (void)state;
    power_on();
    for (int address = 0; address < 0x2000; address++) {
        uint8_t wanted = address & 0x1000 ? idle_image[address % IDLE_SIZE] : BUS;
        assert_int_equal(virtual_board_cycle(board, (uint16_t)address, BUS), wanted);
    }
    assert_int_equal(talk_push(&talk, &four, 0), WIRE_OK);
    power_on();
    for (int address = 0x1000; address < 0x2000; address++) {
        assert_int_equal(virtual_board_cycle(board, (uint16_t)address, BUS), image[address & 0xFFF]);
    }
}

/* 838 ns a cycle: three clocks of 3.579545 MHz [A]. */
static void test_bus_cycles_take_time(void **state) {
    (void)state;
    power_on();
    for (int i = 0; i < 1000000; i++) {
        virtual_board_cycle(board, 0x1000, BUS);
    }
    assert_in_range(virtual_board_now(board), 837900, 838100);
    virtual_board_wait(board, 1000000);
    assert_in_range(virtual_board_now(board), 1675900, 1676100);
    virtual_board_advance(board, 10);
    assert_in_range(virtual_board_now(board), 1675910, 1676110);
}

/* An address that stands still is seen once; a cycle that waits is none. */
static void test_the_watch_sees_changes(void **state) {
    (void)state;
    power_on();
    virtual_board_supply(board, true);
    for (uint32_t i = 0; i < 300000; i++) {
        virtual_board_cycle(board, (uint16_t)(0x1000 + i / 3 % 0x100), BUS);
        virtual_board_wait(board, 4);
    }
    assert_int_equal(talk_ask(&talk, WIRE_WATCH, NULL, 0), WIRE_OK);
    /* A second has 1,193,317 cycles of 838 ns, every fifteenth with a new address. */
    assert_in_range(get32(talk.payload + 1 + 3), 79400, 79700);
    assert_int_equal(get32(talk.payload + 1 + 19), 0);
}

/* A board that is busy with its flash goes on serving, loses changes of the address, and says how many. */
static void test_flash_keeps_the_watch_waiting(void **state) {
    (void)state;
    options.erase_us = 100000;
    power_on();
    virtual_board_supply(board, true);
    uint8_t ask[11] = {1, 2, 3, 4, 4, WIRE_4K, 0};
    talk_send(&talk, WIRE_BEGIN, 0, ask, sizeof ask);
    uint32_t cycles = 0;
    for (; virtual_board_now(board) < 1050000; cycles++) {
        uint16_t address = (uint16_t)(0x1000 + cycles % 0x100);
        assert_int_equal(virtual_board_cycle(board, address, BUS), idle_image[address % IDLE_SIZE]);
    }
    assert_true(talk_hear(&talk, 0));
    assert_int_equal(talk_ask(&talk, WIRE_WATCH, NULL, 0), WIRE_OK);
    uint32_t seen = get32(talk.payload + 1 + 3), missed = get32(talk.payload + 1 + 19);
    /* 100 ms are 119,331 cycles, of which one batch of 1,024 is kept. */
    assert_in_range(missed, 117000, 119400);
    assert_in_range(seen + missed, 1190000, 1196000);
}

static void test_a_dead_board(void **state) {
    (void)state;
    uint8_t byte;
    options.power_cut_after = 3;
    power_on();
    assert_int_equal(talk_push(&talk, &four, 0), -1);
    assert_true(virtual_board_dead(board));
    assert_int_equal(virtual_board_cycle(board, 0x1000, BUS), BUS);
    assert_int_equal(virtual_board_take(board, &byte, 1), 0);
    assert_int_equal(talk_ask(&talk, WIRE_STATUS, NULL, 0), -1);
    virtual_board_advance(board, 1000000);
    virtual_board_supply(board, true);
    virtual_board_unplug(board);
    assert_true(virtual_board_dead(board));
    options.power_cut_after = -1;
    power_on();
    assert_int_equal(talk_push(&talk, &four, 0), WIRE_OK);
    assert_true(talk_holds(&talk, &four));
}

static void test_unplugged_bytes_are_lost(void **state) {
    (void)state;
    uint8_t wire[WIRE_FRAME_MAX], byte;
    power_on();
    talk_send(&talk, WIRE_STATUS, 1, NULL, 0);
    size_t length = frame_encode(WIRE_STATUS, 2, NULL, 0, wire);
    virtual_board_receive(board, wire, length - 1);
    virtual_board_unplug(board);
    virtual_board_receive(board, wire + length - 1, 1);
    virtual_board_advance(board, 10000);
    assert_int_equal(virtual_board_take(board, &byte, 1), 0);
    assert_int_equal(talk_ask(&talk, WIRE_STATUS, NULL, 0), WIRE_OK);
}

/* What waits while the flash is at work is lost too. */
static void test_unplugged_while_busy(void **state) {
    (void)state;
    uint8_t byte, ask[11] = {1, 2, 3, 4, 4, WIRE_4K, 0};
    options.erase_us = 50000;
    power_on();
    talk_send(&talk, WIRE_BEGIN, 0, ask, sizeof ask);
    talk_send(&talk, WIRE_STATUS, 1, NULL, 0);
    virtual_board_advance(board, 10000);
    virtual_board_unplug(board);
    virtual_board_advance(board, 100000);
    assert_int_equal(virtual_board_take(board, &byte, 1), 0);
    assert_int_equal(talk_ask(&talk, WIRE_STATUS, NULL, 0), WIRE_OK);
}

/* The same seed tears the same way; another one does not. */
static void test_torn_operations_come_from_the_seed(void **state) {
    (void)state;
    static uint8_t first[sizeof flash];
    int differ = 0;
    for (int run = 0; run < 12; run++) {
        memset(flash, 0xFF, sizeof flash);
        options.seed = run < 2 ? 5 : (uint64_t)run;
        options.power_cut_after = 4;
        power_on();
        talk_push(&talk, &four, 0);
        assert_true(virtual_board_dead(board));
        if (run == 0) {
            memcpy(first, flash, sizeof flash);
        } else if (run == 1) {
            assert_memory_equal(first, flash, sizeof flash);
        } else {
            differ += memcmp(first, flash, sizeof flash) != 0;
        }
    }
    assert_true(differ > 3);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_it_serves_as_soon_as_it_is_there, prepare, stop),
        cmocka_unit_test_setup_teardown(test_bus_cycles_take_time, prepare, stop),
        cmocka_unit_test_setup_teardown(test_the_watch_sees_changes, prepare, stop),
        cmocka_unit_test_setup_teardown(test_flash_keeps_the_watch_waiting, prepare, stop),
        cmocka_unit_test_setup_teardown(test_a_dead_board, prepare, stop),
        cmocka_unit_test_setup_teardown(test_unplugged_bytes_are_lost, prepare, stop),
        cmocka_unit_test_setup_teardown(test_unplugged_while_busy, prepare, stop),
        cmocka_unit_test_setup_teardown(test_torn_operations_come_from_the_seed, prepare, stop),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
