/*
 * Values from the host to the console: through link, board and slot into a console that runs a program, and
 * over lines that lose, bend and repeat what they carry.
 */
#include "link/link.h"

#include "core/bytes.h"
#include "link/puppet.h"
#include "slotjig/mailbox.h"
#include "virtual/board.h"
#include "virtual/console.h"
#include "virtual/socket.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { SIZE = 4096, PROGRAM = 0xF000, OWN = 0xFE, COUNT = 200, STREAM = 77 };

static struct link_options options;
static struct link *link;
static struct problem problem;
static struct virtual_board *board;
static uint32_t values[COUNT];

static void must(bool done, const char *what) {
    if (!done) {
        fail_msg("%s: %s", what, problem.text);
    }
}

/* In no order; each byte a colour code that is not OWN. */
static void make_values(void) {
    for (uint32_t i = 0; i < COUNT; i++) {
        values[i] = (i * 0x9E3779U) & 0x7E7E7E;
    }
}

/* ---- a program that shows what it is given ---- */

/* 262 lines: 3 of sync, 40, and then three bands of 60 lines with the value's bytes as background, or OWN
 * three times, and 39. */
static const uint8_t program[] = {
    0x78, 0xD8, 0xA2, 0xFF, 0x9A,                   /*        SEI, CLD, LDX #$FF, TXS */
    0xA9, 0x02, 0x85, 0x00,                         /* frame  LDA #2, STA VSYNC */
    0x85, 0x02, 0x85, 0x02, 0x85, 0x02,             /*        STA WSYNC, three times */
    0xA9, 0x00, 0x85, 0x00, 0x85, 0x01,             /*        LDA #0, STA VSYNC, STA VBLANK */
    0x85, 0x0D, 0x85, 0x0E, 0x85, 0x0F,             /*        STA PF0, PF1, PF2 */
    0xA2, 0x28, 0x85, 0x02, 0xCA, 0xD0, 0xFB,       /*        LDX #40; STA WSYNC, DEX, BNE */
    0xAD, 0xE3, 0xFF, 0xC9, 0x03, 0xD0, 0x12,       /*        LDA MAILBOX_MODE, CMP #GIVEN, BNE own */
    0xAD, 0xE5, 0xFF, 0x85, 0x80,                   /*        LDA MAILBOX_VALUE, STA $80 */
    0xAD, 0xE6, 0xFF, 0x85, 0x81,                   /*        LDA MAILBOX_VALUE+1, STA $81 */
    0xAD, 0xE7, 0xFF, 0x85, 0x82, 0x4C, 0x43, 0xF0, /*        LDA MAILBOX_VALUE+2, STA $82, JMP show */
    0xA9, OWN,  0x85, 0x80, 0x85, 0x81, 0x85, 0x82, /* own    LDA #OWN, STA $80, $81, $82 */
    0xA5, 0x80, 0x85, 0x09,                         /* show   LDA $80, STA COLUBK */
    0xA2, 0x3C, 0x85, 0x02, 0xCA, 0xD0, 0xFB,       /*        LDX #60; STA WSYNC, DEX, BNE */
    0xA5, 0x81, 0x85, 0x09,                         /*        LDA $81, STA COLUBK */
    0xA2, 0x3C, 0x85, 0x02, 0xCA, 0xD0, 0xFB,       /*        LDX #60; STA WSYNC, DEX, BNE */
    0xA5, 0x82, 0x85, 0x09,                         /*        LDA $82, STA COLUBK */
    0xA2, 0x3C, 0x85, 0x02, 0xCA, 0xD0, 0xFB,       /*        LDX #60; STA WSYNC, DEX, BNE */
    0xA9, 0x00, 0x85, 0x09,                         /*        LDA #0, STA COLUBK */
    0xA2, 0x27, 0x85, 0x02, 0xCA, 0xD0, 0xFB,       /*        LDX #39; STA WSYNC, DEX, BNE */
    0x4C, 0x05, 0xF0,                               /*        JMP frame */
};
enum { LINES = 262, SHOW = 0x43, BAND = 60, FIRST_BAND = 3 + 40 };

static const struct link_image *image(void) {
    static uint8_t bytes[SIZE];
    static const struct link_image made = {
        .bytes = bytes, .size = SIZE, .scheme = WIRE_4K, .flags = WIRE_IMAGE_MAILBOX};
    static const uint8_t entry[] = {0x4C, PROGRAM & 0xFF, PROGRAM >> 8};
    memcpy(bytes, program, sizeof program);
    memcpy(bytes + (MAILBOX_ENTRY & 0xFFF), entry, sizeof entry);
    put16(bytes + (RESET_VECTOR & 0xFFF), MAILBOX_ENTRY | 0xE000);
    assert_true(program[SHOW] == 0xA5 && program[SHOW + 1] == 0x80);
    return &made;
}

/* ---- a bench ---- */

static struct console console;
static struct socket socket_of_it;

static void open_link(const struct transport *transport) {
    must(link_open(transport, &options, &link, &problem), "open");
}

static int start(void **state) {
    (void)state;
    struct transport transport;
    make_values();
    link_defaults(&options);
    board = virtual_board_new(&(struct virtual_board_options){.power_cut_after = -1, .seed = 1}, &problem);
    assert_non_null(board);
    must(transport_virtual(board, &transport, &problem), "transport");
    open_link(&transport);
    must(link_push(link, image(), NULL, &problem), "push");
    return 0;
}

static int stop(void **state) {
    (void)state;
    link_close(link);
    virtual_board_free(board);
    return 0;
}

static void switch_on(void) {
    static const struct virtual_faults none;
    struct tia_chip chip;
    tia_chip_default(&chip);
    socket_of_it = (struct socket){.console = &console, .board = board};
    const struct cartridge cartridge = socket_cartridge(&socket_of_it, &none);
    virtual_board_supply(board, true);
    console_power_on(&console, &chip, &cartridge, 5);
    for (int field = 0; field < 4; field++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
}

/* The three bands of the next field. */
static uint32_t show(void) {
    assert_true(console_run_field(&console, TIA_LINES_MAX));
    assert_int_equal(console.tia.field.lines, LINES);
    uint32_t value = 0;
    for (int band = 0; band < 3; band++) {
        value |= (uint32_t)console.tia.field.pixel[FIRST_BAND + BAND * band + BAND / 2][80] << 8 * band;
    }
    return value;
}

static const uint32_t own = OWN * 0x010101U;

/* The console goes on from field to field without one of its own, in the order given, however few values are
 * ahead of it. */
static void test_every_field_shows_the_next(void **state) {
    (void)state;
    switch_on();
    assert_int_equal(show(), own);
    for (uint32_t ahead = 1; ahead <= 96; ahead *= 2) {
        struct link_queue queue = {.next = 0};
        uint8_t stream = (uint8_t)(STREAM + ahead);
        for (uint32_t shown = 0; shown < COUNT; shown++) {
            uint32_t want = shown + ahead < COUNT ? shown + ahead : COUNT;
            must(link_values(link, stream, queue.next, values + queue.next, want - queue.next, &queue,
                             &problem),
                 "values");
            assert_true(queue.next == want || queue.room == 0);
            assert_int_equal(queue.taken, shown);
            uint32_t value = show();
            if (value != values[shown]) {
                fail_msg("%u ahead, field %u: %06X instead of %06X", ahead, shown, value, values[shown]);
            }
        }
        assert_int_equal(show(), own);
    }
}

/* Off and on again in the middle: the program starts anew, and goes on where the queue is. */
static void test_a_console_that_starts_anew(void **state) {
    (void)state;
    struct link_queue queue;
    switch_on();
    must(link_values(link, STREAM, 0, values, 40, &queue, &problem), "values");
    for (int i = 0; i < 10; i++) {
        assert_int_equal(show(), values[i]);
    }
    virtual_board_supply(board, false);
    virtual_board_advance(board, 1000000);
    switch_on(); /* four fields go by */
    must(link_values(link, STREAM, 40, NULL, 0, &queue, &problem), "how far");
    assert_in_range(queue.taken, 13, 14);
    for (uint32_t i = queue.taken; i < 40; i++) {
        assert_int_equal(show(), values[i]);
    }
    assert_int_equal(show(), own);
}

/* ---- lines with faults ---- */

enum { SEEDS = 300, SEEDS_SMALL = 30, FIELDS_MOST = 4000 };

/* A field of a console by hand; -1: nothing given. */
static long shown_by_hand(void) {
    long value = -1;
    if (virtual_board_cycle(board, MAILBOX_MODE, 0xFF) == MAILBOX_GIVEN) {
        value = 0;
        for (int i = 0; i < 3; i++) {
            value |= (long)virtual_board_cycle(board, (uint16_t)(MAILBOX_VALUE + i), 0xFF) << 8 * i;
        }
    }
    virtual_board_cycle(board, 0x1000, 0xFF);
    virtual_board_advance(board, 16000);
    return value;
}

static struct transport_faults faults_of(uint64_t seed) {
    const double most = 0.008 * (double)(seed % 8);
    return (struct transport_faults){.seed = seed,
                                     .drop = most,
                                     .flip = most,
                                     .cut = most,
                                     .twice = most,
                                     .stall = most,
                                     .reorder = most,
                                     .unplug = seed % 5 == 0 ? most / 4 : 0,
                                     .stall_ms_max = 400};
}

/* Offers what it has until the console has shown all. False: the line was too bad, with a clear text. */
static bool feed(uint64_t seed) {
    struct link_queue queue = {.next = 0};
    uint32_t shown = 0;
    for (int field = 0; field < FIELDS_MOST && shown < COUNT; field++) {
        const uint32_t next = queue.next;
        if (!link_values(link, STREAM, next, values + next, COUNT - next, &queue, &problem)) {
            assert_int_equal(problem.kind, PROBLEM_BENCH);
            assert_true(problem.text[0] != '\0');
            return false;
        }
        assert_true(queue.next >= next && queue.next <= COUNT && queue.taken <= queue.next);
        const long value = shown_by_hand();
        if (value >= 0 && value != values[shown]) {
            fail_msg("seed %llu: %lX instead of value %u", (unsigned long long)seed, value, shown);
        }
        shown += value >= 0;
    }
    assert_int_equal(shown, COUNT);
    return true;
}

/* The board answers what was asked twice, late or in another order so that each value is shown once, in
 * order: nothing here is ever late for the slot. */
static void test_lines_with_faults(void **state) {
    (void)state;
    const uint64_t seeds = getenv("SLOTJIG_TEST_SMALL") != NULL ? SEEDS_SMALL : SEEDS;
    int done = 0;
    for (uint64_t seed = 1; seed <= seeds; seed++) {
        struct transport inner, faulty;
        const struct transport_faults faults = faults_of(seed);
        link_close(link);
        must(transport_virtual(board, &inner, &problem), "transport");
        must(transport_faulty(&inner, &faults, &faulty, &problem), "faults");
        if (link_open(&faulty, &options, &link, &problem)) {
            done += feed(seed);
            link_close(link);
        }
        must(transport_virtual(board, &inner, &problem), "transport");
        open_link(&inner); /* hello, so that the number may be used again */
        must(link_select(link, WIRE_RUN_FREE, 0, &problem), "select");
        must(link_push(link, image(), NULL, &problem), "push");
    }
    print_message("    all values shown over %d of %llu lines; the others gave up with a reason\n", done,
                  (unsigned long long)seeds);
    assert_true((uint64_t)done > seeds / 2);
}

/* ---- boards that answer otherwise ---- */

static struct puppet puppet;
static uint32_t can;
static uint8_t said[20];
static size_t said_count;

static bool answer_values(struct puppet *of, const struct frame_in *in) {
    if (in->type == WIRE_HELLO) {
        uint8_t hello[25] = {WIRE_OK, WIRE_VERSION};
        put32(hello + 4, can);
        put16(hello + 8, WIRE_PAYLOAD_MAX);
        put16(hello + 10, WIRE_BLOCK);
        hello[12] = WIRE_WINDOW;
        put32(hello + 13, WIRE_IMAGE_MAX);
        puppet_reply(of, WIRE_HELLO | WIRE_REPLY, in->sequence, hello, sizeof hello);
        return true;
    }
    if (in->type == WIRE_VALUES) {
        puppet_reply(of, WIRE_VALUES | WIRE_REPLY, in->sequence, said, said_count);
        return true;
    }
    return false;
}

static void open_puppet(uint32_t capabilities) {
    struct transport transport;
    puppet_start(&puppet, &transport);
    puppet.answer = answer_values;
    can = capabilities;
    make_values();
    link_defaults(&options);
    open_link(&transport);
}

static void says(enum problem_kind kind, const char *what) {
    struct link_queue queue;
    if (link_values(link, STREAM, 0, values, 3, &queue, &problem) || problem.kind != kind ||
        strstr(problem.text, what) == NULL) {
        fail_msg("%s\nwanted: %s", problem.text, what);
    }
}

static void test_a_board_that_is_too_old(void **state) {
    (void)state;
    open_puppet(WIRE_CAN_SELECT | WIRE_CAN_WATCH | WIRE_CAN_LOADER | WIRE_CAN_BANKS | WIRE_CAN_RAM |
                WIRE_CAN_KEEP);
    says(PROBLEM_BENCH, "renew its firmware");
    assert_int_equal(puppet.asked[WIRE_VALUES], 0); /* it is not even asked */
    link_close(link);
}

static void test_answers_that_cannot_be(void **state) {
    (void)state;
    static const struct {
        uint8_t bytes[12];
        size_t count;
        const char *says;
    } cases[] = {
        {{WIRE_NO_MAILBOX}, 1, "does not ask which picture"},
        {{WIRE_NOT_BEGUN}, 1, "start again"},
        {{WIRE_BAD_VALUE}, 1, "a value is outside"},
        {{WIRE_OK}, 1, "cannot be"},
        {{WIRE_OK, STREAM, 3, 0, 0, 0, 0, 0, 0, 0}, 10, "cannot be"},
        {{WIRE_OK, STREAM, 3, 0, 0, 0, 0, 0, 0, 0, 1, 1}, 12, "cannot be"},
        {{WIRE_OK, STREAM + 1, 3, 0, 0, 0, 0, 0, 0, 0, 1}, 11, "cannot be"},
    };
    open_puppet(WIRE_CAN_VALUES);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        memcpy(said, cases[i].bytes, sizeof cases[i].bytes);
        said_count = cases[i].count;
        says(PROBLEM_BENCH, cases[i].says);
    }
    values[2] = 0x1000000;
    says(PROBLEM_INPUT, "value 16777216");
    link_close(link);
}

/* What goes out and comes back, byte by byte, from the wire's table; and never more than a message holds. */
static void test_the_message(void **state) {
    (void)state;
    static const uint8_t good[] = {WIRE_OK, STREAM, 0x03, 0x02, 0x01, 0x80, 4, 5, 6, 7, 63};
    struct link_queue queue;
    open_puppet(WIRE_CAN_VALUES);
    memcpy(said, good, sizeof good);
    said_count = sizeof good;
    must(link_values(link, STREAM, 0x80010200, values, COUNT, &queue, &problem), "values");
    assert_true(queue.next == 0x80010203 && queue.taken == 0x07060504 && queue.room == 63);
    const uint8_t *plain = puppet.decoder.plain; /* the last frame that came */
    const uint8_t head[] = {WIRE_VALUES, plain[1], STREAM, 0x00, 0x02, 0x01, 0x80, WIRE_VALUES_MAX};
    assert_memory_equal(plain, head, sizeof head);
    for (size_t i = 0; i < WIRE_VALUES_MAX; i++) {
        const uint8_t *item = plain + sizeof head + 3 * i;
        assert_int_equal(item[0] | item[1] << 8 | item[2] << 16, values[i]);
    }
    link_close(link);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_every_field_shows_the_next, start, stop),
        cmocka_unit_test_setup_teardown(test_a_console_that_starts_anew, start, stop),
        cmocka_unit_test_setup_teardown(test_lines_with_faults, start, stop),
        cmocka_unit_test(test_a_board_that_is_too_old),
        cmocka_unit_test(test_answers_that_cannot_be),
        cmocka_unit_test(test_the_message),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
