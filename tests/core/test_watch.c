/* The slot watch, fed with addresses made by hand. */
#include "core/watch.h"

#include "core/bytes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

enum { SECOND = 1000000 };

static struct watch watch;
static uint64_t now;

static int start(void **state) {
    (void)state;
    now = 5;
    watch_start(&watch, now);
    watch_tick(&watch, true, now);
    return 0;
}

static void feed(const uint16_t *addresses, size_t count) {
    watch_feed(&watch, addresses, count, 0);
}
#define FEED(...)                                                                                            \
    do {                                                                                                     \
        const uint16_t fed[] = {__VA_ARGS__};                                                                \
        feed(fed, sizeof fed / sizeof fed[0]);                                                               \
    } while (0)

static void pass(uint64_t us) {
    for (uint64_t done = 0; done < us; done += 1000) {
        now += 1000;
        watch_tick(&watch, true, now);
    }
}

/* A report as the wire's table has it, taken apart by offset. */
static struct report {
    uint8_t supply, echoed, vector[2], step, traced;
    uint16_t age, high, low, trace[WIRE_TRACE];
    uint32_t cycles, resets, vsyncs, mailbox, missed;
} report(void) {
    uint8_t p[64];
    assert_int_equal(watch_report(&watch, now, p), 48);
    struct report r = {.supply = p[0],
                       .age = get16(p + 1),
                       .cycles = get32(p + 3),
                       .resets = get32(p + 7),
                       .vsyncs = get32(p + 11),
                       .mailbox = get32(p + 15),
                       .missed = get32(p + 19),
                       .high = get16(p + 23),
                       .low = get16(p + 25),
                       .echoed = p[27],
                       .vector = {p[28], p[29]},
                       .step = p[30],
                       .traced = p[31]};
    for (int i = 0; i < WIRE_TRACE; i++) {
        r.trace[i] = get16(p + 32 + 2 * i);
    }
    return r;
}

static void test_counts_of_a_second(void **state) {
    (void)state;
    FEED(0x1000, 0x1001, 0x0000, 0x1FE3, 0x0040, 0x0000, 0x1FE4);
    assert_int_equal(report().age, 0xFFFF);
    assert_int_equal(report().cycles, 0);
    pass(SECOND);
    struct report r = report();
    assert_true(r.supply == 1 && r.age == 0 && r.cycles == 7 && r.vsyncs == 2 && r.mailbox == 1);
    assert_true(r.resets == 0 && r.missed == 0);
    assert_int_equal(r.high, 0x1000 | 0x1001 | 0x1FE3 | 0x40 | 0x1FE4);
    assert_int_equal(r.low, 0x1FFF); /* $0000 has every line low */
    pass(SECOND / 2);
    assert_true(report().age == 500 && report().cycles == 7);
    pass(SECOND / 2);
    assert_true(report().cycles == 0 && report().high == 0 && report().low == 0);
}

/* Lines that are stuck are those of one mask alone. */
static void test_lines_that_never_move(void **state) {
    (void)state;
    FEED(0x1234, 0x1635, 0x1274);
    pass(SECOND);
    assert_int_equal(report().high, 0x1675);
    assert_int_equal(report().low, 0x1FFF & ~(0x1234 & 0x1635 & 0x1274));
}

static void test_reset_and_trace(void **state) {
    (void)state;
    FEED(0x01FD, 0x01FC, 0x01FB, 0x1FFC, 0x1FFD, 0x1FE0, 0x1FE1, 0x1FE2, 0x1000, 0x1001, 0x1002, 0x1003,
         0x1004, 0x1005);
    pass(SECOND);
    struct report r = report();
    const uint16_t wanted[WIRE_TRACE] = {0x1FE0, 0x1FE1, 0x1FE2, 0x1000, 0x1001, 0x1002, 0x1003, 0x1004};
    assert_int_equal(r.resets, 1);
    assert_int_equal(r.traced, 8);
    assert_memory_equal(r.trace, wanted, sizeof wanted);
    assert_int_equal(watch.resets_ever, 1);
    FEED(0x1FFC, 0x1FFD, 0x1234);
    assert_true(report().traced == 1 && report().trace[0] == 0x1234 && report().trace[1] == 0);
    assert_int_equal(watch.resets_ever, 2);
}

/* A program that reads its vector, and a processor that runs through the top of the window. */
static void test_what_is_no_reset(void **state) {
    (void)state;
    FEED(0x1020, 0x1021, 0x1022, 0x1FFC, 0x1023, 0x1024, 0x1025, 0x1FFD, 0x1026);
    FEED(0x1FFA, 0x1FFB, 0x1FFC, 0x1FFD, 0x1FFE);
    FEED(0x1FFA, 0x1FFB, 0x0004, 0x1FFC, 0x1FFD, 0x00FF); /* an instruction with an operand's access */
    FEED(0x1FFC);
    watch_feed(&watch, (const uint16_t[]){0x1FFD}, 1, 3);
    pass(SECOND);
    assert_int_equal(report().resets, 0);
    assert_int_equal(report().missed, 3);
    assert_int_equal(report().traced, 0);
}

/* LDA abs that announces, then LDA MAILBOX_ECHO,X: as slotjig/mailbox.h has it. */
static void test_echoes(void **state) {
    (void)state;
    FEED(0x1100, 0x1101, 0x1102, 0x1FE9, 0x1103, 0x1104, 0x1105, 0x1EE0);
    assert_true(report().echoed == 1 && report().vector[0] == 0xE0);
    FEED(0x1106, 0x1107, 0x1108, 0x1FEA, 0x1109, 0x110A, 0x110B, 0x1EFF, 0x110C);
    assert_true(report().echoed == 3 && report().vector[1] == 0xFF && report().vector[0] == 0xE0);
    FEED(0x1FEB, 0x110D, 0x110E, 0x110F, 0x1E00);
    assert_true(report().echoed == 7 && report().step == 0);
    FEED(0x1FEB, 0x110D, 0x110E, 0x110F, 0x1E2A);
    assert_int_equal(report().step, 0x2A);
}

static void test_what_is_no_echo(void **state) {
    (void)state;
    FEED(0x1FE9, 0x1103, 0x1104, 0x1E55, 0x1105);         /* one early */
    FEED(0x1FE9, 0x1103, 0x1104, 0x1105, 0x1106, 0x1E55); /* one late */
    FEED(0x1FE9, 0x1103, 0x1104, 0x1105, 0x1DFF);         /* beside the page */
    FEED(0x1FE9, 0x1103, 0x1104, 0x1105, 0x1F00);         /* and on its other side */
    FEED(0x1FE9, 0x1103, 0x1104);
    watch_feed(&watch, (const uint16_t[]){0x1105, 0x1E55}, 2, 1); /* with a gap before it */
    FEED(0x1E55);
    assert_int_equal(report().echoed, 0);
}

static void test_supply(void **state) {
    (void)state;
    FEED(0x1FFC, 0x1FFD, 0x1FE0, 0x1FE9, 0x1103, 0x1104, 0x1105, 0x1E77);
    pass(SECOND);
    assert_true(report().echoed == 1 && report().traced == 6 && report().age == 0);
    watch_tick(&watch, false, ++now);
    assert_true(report().supply == 0 && report().age == 0xFFFF && report().cycles == 0);
    assert_true(report().echoed == 1 && report().traced == 6);
    watch_tick(&watch, true, ++now);
    assert_true(report().supply == 1 && report().echoed == 0 && report().traced == 0 &&
                report().vector[0] == 0);
    pass(SECOND - 1000);
    assert_int_equal(report().age, 0xFFFF);
    pass(1000);
    assert_int_equal(report().age, 0);
}

/* A second that flash made too long is not told as one. */
static void test_long_seconds(void **state) {
    (void)state;
    FEED(0x1000, 0x1001);
    pass(SECOND - 1000);
    now += 400000;
    watch_tick(&watch, true, now);
    assert_int_equal(report().age, 0xFFFF);
    FEED(0x1000, 0x1001, 0x1002);
    pass(SECOND);
    assert_int_equal(report().cycles, 3);
    pass(SECOND - 1000); /* and an age does not wrap */
    watch.second_started = now + 1000000000;
    now += 100000000;
    assert_int_equal(report().age, 0xFFFE);
}

static void test_in_ram(void **state) {
    (void)state;
    FEED(0x0080, 0x1FE8, 0x0083, 0x1FE3, 0x0086, 0x1FE8);
    assert_int_equal(watch.in_ram, 2);
}

/* The value counts as read where all of it was, in order, whatever is read in between. */
static void test_reads_of_a_value(void **state) {
    (void)state;
    FEED(0x1FE3, 0x1FE5, 0x1005, 0x1FE6, 0x1FE3, 0x1FE7);
    assert_int_equal(watch.values, 1);
    FEED(0x1FE7, 0x1FE6, 0x1FE5, 0x1FE7, 0x1FE6, 0x1FE7, 0x1FE5, 0x1FE6, 0x1FE6);
    assert_int_equal(watch.values, 1);
    FEED(0x1FE5, 0x1000, 0x1FE5, 0x1FE6);
    FEED(0x1FE7, 0x1FE7);
    assert_int_equal(watch.values, 2);
    FEED(0x1FE5, 0x1FE6);
    watch_feed(&watch, (const uint16_t[]){0x1FE7}, 1, 1); /* with a gap before it */
    FEED(0x1FE5, 0x1FE6);
    watch_tick(&watch, false, now);
    watch_tick(&watch, true, now);
    FEED(0x1FE7);
    assert_int_equal(watch.values, 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_counts_of_a_second, start),
        cmocka_unit_test_setup(test_lines_that_never_move, start),
        cmocka_unit_test_setup(test_reset_and_trace, start),
        cmocka_unit_test_setup(test_what_is_no_reset, start),
        cmocka_unit_test_setup(test_echoes, start),
        cmocka_unit_test_setup(test_what_is_no_echo, start),
        cmocka_unit_test_setup(test_supply, start),
        cmocka_unit_test_setup(test_long_seconds, start),
        cmocka_unit_test_setup(test_in_ram, start),
        cmocka_unit_test_setup(test_reads_of_a_value, start),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
