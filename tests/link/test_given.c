/*
 * Images that count, given their values in disorder by the board over the link: each field shows the next one
 * in its slate. How soon after the mode the console reads the value is measured against the board's promise:
 * cycles are the image's own, counted by the console model; a cycle's time is arithmetic [A].
 */
#include "link/link.h"

#include "core/values.h"
#include "plan/every.h"
#include "plan/moments.h"
#include "rom/field_slate.h"
#include "rom/rom.h"
#include "slotjig/mailbox.h"
#include "virtual/board.h"
#include "virtual/console.h"
#include "virtual/socket.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum {
    COUNT = 150,
    CLOCK_HZ = 3579545 /* SMPTE 170M; a cycle is three clocks, so PAL's are longer by 1 % */
};

static struct console console;
static struct cartridge inner;
static struct problem problem;

/* Cycles from a read of the mode to that of the value's third byte; and from there to the next read of the
 * mode. */
static struct { uint64_t mode, value, most, least; } reads;

static uint8_t read_slot(void *state, uint16_t address, uint8_t bus) {
    if (address == MAILBOX_MODE) {
        const uint64_t since = console.cycles - reads.value;
        reads.least = reads.value > 0 && since < reads.least ? since : reads.least;
        reads.mode = console.cycles;
        reads.value = 0;
    } else if (address == MAILBOX_VALUE + 2) {
        reads.value = console.cycles;
        reads.most = reads.value - reads.mode > reads.most ? reads.value - reads.mode : reads.most;
    }
    return inner.read(state, address, bus);
}

static void must(bool done) {
    if (!done) {
        fail_msg("%s", problem.text);
    }
}

static struct bench {
    struct virtual_board *board;
    struct link *link;
    struct plan *plan;
    struct image *image;
    struct socket socket;
} bench;

static void switch_on(void) {
    static const struct virtual_faults none;
    struct tia_chip chip;
    tia_chip_default(&chip);
    bench.socket = (struct socket){.console = &console, .board = bench.board};
    inner = socket_cartridge(&bench.socket, &none);
    struct cartridge outer = inner;
    outer.read = read_slot;
    virtual_board_supply(bench.board, true);
    console_power_on(&console, &chip, &outer, 7);
}

static void start(const char *name, enum standard standard, int hold, int dark) {
    struct virtual_board_options options;
    struct transport transport;
    const struct rom_options rom = {.hold = hold, .dark = dark};
    virtual_board_defaults(&options);
    must(strcmp(name, "moments") == 0 ? moments_plan(standard, &bench.plan, &problem)
                                      : every_plan(EVERY_LEAST * 64, 1, standard, &bench.plan, &problem));
    must(rom_build(bench.plan, &rom, &bench.image, &problem));
    bench.board = virtual_board_new(&options, &problem);
    must(bench.board != NULL && transport_virtual(bench.board, &transport, &problem));
    must(link_open(&transport, NULL, &bench.link, &problem));
    struct link_image image = {
        .bytes = bench.image->bytes, .size = bench.image->size, .flags = WIRE_IMAGE_MAILBOX};
    assert_true(link_scheme(image.size, &image.scheme));
    must(link_push(bench.link, &image, NULL, &problem));
    switch_on();
    console_run_field(&console, TIA_LINES_MAX); /* the first is cut off */
}

static void stop(void) {
    link_close(bench.link);
    virtual_board_free(bench.board);
    rom_free(bench.image);
    plan_free(bench.plan);
}

static void make_values(uint32_t *values) {
    for (uint32_t i = 0; i < COUNT; i++) {
        values[i] = bench.plan->kind == PLAN_MOMENTS
                        ? (i + 1) * 389 % MOMENT_VALUES
                        : every_base(&bench.plan->every, i % 3 == 1, (i + 1) * 89 % bench.plan->every.bases);
    }
}

enum { DARK = -1 };

/* The value in the slate of the next field, or DARK. */
static long show(void) {
    struct slate slate = {0};
    assert_true(console_run_field(&console, TIA_LINES_MAX));
    if (!field_slate(&console.tia.field, bench.plan->standard, &slate)) {
        return DARK;
    }
    assert_int_equal(slate.hash, bench.image->hash);
    return (long)slate.value;
}

/* What the console began with has its fields first, and a dark start takes none. */
static void shows_them(int hold, int dark) {
    uint32_t values[COUNT], shown = 0;
    struct link_queue queue = {.next = 0};
    make_values(values);
    for (int field = 0; shown < COUNT; field++) {
        must(link_values(bench.link, 1, queue.next, values + queue.next, COUNT - queue.next, &queue,
                         &problem));
        const long value = show();
        if (shown == 0 && value != values[0]) {
            assert_true(field < dark + 2 * hold + 2);
            continue;
        }
        for (int again = 1; again < hold; again++) {
            assert_int_equal(show(), values[shown]);
        }
        if (value != values[shown]) {
            fail_msg("value %u: %lX instead of %X", shown, value, values[shown]);
        }
        shown++;
    }
}

static void given(const char *name, enum standard standard, int hold, int dark) {
    reads.most = reads.value = 0;
    reads.least = UINT64_MAX;
    start(name, standard, hold, dark);
    shows_them(hold, dark);
    stop();
    const double us = 3e6 / CLOCK_HZ;
    print_message("    %s, hold %d: %.2f ms at most from the mode to the value's last byte, %.2f at least to "
                  "the next mode\n",
                  name, hold, (double)reads.most * us / 1000, (double)reads.least * us / 1000);
    assert_true((double)reads.most * us < VALUES_SETTLE_US);
    assert_true((double)reads.least * us > 2 * VALUES_SETTLE_US);
}

static void test_every(void **state) {
    (void)state;
    given("every", STANDARD_NTSC, 1, 0);
    given("every", STANDARD_PAL, 1, 0);
    given("every", STANDARD_NTSC, 3, 20);
}

static void test_moments(void **state) {
    (void)state;
    given("moments", STANDARD_NTSC, 3, 20);
    given("moments", STANDARD_PAL, 4, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_every), cmocka_unit_test(test_moments)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
