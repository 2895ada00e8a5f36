/*
 * What the slot says, from the numbers that the board's own watch counted on the virtual console: every data
 * line and address line stuck, a dead processor, no supply, video faults beside a program that runs, another
 * program. And the rules alone, on numbers by hand.
 */
#include "slotjig/mailbox.h"
#include "verdict/slot.h"
#include "virtual/board_bench.h"
#include "virtual/kernel.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FIRST_LOOK_MS = 1100, LATER_MS = 2500 };

static struct board_bench bench;
static struct plan *plan;
static struct image *images[2]; /* 2 KiB and 4 KiB */

static int start(void **state) {
    struct problem problem = {0};
    (void)state;
    bool good = plan_open("bits", STANDARD_NTSC, &plan, &problem);
    for (int i = 0; i < 2 && good; i++) {
        const struct rom_options options = {.hold = 4, .size = i == 0 ? 2048 : 4096};
        good = rom_build(plan, &options, &images[i], &problem);
    }
    return good ? 0 : 1;
}

static int stop(void **state) {
    (void)state;
    rom_free(images[0]);
    rom_free(images[1]);
    plan_free(plan);
    return 0;
}

static int turns(void) {
    return getenv("SLOTJIG_TEST_SMALL") != NULL ? 1 : 4;
}

/* The image is in the board, and the console starts. */
static void open_with(const struct image *image, const char *fault) {
    struct link_push push;
    if (!board_bench_open(&bench, STANDARD_NTSC, fault) ||
        !board_bench_push(&bench, image->bytes, image->size, WIRE_IMAGE_MAILBOX, &push)) {
        fail_msg("%s: %s", fault, bench.problem.text);
    }
    virtual_power_cycle(&bench.video);
}

static struct slot_seen look(int ms) {
    struct slot_seen seen;
    if (!board_bench_watch(&bench, ms, &seen)) {
        fail_msg("%s", bench.problem.text);
    }
    return seen;
}

static const char *told(const struct slot_seen *seen, const struct finding *findings, size_t count) {
    static char text[2000];
    int used = snprintf(text, sizeof text, "%u cycles, trace", seen->cycles);
    for (int i = 0; i < seen->traced; i++) {
        used += snprintf(text + used, sizeof text - (size_t)used, " %04X", seen->trace[i]);
    }
    for (size_t i = 0; i < count; i++) {
        used += snprintf(text + used, sizeof text - (size_t)used, "; %s %d", finding_name(findings[i].kind),
                         findings[i].bit);
    }
    return text;
}

static bool among(const struct finding *findings, size_t count, enum finding_kind kind, int bit) {
    for (size_t i = 0; i < count; i++) {
        if (findings[i].kind == kind && findings[i].bit == bit) {
            return true;
        }
    }
    return false;
}

static void is_told_well(const struct finding *findings, size_t count) {
    for (size_t i = 0; i < count; i++) {
        assert_true(strlen(findings[i].text) > 40 && strlen(findings[i].text) < sizeof findings[i].text - 1);
        assert_true(strlen(findings[i].next) > 40 && strlen(findings[i].next) < sizeof findings[i].next - 1);
        assert_int_equal(findings[i].alternative, count > 1);
        assert_int_equal(findings[i].reg, -1);
    }
}

/* Looked at within two seconds of the start, the line is named, first or alone. Later, when the processor may
 * have stopped long ago, a data line is still among what is named: the trace stays. */
static void check_line(const char *fault, enum finding_kind kind, int size, int *alone) {
    struct finding findings[SLOT_EXPLAINED_MAX];
    struct slot_image expected;
    const struct image *image = images[size];
    const int bit = atoi(strchr(fault, '=') + 1);
    slot_image_of(image->bytes, image->size, true, &expected);
    open_with(image, fault);
    for (int turn = 0; turn < turns(); turn++) {
        struct slot_seen seen = look(FIRST_LOOK_MS);
        size_t count = slot_explain(&seen, &expected, SLOT_VIDEO_NONE, findings);
        if (count == 0 || findings[0].kind != kind || findings[0].bit != bit) {
            fail_msg("%s, %zu bytes, turn %d: %s", fault, image->size, turn, told(&seen, findings, count));
        }
        is_told_well(findings, count);
        *alone += count == 1;
        seen = look(LATER_MS);
        count = slot_explain(&seen, &expected, SLOT_VIDEO_NONE, findings);
        if (kind == FINDING_SLOT_DATA_LINE_STUCK && !among(findings, count, kind, bit)) {
            fail_msg("%s, %zu bytes, turn %d, later: %s", fault, image->size, turn,
                     told(&seen, findings, count));
        }
        assert_true(count > 0);
        is_told_well(findings, count);
        virtual_power_cycle(&bench.video);
    }
    board_bench_close(&bench);
}

static void check_lines(const char *family, enum finding_kind kind, int faults) {
    char fault[64];
    int found = 0, alone = 0;
    for (size_t i = 0; virtual_fault_text(i, fault, sizeof fault); i++) {
        if (strncmp(fault, family, strlen(family)) == 0) {
            for (int size = 0; size < 2; size++) {
                check_line(fault, kind, size, &alone);
            }
            found++;
        }
    }
    assert_int_equal(found, faults);
    printf("%s: %d lines, two images, %d starts: named first in all, alone in %d of %d\n", family, found,
           turns(), alone, found * 2 * turns());
}

static void test_every_data_line(void **state) {
    (void)state;
    check_lines("cart-data=", FINDING_SLOT_DATA_LINE_STUCK, 16);
}

/* A11 of a 2 KiB image: the program runs on, and it is told all the same. */
static void test_every_address_line(void **state) {
    (void)state;
    check_lines("cart-address=", FINDING_ADDRESS_LINE_STUCK, 25);
}

static void one_finding(const char *fault, enum slot_video video, enum finding_kind kind) {
    struct finding findings[SLOT_EXPLAINED_MAX];
    struct slot_image expected;
    slot_image_of(images[0]->bytes, images[0]->size, true, &expected);
    open_with(images[0], fault);
    const struct slot_seen seen = look(LATER_MS);
    const size_t count = slot_explain(&seen, &expected, video, findings);
    if (count != 1 || findings[0].kind != kind) {
        fail_msg("%s: %s", fault == NULL ? "no fault" : fault, told(&seen, findings, count));
    }
    is_told_well(findings, count);
    board_bench_close(&bench);
}

static void test_console(void **state) {
    (void)state;
    one_finding("no-supply", SLOT_VIDEO_NONE, FINDING_NO_SUPPLY);
    one_finding("no-console", SLOT_VIDEO_NONE, FINDING_NO_BUS);
}

/* D1 of the video chip stuck: no vertical sync, and a program that runs. */
static void test_video(void **state) {
    (void)state;
    one_finding("no-video", SLOT_VIDEO_NONE, FINDING_RUNS_WITHOUT_PICTURE);
    one_finding("tia-data=1:low", SLOT_VIDEO_NONE, FINDING_RUNS_WITHOUT_PICTURE);
    one_finding("tia-data=1:high", SLOT_VIDEO_OTHER, FINDING_RUNS_WITHOUT_PICTURE);
    one_finding(NULL, SLOT_VIDEO_LOST, FINDING_CAPTURE_LOST);
}

/* A console with nothing wrong, and one whose picture alone is wrong, are not blamed for their slot. */
static void test_nothing_to_say(void **state) {
    (void)state;
    static const char *const faults[] = {NULL, "bit-low=PF1.3"};
    static const enum slot_video videos[] = {SLOT_VIDEO_FINE, SLOT_VIDEO_UNKNOWN};
    struct finding findings[SLOT_EXPLAINED_MAX];
    struct slot_image expected;
    slot_image_of(images[1]->bytes, images[1]->size, true, &expected);
    for (int i = 0; i < 2; i++) {
        open_with(images[1], faults[i]);
        struct slot_seen seen = look(FIRST_LOOK_MS);
        assert_int_equal(slot_explain(&seen, &expected, videos[i], findings), 0);
        seen = look(LATER_MS);
        assert_int_equal(slot_explain(&seen, &expected, videos[i], findings), 0);
        board_bench_close(&bench);
    }
}

/* Nothing is said of a second that has not passed. */
static void test_too_early(void **state) {
    (void)state;
    struct finding findings[SLOT_EXPLAINED_MAX];
    struct slot_image expected;
    slot_image_of(images[0]->bytes, images[0]->size, true, &expected);
    open_with(images[0], "cart-data=0:low");
    const struct slot_seen seen = look(500);
    assert_int_equal(seen.age_ms, -1);
    assert_int_equal(slot_explain(&seen, &expected, SLOT_VIDEO_NONE, findings), 0);
    board_bench_close(&bench);
}

/* A program without mailbox in the slot: right for its own image, another one for ours. */
static void test_other_program(void **state) {
    (void)state;
    static uint8_t program[KERNEL_SIZE];
    struct finding findings[SLOT_EXPLAINED_MAX];
    struct slot_image own, ours;
    struct link_push push;
    kernel(program);
    slot_image_of(program, sizeof program, false, &own);
    slot_image_of(images[0]->bytes, images[0]->size, true, &ours);
    assert_true(board_bench_open(&bench, STANDARD_NTSC, NULL));
    assert_true(board_bench_push(&bench, program, sizeof program, 0, &push));
    const struct slot_seen seen = look(LATER_MS);
    assert_int_equal(slot_explain(&seen, &own, SLOT_VIDEO_UNKNOWN, findings), 0);
    assert_int_equal(slot_explain(&seen, &ours, SLOT_VIDEO_OTHER, findings), 1);
    assert_int_equal(findings[0].kind, FINDING_OTHER_PROGRAM);
    is_told_well(findings, 1);
    board_bench_close(&bench);
}

/* ---- by hand ---- */

static const struct slot_image usual = {.vector = 0xFFE0, .mailbox = true, .start = 0xF800};

static struct slot_seen running(void) {
    return (struct slot_seen){.supply = true,
                              .cycles = 250000,
                              .vsyncs = 120,
                              .mailbox = 60,
                              .high = 0x1FFF,
                              .low = 0x1FFF,
                              .echoed_low = true,
                              .echoed_high = true,
                              .vector_low = 0xE0,
                              .vector_high = 0xFF};
}

static void trace(struct slot_seen *seen, uint16_t vector, uint16_t start_address) {
    const uint16_t addresses[WIRE_TRACE] = {vector,
                                            (uint16_t)(vector + 1),
                                            (uint16_t)(vector + 2),
                                            start_address,
                                            (uint16_t)(start_address + 1),
                                            0x1234,
                                            0x0080,
                                            0x1235};
    memcpy(seen->trace, addresses, sizeof addresses);
    seen->traced = WIRE_TRACE;
}

/* Each way in which a data line can be stuck sends the processor somewhere else: the 16 first addresses, and
 * for D5 to D7 high the fourth [A from slotjig/mailbox.h]. */
static void test_predictions_differ(void **state) {
    (void)state;
    static const uint16_t first[16] = {0x1EE0, 0x1FE1, 0x1DE0, 0x1FE2, 0x1BE0, 0x1FE4, 0x17E0, 0x1FE8,
                                       0x0FE0, 0x1FF0, 0x1FC0, 0x1FE0, 0x1FA0, 0x1FE0, 0x1F60, 0x1FE0};
    static const uint16_t fourth[16] = {[11] = 0x1820, [13] = 0x1840, [15] = 0x1880};
    for (int i = 0; i < 16; i++) {
        struct finding findings[SLOT_EXPLAINED_MAX];
        struct slot_seen seen = running();
        seen.vsyncs = seen.mailbox = 0;
        trace(&seen, first[i], fourth[i] == 0 ? 0x1B00 : fourth[i]);
        assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 1);
        assert_int_equal(findings[0].kind, FINDING_SLOT_DATA_LINE_STUCK);
        assert_int_equal(findings[0].bit, i / 2);
        assert_non_null(strstr(findings[0].text, i % 2 == 0 ? "stuck low" : "stuck high"));
    }
}

/* D5 stuck high or A5: both send the processor to $1820 first. That A5 moved decides; where nothing moved
 * both are told. */
static void test_two_ways_to_explain(void **state) {
    (void)state;
    struct finding findings[SLOT_EXPLAINED_MAX];
    struct slot_seen seen = running();
    seen.vsyncs = seen.mailbox = seen.cycles = seen.high = seen.low = 0;
    trace(&seen, 0x1FE0, 0x1820);
    assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 2);
    assert_true(findings[0].kind == FINDING_ADDRESS_LINE_STUCK && findings[0].bit == 5);
    assert_true(findings[1].kind == FINDING_SLOT_DATA_LINE_STUCK && findings[1].bit == 5);
    assert_true(findings[0].alternative && findings[1].alternative);
    seen.cycles = 50, seen.high = 0x1FFF, seen.low = 0x1FFF;
    assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 1);
    assert_int_equal(findings[0].kind, FINDING_SLOT_DATA_LINE_STUCK);
    assert_false(findings[0].alternative);
    seen =
        running(); /* D5 low: A7 rests because the processor goes in circles, and the way there clears it */
    seen.vsyncs = seen.mailbox = 0, seen.low = 0x1FFF & ~0x0080;
    trace(&seen, 0x1FC0, 0x1B80);
    assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 1);
    assert_true(findings[0].kind == FINDING_SLOT_DATA_LINE_STUCK && findings[0].bit == 5);
}

/* A processor that goes round in a small circle leaves many lines at rest, which blames none of them. */
static void test_many_lines_at_rest(void **state) {
    (void)state;
    struct finding findings[SLOT_EXPLAINED_MAX];
    struct slot_seen seen = {.supply = true, .cycles = 1000000, .high = 0x0003, .low = 0x1FFF};
    assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 1);
    assert_int_equal(findings[0].kind, FINDING_RUNS_GARBAGE);
    seen.high = 0x1FFF & ~0x0810;
    assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 2);
    assert_true(findings[0].bit == 4 && findings[1].bit == 11 && findings[0].alternative);
    seen.traced = 1, seen.trace[0] = 0x1FE0; /* a start that was seen: neither of them is stuck low */
    assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 1);
    assert_int_equal(findings[0].kind, FINDING_RUNS_GARBAGE);
}

static void test_echo(void **state) {
    (void)state;
    struct finding findings[SLOT_EXPLAINED_MAX];
    for (int bit = 0; bit < 16; bit++) {
        struct slot_seen seen = running();
        seen.vector_low ^= (uint8_t)(bit < 8 ? 1 << bit : 0);
        seen.vector_high ^= (uint8_t)(bit < 8 ? 0 : 1 << (bit - 8));
        assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_FINE, findings), 1);
        assert_int_equal(findings[0].kind, FINDING_SLOT_DATA_LINE_STUCK);
        assert_int_equal(findings[0].bit, bit % 8);
        seen.echoed_low = seen.echoed_high = false; /* what was not heard is not believed */
        assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_FINE, findings), 0);
    }
}

/* Standards differ in pace, and a busy board loses some. */
static void test_pace(void **state) {
    (void)state;
    static const struct {
        uint32_t vsyncs, mailbox;
        bool runs;
    } cases[] = {{120, 60, true},  {100, 50, true},  {80, 40, true},    {0, 60, false},
                 {120, 0, false},  {0, 0, false},    {9000, 60, false}, {120, 9000, false},
                 {5040, 60, true}, {5200, 50, true}, {5040, 0, false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct finding findings[SLOT_EXPLAINED_MAX];
        struct slot_seen seen = running();
        seen.vsyncs = cases[i].vsyncs, seen.mailbox = cases[i].mailbox;
        trace(&seen, 0x1FE0, 0x1800);
        const size_t count = slot_explain(&seen, &usual, SLOT_VIDEO_FINE, findings);
        assert_int_equal(count == 0, cases[i].runs);
        assert_true(cases[i].runs ||
                    findings[0].kind == (i == 4 ? FINDING_OTHER_PROGRAM : FINDING_RUNS_GARBAGE));
    }
}

static void test_stopped(void **state) {
    (void)state;
    struct finding findings[SLOT_EXPLAINED_MAX];
    struct slot_seen seen = {.supply = true};
    trace(&seen, 0x1FE0, 0x1800);
    assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 1);
    assert_int_equal(findings[0].kind, FINDING_RUNS_GARBAGE);
    seen.traced = 0;
    assert_int_equal(slot_explain(&seen, &usual, SLOT_VIDEO_NONE, findings), 1);
    assert_int_equal(findings[0].kind, FINDING_NO_BUS);
    is_told_well(findings, 1);
}

static void test_video_of_result(void **state) {
    (void)state;
    static const struct {
        uint64_t judged;
        enum finding_kind kind;
        enum slot_video video;
    } cases[] = {{0, FINDING_NO_VIDEO, SLOT_VIDEO_NONE},      {9, FINDING_NO_VIDEO, SLOT_VIDEO_LOST},
                 {0, FINDING_NO_SLATE, SLOT_VIDEO_OTHER},     {9, FINDING_NO_SLATE, SLOT_VIDEO_LOST},
                 {9, FINDING_FROZEN_VIDEO, SLOT_VIDEO_LOST},  {9, FINDING_BIT_STUCK_LOW, SLOT_VIDEO_FINE},
                 {0, FINDING_UNEXPLAINED, SLOT_VIDEO_UNKNOWN}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        static struct result result;
        result = (struct result){.fields_judged = cases[i].judged, .finding_count = 1};
        result.findings[0].kind = cases[i].kind;
        assert_int_equal(slot_video_of(&result), cases[i].video);
        result.shown_to_end = true; /* a run that was ended before it had all */
        assert_int_equal(slot_video_of(&result), cases[i].judged > 0 ? SLOT_VIDEO_FINE : SLOT_VIDEO_UNKNOWN);
    }
}

static void test_image(void **state) {
    (void)state;
    struct slot_image image;
    slot_image_of(images[0]->bytes, images[0]->size, true, &image);
    assert_true(image.vector == 0xFFE0 && image.start == 0xF800 && image.mailbox);
    slot_image_of(images[1]->bytes, images[1]->size, true, &image);
    assert_true(image.vector == 0xFFE0 && image.start == 0xF000 && image.mailbox);
    slot_image_of(images[1]->bytes, images[1]->size, false, &image);
    assert_true(image.vector == 0xFFE0 && !image.mailbox);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_data_line),
        cmocka_unit_test(test_every_address_line),
        cmocka_unit_test(test_console),
        cmocka_unit_test(test_video),
        cmocka_unit_test(test_nothing_to_say),
        cmocka_unit_test(test_too_early),
        cmocka_unit_test(test_other_program),
        cmocka_unit_test(test_predictions_differ),
        cmocka_unit_test(test_two_ways_to_explain),
        cmocka_unit_test(test_many_lines_at_rest),
        cmocka_unit_test(test_echo),
        cmocka_unit_test(test_pace),
        cmocka_unit_test(test_stopped),
        cmocka_unit_test(test_video_of_result),
        cmocka_unit_test(test_image),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
