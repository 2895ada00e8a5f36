/* The board with all its ports, on a bench of its own: who may push, replies that wait for room, logs. */
#include "core/board.h"

#include "core/bytes.h"
#include "core/idle.h"
#include "core/talk.h"
#include "virtual/flash.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

enum { HEARD = 4096, SECOND = 1000000 };

static struct line {
    size_t room;
    uint8_t bytes[HEARD];
    size_t count;
} lines[BOARD_PORTS];

static struct board board;
static struct virtual_flash flash;
static uint8_t flash_bytes[STORE_BYTES], lanes[2][CART_TABLE], image[8192];
static int serving, loaders;
static uint64_t now;

static size_t room(void *state) {
    const struct line *line = state;
    return line->room;
}

static void send_bytes(void *state, const uint8_t *bytes, size_t count) {
    struct line *line = state;
    assert_true(count <= line->room && line->count + count <= HEARD);
    memcpy(line->bytes + line->count, bytes, count);
    line->count += count;
    line->room -= count;
}

static uint8_t *spare(void *state) {
    (void)state;
    return lanes[1 - serving];
}

static uint8_t *served(void *state) {
    (void)state;
    return lanes[serving];
}

static void serve(void *state, uint8_t scheme, bool ram, uint8_t bank) {
    (void)state;
    (void)ram;
    serving = 1 - serving;
    assert_int_equal(bank, cart_first_bank(scheme));
}

static bool supply(void *state) {
    (void)state;
    return false;
}

static void go_to_loader(void *chip) {
    (void)chip;
    loaders++;
}

static int start(void **state) {
    (void)state;
    memset(flash_bytes, 0xFF, sizeof flash_bytes);
    talk_fill(image, sizeof image, 3);
    flash = (struct virtual_flash){.bytes = flash_bytes, .cut_after = -1};
    struct board_config config = {.flash = virtual_flash_ops(&flash),
                                  .slot = {NULL, spare, served, serve, supply},
                                  .port_count = BOARD_PORTS,
                                  .capabilities = 0x3F,
                                  .idle = idle_image,
                                  .loader = go_to_loader};
    for (int port = 0; port < BOARD_PORTS; port++) {
        lines[port] = (struct line){.room = HEARD};
        config.ports[port] = (struct port_ops){&lines[port], room, send_bytes};
    }
    now = 1000;
    loaders = 0;
    board_start(&board, &config, now);
    for (int port = 0; port < BOARD_PORTS; port++) {
        assert_int_equal(lines[port].count, 0);
    }
    return 0;
}

static void pass(uint64_t us) {
    for (uint64_t end = now + us; now < end;) {
        now += 1000;
        board_poll(&board, now);
    }
}

static size_t send_frame(int port, uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count) {
    uint8_t wire[WIRE_FRAME_MAX];
    size_t length = frame_encode(type, sequence, payload, count, wire);
    return board_input(&board, port, wire, length, now) - length;
}

/* The one frame that came on a port; its type, or -1. */
static uint8_t reply[WIRE_PAYLOAD_MAX];
static size_t reply_count;
static int heard(int port) {
    struct frame_decoder decoder;
    struct frame_in in;
    int type = -1;
    frame_start(&decoder);
    for (size_t i = 0; i < lines[port].count; i++) {
        if (frame_feed(&decoder, lines[port].bytes[i], &in)) {
            assert_int_equal(type, -1);
            type = in.type;
            reply_count = in.count;
            memcpy(reply, in.payload, in.count);
        }
    }
    lines[port].count = 0;
    lines[port].room = HEARD;
    return type;
}

static int ask(int port, uint8_t type, const uint8_t *payload, size_t count) {
    assert_int_equal(send_frame(port, type, 1, payload, count), 0);
    assert_int_equal(heard(port), type | WIRE_REPLY);
    return reply[0];
}

static int begin(int port, uint8_t flags) {
    uint8_t payload[11] = {0, 0, 0, 0, 8, WIRE_F8, flags};
    put32(payload, frame_crc(0, image, sizeof image));
    return ask(port, WIRE_BEGIN, payload, sizeof payload);
}

static void send_block(int port, uint8_t block) {
    assert_int_equal(send_frame(port, WIRE_DATA, block, image + block * 1024, 1024), 0);
}

static void test_a_push_belongs_to_its_port(void **state) {
    (void)state;
    assert_int_equal(begin(0, 0), WIRE_OK);
    assert_int_equal(begin(1, 0), WIRE_BUSY);
    assert_int_equal(reply_count, 6);
    assert_int_equal(ask(1, WIRE_DATA, image, 1024), WIRE_BUSY);
    assert_int_equal(ask(2, WIRE_COMMIT, NULL, 0), WIRE_BUSY);
    assert_int_equal(ask(2, WIRE_ABORT, NULL, 0), WIRE_BUSY);
    assert_int_equal(ask(2, WIRE_STATUS, NULL, 0), WIRE_OK);
    assert_int_equal(ask(0, WIRE_ABORT, NULL, 0), WIRE_OK);
    assert_int_equal(begin(1, 0), WIRE_OK);
    for (uint8_t block = 0; block < 8; block++) {
        send_block(1, block);
    }
    heard(0);
    lines[1].count = 0;
    assert_int_equal(ask(1, WIRE_COMMIT, NULL, 0), WIRE_OK);
    assert_int_equal(begin(2, 1), WIRE_OK);
}

static void test_another_port_goes_on_with_it(void **state) {
    (void)state;
    assert_int_equal(begin(0, 0), WIRE_OK);
    send_block(0, 0);
    send_block(0, 1);
    heard(0);
    pass(29 * SECOND);
    assert_int_equal(begin(1, 0), WIRE_BUSY);
    send_block(0, 2);
    pass(29 * SECOND);
    heard(0);
    assert_int_equal(begin(1, 0), WIRE_BUSY);
    pass(2 * SECOND);
    assert_int_equal(begin(1, 0), WIRE_OK);
    assert_int_equal(get32(reply + 1), 7);
    assert_int_equal(ask(0, WIRE_DATA, image, 1024), WIRE_BUSY);
    board_port_lost(&board, 1);
    assert_int_equal(ask(1, WIRE_DATA, image, 1024), WIRE_NOT_BEGUN);
    assert_int_equal(begin(2, 0), WIRE_OK);
    assert_int_equal(get32(reply + 1), 7);
}

/* What the former session left half way must not spoil the next one's first frame. */
static void test_a_lost_port_starts_afresh(void **state) {
    (void)state;
    static const uint8_t half[] = {9, 1, 2, 3};
    assert_int_equal(board_input(&board, 0, half, sizeof half, now), sizeof half);
    board_port_lost(&board, 0);
    assert_int_equal(ask(0, WIRE_HELLO, (const uint8_t[]){1, 1}, 2), WIRE_OK);
}

/* With too little room the request stays in the caller's hands, and is answered once when there is some. */
static void test_replies_wait_for_room(void **state) {
    (void)state;
    uint8_t wire[WIRE_FRAME_MAX];
    size_t length = frame_encode(WIRE_HELLO, 1, (const uint8_t[]){1, 1}, 2, wire);
    for (size_t little = 0; little < 33; little++) {
        lines[0].room = little;
        size_t taken = board_input(&board, 0, wire, length, now);
        assert_int_equal(taken, length - 1);
        assert_int_equal(board_input(&board, 0, wire + taken, 1, now), 0);
        assert_int_equal(lines[0].count, 0);
        lines[0].room = HEARD;
        assert_int_equal(board_input(&board, 0, wire + taken, 1, now), 1);
        assert_int_equal(heard(0), WIRE_HELLO | WIRE_REPLY);
    }
    /* Two frames at once, with room for one answer. */
    memcpy(wire + length, wire, length);
    lines[0].room = 100;
    assert_int_equal(board_input(&board, 0, wire, 2 * length, now), 2 * length - 1);
    assert_int_equal(heard(0), WIRE_HELLO | WIRE_REPLY);
    lines[1].room = 0; /* another port's answers do not wait for it */
    assert_int_equal(board_input(&board, 0, wire, 1, now), 1);
}

static void test_the_longest_reply_fits_the_room_it_asks_for(void **state) {
    (void)state;
    uint8_t read[6] = {0, 0, 0, 0, 0, 4};
    assert_int_equal(begin(0, 0), WIRE_OK);
    for (uint8_t block = 0; block < 8; block++) {
        send_block(0, block);
    }
    lines[0].count = 0;
    assert_int_equal(ask(0, WIRE_COMMIT, NULL, 0), WIRE_OK);
    lines[0].room = WIRE_FRAME_MAX;
    assert_int_equal(ask(0, WIRE_READ, read, sizeof read), WIRE_OK);
    lines[0].room = WIRE_FRAME_MAX - 1;
    assert_true(send_frame(0, WIRE_READ, 1, read, sizeof read) != 0);
}

static void test_acknowledgements_wait_for_room(void **state) {
    (void)state;
    assert_int_equal(begin(0, 0), WIRE_OK);
    send_block(0, 0);
    lines[0].room = 3;
    pass(20000);
    assert_int_equal(lines[0].count, 0);
    lines[0].room = HEARD;
    pass(1000);
    assert_int_equal(heard(0), WIRE_DATA | WIRE_REPLY);
    pass(SECOND);
    assert_int_equal(heard(0), -1);
}

static void test_logs_go_to_those_who_asked(void **state) {
    (void)state;
    char longest[200];
    memset(longest, 'x', sizeof longest - 1);
    longest[sizeof longest - 1] = 0;
    assert_int_equal(ask(1, WIRE_LOG_LEVEL, (const uint8_t[]){1}, 1), WIRE_OK);
    assert_int_equal(ask(2, WIRE_LOG_LEVEL, (const uint8_t[]){2}, 1), WIRE_OK);
    board_log(&board, 2, "all");
    assert_true(heard(0) == -1 && heard(1) == -1 && heard(2) == WIRE_LOG);
    assert_true(reply_count == 4 && reply[0] == 2 && memcmp(reply + 1, "all", 3) == 0);
    board_log(&board, 1, longest);
    assert_true(heard(0) == -1 && heard(1) == WIRE_LOG && heard(2) == WIRE_LOG);
    assert_int_equal(reply_count, 1 + WIRE_LOG_TEXT);
    lines[1].room = 20;
    board_log(&board, 1, longest);
    assert_true(heard(1) == -1 && heard(2) == WIRE_LOG);
    board_port_lost(&board, 2);
    board_log(&board, 1, "lost");
    assert_int_equal(heard(2), -1);
}

static void test_loader_after_the_reply(void **state) {
    (void)state;
    assert_int_equal(ask(1, WIRE_LOADER, (const uint8_t[]){0x44, 0x41, 0x4F, 0x4C}, 4), WIRE_OK);
    pass(20000);
    assert_int_equal(loaders, 0);
    pass(SECOND);
    assert_int_equal(loaders, 1);
}

/* Nothing can be read: the idle picture is served, and a push is refused with the reason. */
static void test_flash_that_cannot_be_read(void **state) {
    (void)state;
    struct board_config config = board.config;
    flash.dead = true;
    memset(lanes, 0xEE, sizeof lanes);
    board_start(&board, &config, now);
    for (size_t at = 0; at < CART_WINDOW; at++) {
        assert_int_equal(lanes[serving][at * CART_BANKS], idle_image[at % IDLE_SIZE]);
    }
    assert_int_equal(begin(0, 0), WIRE_FLASH_FAILED);
    assert_int_equal(ask(0, WIRE_STATUS, NULL, 0), WIRE_OK);
    assert_int_equal(reply[1], WIRE_IDLE);
}

/* A push that could not begin leaves none behind, nor the last one's success. */
static void test_begin_that_fails(void **state) {
    (void)state;
    assert_int_equal(begin(0, 0), WIRE_OK);
    for (uint8_t block = 0; block < 8; block++) {
        send_block(0, block);
    }
    lines[0].count = 0;
    assert_int_equal(ask(0, WIRE_COMMIT, NULL, 0), WIRE_OK);
    for (uint8_t flags = 1; flags < 3; flags++) { /* the first after a commit, the second in a push */
        flash.fault_one_in = 1;
        assert_int_equal(begin(0, flags), WIRE_FLASH_FAILED);
        assert_int_equal(ask(0, WIRE_COMMIT, NULL, 0), WIRE_NOT_BEGUN);
        assert_int_equal(ask(0, WIRE_DATA, image, 1024), WIRE_NOT_BEGUN);
        pass(5000);
        assert_int_equal(ask(0, WIRE_STATUS, NULL, 0), WIRE_OK);
        assert_int_equal(reply[1], WIRE_SERVING);
        flash.fault_one_in = 0;
        assert_int_equal(begin(0, 0), WIRE_OK);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_a_push_belongs_to_its_port, start),
        cmocka_unit_test_setup(test_another_port_goes_on_with_it, start),
        cmocka_unit_test_setup(test_a_lost_port_starts_afresh, start),
        cmocka_unit_test_setup(test_replies_wait_for_room, start),
        cmocka_unit_test_setup(test_the_longest_reply_fits_the_room_it_asks_for, start),
        cmocka_unit_test_setup(test_acknowledgements_wait_for_room, start),
        cmocka_unit_test_setup(test_logs_go_to_those_who_asked, start),
        cmocka_unit_test_setup(test_flash_that_cannot_be_read, start),
        cmocka_unit_test_setup(test_begin_that_fails, start),
        cmocka_unit_test_setup(test_loader_after_the_reply, start),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
