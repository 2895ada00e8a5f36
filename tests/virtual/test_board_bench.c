/*
 * The whole way without a switch: idle picture, one image, the next, held steps, programs without a mailbox,
 * a console that is off. Fields a second [A from FACTS: 59.92, 49.86 or so at the board's own clock].
 */
#include "core/idle.h"
#include "virtual/board_bench.h"
#include "virtual/kernel.h"

#include "commands/session.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>

enum { HOLD = 4, FRAMES = 10, WATCHED_MS = 2200 };

static struct board_bench bench;

static void open_bench(enum standard standard, const char *fault) {
    if (!board_bench_open(&bench, standard, fault)) {
        fail_msg("%s", bench.problem.text);
    }
}

static struct image *image_of(const struct plan *plan) {
    struct problem problem = {0};
    struct image *image = NULL;
    const struct rom_options options = {.hold = HOLD};
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("%s", problem.text);
    }
    return image;
}

static struct plan *small_plan(enum standard standard, uint8_t pf1) {
    struct plan *plan = plan_new("small", standard);
    assert_non_null(plan);
    for (int i = 0; i < 5; i++) {
        char name[STEP_NAME_MAX];
        snprintf(name, sizeof name, "step %d", i);
        assert_true(plan_add_hold(plan, name, 0, 0x50, (uint8_t)(pf1 + i), 0x3C, NULL));
    }
    return plan;
}

static void push(const struct image *image, enum wire_start start) {
    struct link_push push;
    if (!board_bench_push(&bench, image->bytes, image->size, WIRE_IMAGE_MAILBOX, &push)) {
        fail_msg("%s", bench.problem.text);
    }
    assert_int_equal(push.start, start);
}

static void slate_is(uint16_t hash) {
    struct slate slate;
    assert_true(board_bench_slate(&bench, FRAMES, &slate));
    assert_int_equal(slate.hash, hash);
}

static void passes(const struct plan *plan, const struct image *image) {
    struct session session = {.plan = plan, .hash = image->hash, .hold = HOLD};
    struct problem problem = {0};
    assert_true(session_run(&session, &bench.video, &problem));
    assert_int_equal(session.result->verdict, VERDICT_PASS);
    session_free(&session);
}

static void test_from_image_to_image(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        const int lines = standard_lines((enum standard)standard);
        struct plan *plans[] = {small_plan((enum standard)standard, 1),
                                small_plan((enum standard)standard, 9)};
        struct image *images[] = {image_of(plans[0]), image_of(plans[1])};
        open_bench((enum standard)standard, NULL);
        if (standard == STANDARD_NTSC) {
            slate_is(SLATE_HASH_IDLE);
        }
        push(images[0], WIRE_START_HANDED);
        passes(plans[0], images[0]);
        for (int turn = 1; turn < 6; turn++) {
            const int to = turn % 2;
            board_bench_forget(&bench);
            push(images[to], WIRE_START_HANDED);
            board_bench_run(&bench, 5);
            assert_int_equal(bench.lines_least, lines); /* no field of another length: sync is never lost */
            assert_int_equal(bench.lines_most, lines);
            passes(plans[to], images[to]);
        }
        board_bench_close(&bench);
        for (int i = 0; i < 2; i++) {
            rom_free(images[i]);
            plan_free(plans[i]);
        }
    }
}

static void test_select(void **state) {
    (void)state;
    struct plan *plan = small_plan(STANDARD_NTSC, 1);
    struct image *image = image_of(plan);
    struct slate slate;
    open_bench(STANDARD_NTSC, NULL);
    push(image, WIRE_START_HANDED);
    for (int step = 4; step >= 0; step--) {
        struct slot_seen seen;
        assert_true(link_select(bench.link, WIRE_HOLD_STEP, step, &bench.problem));
        board_bench_run(&bench, 3 * HOLD);
        assert_true(board_bench_slate(&bench, FRAMES, &slate));
        assert_int_equal(slate.value, step);
        assert_true(board_bench_watch(&bench, WATCHED_MS, &seen));
        assert_true(seen.echoed_step);
        assert_int_equal(seen.step, step);
    }
    assert_true(link_select(bench.link, WIRE_RUN_FREE, 0, &bench.problem));
    passes(plan, image);
    board_bench_close(&bench);
    rom_free(image);
    plan_free(plan);
}

/* A program that knows no mailbox: taken over from the idle picture, and then only by force. */
static void test_program_without_mailbox(void **state) {
    (void)state;
    static uint8_t program[KERNEL_SIZE];
    struct plan *plan = small_plan(STANDARD_NTSC, 1);
    struct image *image = image_of(plan);
    struct link_push push_of_it;
    kernel(program);
    open_bench(STANDARD_NTSC, NULL);
    assert_true(board_bench_push(&bench, program, sizeof program, 0, &push_of_it));
    assert_int_equal(push_of_it.start, WIRE_START_HANDED);
    board_bench_forget(&bench);
    board_bench_run(&bench, 10);
    assert_int_equal(bench.lines_most, KERNEL_LINES);
    assert_int_equal(bench.lines_least, KERNEL_LINES);
    assert_false(link_select(bench.link, WIRE_HOLD_STEP, 1, &bench.problem));
    push(image, WIRE_START_FORCED);
    virtual_power_cycle(&bench.video);
    passes(plan, image);
    board_bench_close(&bench);
    rom_free(image);
    plan_free(plan);
}

/* What was pushed while the console was off, or its processor dead, is there when it starts. */
static void test_push_without_console(void **state) {
    (void)state;
    static const char *const faults[] = {"no-supply", "no-console"};
    struct plan *plan = small_plan(STANDARD_NTSC, 1);
    struct image *image = image_of(plan);
    for (int i = 0; i < 2; i++) {
        struct slate slate;
        struct slot_seen seen;
        struct virtual_options good;
        virtual_defaults(STANDARD_NTSC, &good);
        open_bench(STANDARD_NTSC, faults[i]);
        push(image, WIRE_START_FORCED);
        assert_false(board_bench_slate(&bench, FRAMES, &slate));
        assert_true(board_bench_watch(&bench, WATCHED_MS, &seen));
        assert_int_equal(seen.supply, i == 1);
        assert_int_equal(seen.cycles, 0);
        struct virtual_notes notes;
        board_bench_forget(&bench);
        board_bench_run(&bench, 10);
        virtual_notes(&bench.video, &notes);
        assert_int_equal(notes.unmodelled_writes, 0);
        assert_int_equal(bench.lines_least, i == 0 ? 0 : TIA_LINES_MAX); /* no vertical sync ever comes */
        bench.video.close(bench.video.state);
        assert_true(virtual_open_board(&good, bench.board, &bench.video, &bench.problem));
        passes(plan, image);
        board_bench_close(&bench);
    }
    rom_free(image);
    plan_free(plan);
}

/* The board's clock goes with the console's, waits in WSYNC included: fields a second come out right. VSYNC
 * is written twice a field. */
static void test_watch(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct plan *plan = small_plan((enum standard)standard, 1);
        struct image *image = image_of(plan);
        struct slot_seen seen;
        const uint32_t rate = standard == STANDARD_NTSC ? 60 : 50;
        open_bench((enum standard)standard, NULL);
        push(image, WIRE_START_HANDED);
        assert_true(board_bench_watch(&bench, WATCHED_MS, &seen));
        assert_true(seen.supply);
        assert_in_range(seen.age_ms, 0, 1100);
        assert_in_range(seen.mailbox, rate - 1, rate + 1);
        assert_in_range(seen.vsyncs, 2 * rate - 2, 2 * rate + 2);
        assert_in_range(seen.cycles, 100000, 1193182);
        assert_int_equal(seen.resets, 0);
        assert_int_equal(seen.missed, 0);
        assert_int_equal(seen.high, 0x1FFF);
        assert_int_equal(seen.low, 0x1FFF);
        assert_true(seen.echoed_low && seen.echoed_high && seen.echoed_step);
        assert_int_equal(seen.vector_low, 0xE0);
        assert_int_equal(seen.vector_high & 0x1F, 0x1F);
        assert_int_equal(seen.traced, WIRE_TRACE);
        assert_int_equal(seen.trace[0], 0x1FE0);
        assert_int_equal(seen.trace[3] & 0x10FF, 0x1000);
        board_bench_close(&bench);
        rom_free(image);
        plan_free(plan);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_from_image_to_image),
        cmocka_unit_test(test_select),
        cmocka_unit_test(test_program_without_mailbox),
        cmocka_unit_test(test_push_without_console),
        cmocka_unit_test(test_watch),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
