/*
 * The hand-over with a console in the slot: the board's core, the console model and images from rom/
 * together. What the console draws is read from the slate in its picture; lines of a field [H S.
 * Wright, 3.3]: 262.
 */
#include "core/talk.h"
#include "plan/plan.h"
#include "rom/field_slate.h"
#include "rom/rom.h"
#include "virtual/console.h"

#include "core/bytes.h"
#include "slotjig/mailbox.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

enum { LINES = 262, LONGEST_FIELDS = 120 };

static struct console console;
static struct image *plan_image;
static uint8_t whole[4096]; /* the plan's image, twice if it is short */

/* Board and console on one clock. */
static struct bench {
    struct virtual_board *board;
    struct talk talk;
    uint64_t cycles; /* of the console at the last cycle seen */
} bench;

static uint8_t slot_cycle(void *state, uint16_t address, uint8_t bus) {
    struct bench *at = state;
    if (console.cycles > at->cycles + 1) {
        virtual_board_wait(at->board, (uint32_t)(console.cycles - at->cycles - 1));
    }
    at->cycles = console.cycles;
    return virtual_board_cycle(at->board, address, bus);
}

static void slot_write(void *state, uint16_t address, uint8_t value) {
    slot_cycle(state, address, value);
}

static void slot_pass(void *state, uint16_t address, uint8_t bus) {
    slot_cycle(state, address, bus);
}

static void switch_on(void) {
    struct tia_chip chip;
    tia_chip_default(&chip);
    const struct cartridge cartridge = {
        .state = &bench, .read = slot_cycle, .write = slot_write, .pass = slot_pass};
    bench.cycles = 0;
    virtual_board_supply(bench.board, true);
    console_power_on(&console, &chip, &cartridge, 3);
}

static void new_board(uint8_t *flash) {
    struct problem problem;
    struct virtual_board_options options;
    virtual_board_defaults(&options);
    options.flash = flash;
    bench.board = virtual_board_new(&options, &problem);
    assert_non_null(bench.board);
    talk_start(&bench.talk, bench.board);
}

static int make_image(void **state) {
    (void)state;
    struct problem problem;
    struct plan *plan;
    const struct rom_options options = {.hold = 4, .size = 4096};
    if (!plan_open("bits", STANDARD_NTSC, &plan, &problem) ||
        !rom_build(plan, &options, &plan_image, &problem)) {
        return 1;
    }
    plan_free(plan);
    memcpy(whole, plan_image->bytes, sizeof whole);
    return 0;
}

static int free_image(void **state) {
    (void)state;
    rom_free(plan_image);
    return 0;
}

static int start(void **state) {
    (void)state;
    new_board(NULL);
    return 0;
}

static int stop(void **state) {
    (void)state;
    virtual_board_free(bench.board);
    return 0;
}

/* The hash in the slate of the field just drawn, or -1. */
static int shown(struct slate *slate) {
    struct slate one = {0};
    bool good = field_slate(&console.tia.field, STANDARD_NTSC, &one);
    if (slate) {
        *slate = one;
    }
    return good ? one.hash : -1;
}

/* Fields until that image is drawn; -1: never. lost: fields meanwhile that had no sync or another length. */
static int fields_until(int hash, int *lost) {
    *lost = 0;
    for (int field = 0; field < LONGEST_FIELDS; field++) {
        bool synced = console_run_field(&console, TIA_LINES_MAX);
        *lost += !synced || console.tia.field.lines != LINES;
        if (shown(NULL) == hash) {
            return field;
        }
    }
    return -1;
}

static void status(uint8_t state, uint8_t how) {
    assert_int_equal(talk_ask(&bench.talk, WIRE_STATUS, NULL, 0), WIRE_OK);
    assert_int_equal(bench.talk.payload[1], state);
    assert_int_equal(bench.talk.payload[15], how);
}

static const struct talk_image plan_push = {whole, 4, WIRE_4K, WIRE_IMAGE_MAILBOX};

static void test_idle_to_plan(void **state) {
    (void)state;
    int lost;
    switch_on();
    assert_in_range(fields_until(SLATE_HASH_IDLE, &lost), 0, 4);
    status(WIRE_IDLE, WIRE_START_POWER);
    assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
    int took = fields_until(plan_image->hash, &lost);
    assert_in_range(took, 1, 8);
    assert_true(lost <= 2); /* the new program starts with a field of its own */
    status(WIRE_SERVING, WIRE_START_HANDED);
    assert_true(talk_holds(&bench.talk, &plan_push));
}

/* From one plan to the next, ten times: the counter that moves every field shows which start it is. */
static void test_again_and_again(void **state) {
    (void)state;
    int lost;
    switch_on();
    assert_true(fields_until(SLATE_HASH_IDLE, &lost) >= 0);
    for (int i = 0; i < 10; i++) {
        for (int field = 0; field < i; field++) {
            console_run_field(&console, TIA_LINES_MAX);
        }
        assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
        status(WIRE_HANDING, i == 0 ? WIRE_START_POWER : WIRE_START_HANDED);
        for (int field = 0; field < 10; field++) {
            console_run_field(&console, TIA_LINES_MAX);
        }
        struct slate slate;
        assert_int_equal(shown(&slate), plan_image->hash);
        assert_true(slate.counter < 10);
        status(WIRE_SERVING, WIRE_START_HANDED);
    }
}

static void test_console_that_is_off(void **state) {
    (void)state;
    int lost;
    assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
    virtual_board_advance(bench.board, 2000);
    status(WIRE_SERVING, WIRE_START_FORCED);
    switch_on();
    assert_in_range(fields_until(plan_image->hash, &lost), 0, 4);
}

/* A program that reads no mailbox, though its image says so: the board waits, then goes on. */
static void test_console_that_does_not_answer(void **state) {
    (void)state;
    static uint8_t deaf[2048];
    const struct talk_image image = {deaf, 2, WIRE_2K, WIRE_IMAGE_MAILBOX};
    memset(deaf, 0xEA, sizeof deaf);
    memcpy(deaf + 0x7F0, (const uint8_t[]){0x4C, 0xF0, 0xFF}, 3); /* a loop that stays where it is */
    memcpy(deaf + 0x7FC, (const uint8_t[]){0xF0, 0xFF}, 2);
    assert_int_equal(talk_push(&bench.talk, &image, 0), WIRE_OK);
    virtual_board_advance(bench.board, 2000);
    switch_on();
    console_run_field(&console, 40);
    assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
    virtual_board_advance(bench.board, 200000);
    status(WIRE_HANDING, WIRE_START_FORCED);
    virtual_board_advance(bench.board, 150000);
    status(WIRE_SERVING, WIRE_START_FORCED);
    int lost;
    switch_on();
    assert_in_range(fields_until(plan_image->hash, &lost), 0, 4);
}

static void see(uint16_t address) {
    virtual_board_cycle(bench.board, address, 0);
}

/* Addresses by hand: a console that runs from its RAM, and then comes through the reset vector or does not.
 */
static void test_only_the_reset_vector_ends_it(void **state) {
    (void)state;
    for (int comes = 0; comes < 2; comes++) {
        virtual_board_supply(bench.board, true);
        assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
        virtual_board_advance(bench.board, 2000);
        see(MAILBOX_MODE);
        assert_int_equal(virtual_board_cycle(bench.board, MAILBOX_MODE, 0), MAILBOX_HAND_OVER);
        see(MAILBOX_IN_RAM);
        virtual_board_advance(bench.board, 5000);
        assert_int_equal(virtual_board_cycle(bench.board, MAILBOX_MODE, 0), MAILBOX_FREE);
        assert_int_equal(virtual_board_cycle(bench.board, 0x1000, 0), whole[0]);
        if (comes) {
            see(RESET_VECTOR);
            see(RESET_VECTOR + 1);
        }
        virtual_board_advance(bench.board, 250000);
        status(comes ? WIRE_SERVING : WIRE_HANDING, comes ? WIRE_START_HANDED : WIRE_START_FORCED);
        virtual_board_advance(bench.board, 100000);
        status(WIRE_SERVING, comes ? WIRE_START_HANDED : WIRE_START_FORCED);
    }
}

static void test_image_without_mailbox_starts_at_once(void **state) {
    (void)state;
    const struct talk_image plain = {whole, 4, WIRE_4K, 0};
    int lost;
    assert_int_equal(talk_push(&bench.talk, &plain, 0), WIRE_OK);
    virtual_board_advance(bench.board, 2000);
    switch_on();
    assert_true(fields_until(plan_image->hash, &lost) >= 0);
    assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
    virtual_board_advance(bench.board, 2000);
    status(WIRE_SERVING, WIRE_START_FORCED);
}

/* An image whose byte at MAILBOX_MODE asks for a hand-over by chance: the console must leave its RAM, and
 * find that byte later. */
static void test_a_byte_that_looks_like_a_request(void **state) {
    (void)state;
    static uint8_t odd[4096];
    const struct talk_image image = {odd, 4, WIRE_4K, 0};
    int lost;
    memcpy(odd, whole, sizeof odd);
    odd[MAILBOX_MODE & 0xFFF] = MAILBOX_HAND_OVER;
    switch_on();
    assert_true(fields_until(SLATE_HASH_IDLE, &lost) >= 0);
    assert_int_equal(talk_push(&bench.talk, &image, 0), WIRE_OK);
    for (int i = 0; i < 4; i++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
    status(WIRE_SERVING, WIRE_START_HANDED);
    assert_int_equal(virtual_board_cycle(bench.board, MAILBOX_MODE, 0), MAILBOX_HAND_OVER);
}

static void select_step(uint8_t mode, uint8_t step, int wanted) {
    assert_int_equal(talk_ask(&bench.talk, WIRE_SELECT, (const uint8_t[]){mode, step}, 2), wanted);
}

static void test_hold_a_step_and_let_go(void **state) {
    (void)state;
    int lost;
    struct slate slate;
    assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
    virtual_board_advance(bench.board, 2000);
    switch_on();
    assert_true(fields_until(plan_image->hash, &lost) >= 0);
    select_step(WIRE_HOLD_STEP, 17, WIRE_OK);
    for (int field = 0; field < 40; field++) {
        console_run_field(&console, TIA_LINES_MAX);
        assert_int_equal(shown(&slate), plan_image->hash);
        assert_true(field < 3 || slate.value == 17);
    }
    assert_int_equal(talk_ask(&bench.talk, WIRE_WATCH, NULL, 0), WIRE_OK);
    assert_int_equal(bench.talk.payload[1 + 27] & 4, 4);
    assert_int_equal(bench.talk.payload[1 + 30], 17);
    select_step(WIRE_RUN_FREE, 0, WIRE_OK);
    bool moved = false;
    for (int field = 0; field < 40; field++) {
        console_run_field(&console, TIA_LINES_MAX);
        shown(&slate);
        moved = moved || slate.value == 19;
    }
    assert_true(moved);
    select_step(2, 0, WIRE_BAD_VALUE);
}

/* What the watch says of a good console: 60 fields a second, the vector echoed, the trace as the image has
 * it. */
/* A held step belongs to the image it was asked of. */
static void test_a_new_image_runs_free(void **state) {
    (void)state;
    int lost;
    switch_on();
    assert_true(fields_until(SLATE_HASH_IDLE, &lost) >= 0);
    select_step(WIRE_HOLD_STEP, 2, WIRE_OK);
    assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
    assert_true(fields_until(plan_image->hash, &lost) >= 0);
    status(WIRE_SERVING, WIRE_START_HANDED);
    assert_int_equal(bench.talk.payload[13], WIRE_RUN_FREE);
    assert_int_equal(bench.talk.payload[14], 0);
}

/* While the board waits for the console: it is switched off, or another push begins. Neither waits on. */
static void test_what_ends_the_wait(void **state) {
    (void)state;
    int lost;
    switch_on();
    assert_true(fields_until(SLATE_HASH_IDLE, &lost) >= 0);
    assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
    status(WIRE_HANDING, WIRE_START_POWER);
    assert_int_equal(talk_begin(&bench.talk, &plan_push, 0), WIRE_OK);
    status(WIRE_RECEIVING, WIRE_START_FORCED);
    assert_int_equal(talk_ask(&bench.talk, WIRE_ABORT, NULL, 0), WIRE_OK);

    assert_int_equal(talk_push(&bench.talk, &plan_push, 0), WIRE_OK);
    status(WIRE_HANDING, WIRE_START_FORCED);
    virtual_board_supply(bench.board, false);
    status(WIRE_SERVING, WIRE_START_FORCED);
}

static void test_watch_of_a_good_console(void **state) {
    (void)state;
    int lost;
    switch_on();
    assert_true(fields_until(SLATE_HASH_IDLE, &lost) >= 0);
    for (int field = 0; field < 130; field++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
    assert_int_equal(talk_ask(&bench.talk, WIRE_WATCH, NULL, 0), WIRE_OK);
    const uint8_t *p = bench.talk.payload + 1;
    assert_int_equal(bench.talk.count, 1 + 48);
    assert_true(p[0] == 1 && get16(p + 1) < 1100);
    assert_in_range(get32(p + 3), 100000, 1193182); /* no more changes than cycles a second */
    assert_int_equal(get32(p + 7), 0);
    assert_in_range(get32(p + 11), 2 * 59, 2 * 61); /* VSYNC on and off */
    assert_in_range(get32(p + 15), 59, 61);
    assert_int_equal(get32(p + 19), 0);
    assert_int_equal(p[27], 7);
    assert_true(p[28] == 0xE0 && p[29] == 0xFF && p[30] == 0);
    const uint16_t entry[] = {0x1FE0, 0x1FE1, 0x1FE2};
    assert_int_equal(p[31], WIRE_TRACE);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(get16(p + 32 + 2 * i), entry[i]);
    }
    assert_int_equal(get16(p + 32 + 6) & 0xFF, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_idle_to_plan, start, stop),
        cmocka_unit_test_setup_teardown(test_again_and_again, start, stop),
        cmocka_unit_test_setup_teardown(test_console_that_is_off, start, stop),
        cmocka_unit_test_setup_teardown(test_console_that_does_not_answer, start, stop),
        cmocka_unit_test_setup_teardown(test_only_the_reset_vector_ends_it, start, stop),
        cmocka_unit_test_setup_teardown(test_image_without_mailbox_starts_at_once, start, stop),
        cmocka_unit_test_setup_teardown(test_a_byte_that_looks_like_a_request, start, stop),
        cmocka_unit_test_setup_teardown(test_hold_a_step_and_let_go, start, stop),
        cmocka_unit_test_setup_teardown(test_a_new_image_runs_free, start, stop),
        cmocka_unit_test_setup_teardown(test_what_ends_the_wait, start, stop),
        cmocka_unit_test_setup_teardown(test_watch_of_a_good_console, start, stop),
    };
    return cmocka_run_group_tests(tests, make_image, free_image);
}
