/*
 * Values for the console: the queue, the mailbox, what ends a stream, and random schedules of a console that
 * reads, a board that is late and a host that repeats itself. All figures here are counts and the wire's own
 * [A]; nothing of a chip or a console's speed is taken from anywhere.
 */
#include "core/board.h"

#include "core/bytes.h"
#include "core/idle.h"
#include "core/talk.h"
#include "picture/draw.h"
#include "slotjig/mailbox.h"
#include "virtual/flash.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

/* ---- a board of its own ---- */

enum { HEARD = 4096, PORTS = 2, MS = 1000, KIB = 4, SIZE = KIB * 1024 };

static struct line {
    uint8_t bytes[HEARD];
    size_t count;
} lines[PORTS];

static struct board board;
static struct virtual_flash flash;
static uint8_t flash_bytes[STORE_BYTES], lanes[2][CART_TABLE], image[SIZE];
static int serving;
static bool supplied;
static uint64_t now;
static void (*slip)(void); /* lets the console go on in the middle of what the board does */

static size_t room(void *state) {
    const struct line *line = state;
    return HEARD - line->count;
}

static void send_bytes(void *state, const uint8_t *bytes, size_t count) {
    struct line *line = state;
    memcpy(line->bytes + line->count, bytes, count);
    line->count += count;
}

static uint8_t *spare(void *state) {
    (void)state;
    return lanes[1 - serving];
}

static uint8_t *served(void *state) {
    (void)state;
    if (slip != NULL) {
        slip();
    }
    return lanes[serving];
}

static void serve(void *state, uint8_t scheme, bool ram, uint8_t bank) {
    (void)state, (void)scheme, (void)ram, (void)bank;
    serving = 1 - serving;
}

static bool supply(void *state) {
    (void)state;
    return supplied;
}

static int start(void **state) {
    (void)state;
    memset(flash_bytes, 0xFF, sizeof flash_bytes);
    memset(image, 0, sizeof image);
    flash = (struct virtual_flash){.bytes = flash_bytes, .cut_after = -1};
    struct board_config config = {.flash = virtual_flash_ops(&flash),
                                  .slot = {NULL, spare, served, serve, supply},
                                  .port_count = PORTS,
                                  .capabilities = WIRE_CAN_VALUES | WIRE_CAN_SELECT,
                                  .idle = idle_image};
    for (int port = 0; port < PORTS; port++) {
        lines[port].count = 0;
        config.ports[port] = (struct port_ops){&lines[port], room, send_bytes};
    }
    now = 1000;
    supplied = true;
    slip = NULL;
    board_start(&board, &config, now);
    return 0;
}

static void pass(uint64_t us) {
    for (uint64_t end = now + us; now < end;) {
        now += 500;
        board_poll(&board, now);
    }
}

/* ---- the wire ---- */

static uint8_t reply[WIRE_PAYLOAD_MAX];
static size_t reply_count;
static int reply_type;

static int ask(int port, uint8_t type, const uint8_t *payload, size_t count) {
    uint8_t wire[WIRE_FRAME_MAX];
    struct frame_decoder decoder;
    struct frame_in in;
    size_t length = frame_encode(type, 1, payload, count, wire);
    reply_type = -1;
    frame_start(&decoder);
    assert_int_equal(board_input(&board, port, wire, length, now), length);
    for (size_t i = 0; i < lines[port].count; i++) {
        if (frame_feed(&decoder, lines[port].bytes[i], &in)) {
            reply_type = in.type;
            reply_count = in.count;
            memcpy(reply, in.payload, in.count);
        }
    }
    lines[port].count = 0;
    return reply_type < 0 ? -1 : reply[0];
}
#define ASK(port, type, ...)                                                                                 \
    ask(port, type, (const uint8_t[]){__VA_ARGS__}, sizeof((const uint8_t[]){__VA_ARGS__}))

/* The value at a place: every byte differs from that of the place before, so no mixture of two neighbours is
 * one of them [A]. */
static uint32_t value_of(uint32_t place) {
    return (place * 7 + 1) % 256 | (place * 11 + 3) % 256 << 8 | (place * 13 + 5) % 256 << 16;
}

static struct answer {
    uint32_t next, taken;
    int room;
} answer;

/* Returns the status. */
static int give(int port, uint8_t stream, uint32_t first, uint8_t count) {
    uint8_t payload[6 + 3 * 255] = {stream};
    put32(payload + 1, first);
    payload[5] = count;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t value = value_of(first + i);
        payload[6 + 3 * i] = (uint8_t)value;
        payload[7 + 3 * i] = (uint8_t)(value >> 8);
        payload[8 + 3 * i] = (uint8_t)(value >> 16);
    }
    int status = ask(port, WIRE_VALUES, payload, 6 + (size_t)3 * count);
    if (status == WIRE_OK) {
        assert_int_equal(reply_type, WIRE_VALUES | WIRE_REPLY);
        assert_int_equal(reply_count, 11);
        assert_int_equal(reply[1], stream);
        answer = (struct answer){get32(reply + 2), get32(reply + 6), reply[10]};
    }
    return status;
}

static void gave(int port, uint8_t stream, uint32_t first, uint8_t count, uint32_t next, uint32_t taken) {
    assert_int_equal(give(port, stream, first, count), WIRE_OK);
    assert_int_equal(answer.next, next);
    assert_int_equal(answer.taken, taken);
    assert_int_equal(answer.room, WIRE_VALUES_QUEUE - (next - taken));
}

static uint8_t shows(uint16_t address) {
    return lanes[serving][(address & (CART_WINDOW - 1)) * CART_BANKS];
}

static void see(uint16_t address) {
    board_watch(&board, &address, 1, 0);
}

/* A field of a console, all at once. Returns the value it was given, or -1. */
static long field(void) {
    see(MAILBOX_MODE);
    if (shows(MAILBOX_MODE) != MAILBOX_GIVEN) {
        pass(16 * MS);
        return -1;
    }
    long value = 0;
    for (int i = 0; i < 3; i++) {
        value |= (long)shows((uint16_t)(MAILBOX_VALUE + i)) << 8 * i;
        see((uint16_t)(MAILBOX_VALUE + i));
        see(0x1234);
    }
    pass(16 * MS);
    return value;
}

static void shows_places(uint32_t first, uint32_t count) {
    for (uint32_t i = 0; i < count; i++) {
        long value = field();
        if (value != (long)value_of(first + i)) {
            fail_msg("place %u: %lX instead of %X", first + i, value, value_of(first + i));
        }
    }
}

/* ---- the queue ---- */

static void test_in_order_and_then_free(void **state) {
    (void)state;
    pass(10 * MS);
    assert_int_equal(field(), -1);
    gave(0, 9, 0, 5, 5, 0);
    pass(10 * MS);
    shows_places(0, 3);
    gave(0, 9, 5, 2, 7, 3);
    shows_places(3, 4);
    assert_int_equal(field(), -1);
    gave(0, 9, 7, 0, 7, 7);
    gave(0, 9, 7, 1, 8, 7);
    pass(10 * MS);
    shows_places(7, 1);
}

static void test_twice_gaps_and_room(void **state) {
    (void)state;
    gave(0, 1, 0, 10, 10, 0);
    gave(0, 1, 0, 10, 10, 0); /* the same again */
    gave(0, 1, 5, 10, 15, 0); /* some of it again */
    gave(0, 1, 16, 4, 15, 0); /* a gap */
    gave(0, 1, 15, 0, 15, 0);
    gave(0, 1, 15, 64, 64, 0); /* 49 have room */
    gave(0, 1, 64, 1, 64, 0);
    pass(10 * MS);
    shows_places(0, 1);
    gave(0, 1, 64, 64, 65, 1);
    shows_places(1, 64);
    gave(0, 1, 3, 20, 65, 65); /* long past */
    assert_int_equal(field(), -1);
}

static void test_places_wrap(void **state) {
    (void)state;
    gave(0, 1, UINT32_MAX - 5, 10, 4, UINT32_MAX - 5);
    gave(0, 1, UINT32_MAX - 2, 10, 7, UINT32_MAX - 5);
    gave(0, 1, 9, 3, 7, UINT32_MAX - 5);
    pass(10 * MS);
    shows_places(UINT32_MAX - 5, 6);
    shows_places(0, 7);
    gave(0, 1, UINT32_MAX - 1, 2, 7, 7);
}

/* Every count with its right length, and with wrong ones; every bit of a value. */
static void test_lengths_and_values(void **state) {
    (void)state;
    static uint8_t payload[WIRE_PAYLOAD_MAX];
    for (unsigned count = 0; count < 256; count++) {
        payload[5] = (uint8_t)count;
        int wanted = count <= WIRE_VALUES_MAX ? WIRE_OK : WIRE_BAD_VALUE;
        assert_int_equal(ask(0, WIRE_VALUES, payload, 6 + (size_t)3 * count), wanted);
        assert_int_equal(reply_count, wanted == WIRE_OK ? 11 : 1);
        for (size_t length = 0; length < 800; length += length < 12 ? 1 : 13) {
            if (length != 6 + (size_t)3 * count) {
                assert_int_equal(ask(0, WIRE_VALUES, payload, length), WIRE_BAD_LENGTH);
                assert_int_equal(reply_type, WIRE_ERROR);
            }
        }
    }
    for (int bit = 0; bit < 24; bit++) {
        const uint32_t value = 1U << bit;
        const uint8_t one[] = {(uint8_t)(bit + 1),    0, 0, 0, 0, 1, (uint8_t)value, (uint8_t)(value >> 8),
                               (uint8_t)(value >> 16)};
        assert_int_equal(ask(0, WIRE_VALUES, one, sizeof one), WIRE_OK);
        pass(10 * MS);
        assert_int_equal(field(), value);
    }
}

/* ---- what ends a stream ---- */

static void test_another_stream_replaces_it(void **state) {
    (void)state;
    gave(0, 1, 0, 5, 5, 0);
    pass(10 * MS);
    shows_places(0, 1);
    gave(0, 2, 40, 5, 45, 40);
    assert_int_equal(shows(MAILBOX_MODE), MAILBOX_FREE);
    pass(10 * MS);
    shows_places(40, 1);
    gave(1, 2, 90, 5, 95, 90); /* another port's is another one */
    pass(10 * MS);
    shows_places(90, 5);
    gave(0, 2, 45, 1, 46, 45);
    pass(10 * MS);
    shows_places(45, 1);
}

static void test_select_ends_it_for_good(void **state) {
    (void)state;
    gave(0, 1, 0, 5, 5, 0);
    pass(10 * MS);
    assert_int_equal(ASK(0, WIRE_SELECT, WIRE_HOLD_STEP, 3), WIRE_OK);
    pass(10 * MS);
    assert_int_equal(shows(MAILBOX_MODE), MAILBOX_HOLD);
    assert_int_equal(give(0, 1, 5, 5), WIRE_NOT_BEGUN); /* the line may deliver a message once more */
    assert_int_equal(reply_count, 1);
    pass(10 * MS);
    assert_int_equal(shows(MAILBOX_MODE), MAILBOX_HOLD);
    gave(0, 2, 0, 5, 5, 0);
    pass(10 * MS);
    shows_places(0, 5);
    assert_int_equal(ask(0, WIRE_STATUS, NULL, 0), WIRE_OK);
    assert_true(reply[13] == WIRE_RUN_FREE && reply[14] == 0);
    assert_int_equal(ASK(0, WIRE_SELECT, WIRE_RUN_FREE, 0), WIRE_OK);
    assert_int_equal(give(0, 2, 5, 5), WIRE_NOT_BEGUN);
    assert_int_equal(ASK(1, WIRE_HELLO, 1, 1), WIRE_OK);
    assert_int_equal(give(0, 2, 5, 5), WIRE_NOT_BEGUN);
    assert_int_equal(ASK(0, WIRE_HELLO, 1, 1), WIRE_OK); /* a new host may use that number */
    gave(0, 2, 0, 5, 5, 0);
}

/* After hello: a host that came back goes on, one that starts anew does. */
static void test_hello(void **state) {
    (void)state;
    gave(0, 1, 0, 8, 8, 0);
    pass(10 * MS);
    shows_places(0, 3);
    assert_int_equal(ASK(0, WIRE_HELLO, 1, 1), WIRE_OK);
    shows_places(3, 1); /* hello alone stops nothing */
    gave(0, 1, 6, 4, 10, 4);
    gave(0, 1, 0, 8, 10, 4); /* late, not new: it has gone on */
    assert_int_equal(ASK(0, WIRE_HELLO, 1, 1), WIRE_OK);
    gave(0, 1, 0, 2, 2, 0);
    pass(10 * MS);
    shows_places(0, 2);
    assert_int_equal(ASK(0, WIRE_HELLO, 1, 1), WIRE_OK);
    gave(0, 1, 3, 2, 5, 3); /* and from a gap on */
}

static void push(uint8_t flags) {
    uint8_t payload[11] = {0, 0, 0, 0, KIB, WIRE_4K, flags};
    image[5]++; /* a new image each time */
    put32(payload, frame_crc(0, image, sizeof image));
    assert_int_equal(ask(0, WIRE_BEGIN, payload, sizeof payload), WIRE_OK);
    for (int block = 0; block < KIB; block++) {
        uint8_t wire[WIRE_FRAME_MAX];
        size_t length = frame_encode(WIRE_DATA, (uint8_t)block, image + block * WIRE_BLOCK, WIRE_BLOCK, wire);
        assert_int_equal(board_input(&board, 0, wire, length, now), length);
    }
    lines[0].count = 0;
}

static void commit(void) {
    assert_int_equal(ask(0, WIRE_COMMIT, NULL, 0), WIRE_OK);
}

static void test_another_image_ends_it(void **state) {
    (void)state;
    gave(0, 1, 0, 20, 20, 0);
    pass(10 * MS);
    push(WIRE_IMAGE_MAILBOX);
    shows_places(0, 2); /* a push alone changes nothing */
    commit();
    assert_int_equal(give(0, 1, 20, 1), WIRE_NOT_BEGUN);
    gave(0, 2, 0, 3, 3, 0); /* for the new image already */
    pass(10 * MS);
    assert_int_equal(shows(MAILBOX_MODE), MAILBOX_HAND_OVER);
    see(MAILBOX_IN_RAM);
    pass(10 * MS);
    assert_int_equal(shows(MAILBOX_MODE), MAILBOX_FREE); /* the console is still in its RAM */
    see(RESET_VECTOR);
    see(RESET_VECTOR + 1);
    pass(10 * MS);
    shows_places(0, 3);
    push(0);
    commit();
    assert_int_equal(give(0, 3, 0, 1), WIRE_NO_MAILBOX);
    pass(BOARD_HAND_OVER_US + 10 * MS);
    assert_int_equal(give(0, 3, 0, 1), WIRE_NO_MAILBOX);
    assert_int_equal(shows(MAILBOX_MODE), 0);
    push(WIRE_IMAGE_MAILBOX);
    commit();
    gave(0, 3, 0, 1, 1, 0);
}

/* The console is switched off in the midst of a read: what it had not read all of is still there. */
static void test_a_console_that_is_switched_off(void **state) {
    (void)state;
    gave(0, 1, 0, 5, 5, 0);
    pass(10 * MS);
    shows_places(0, 1);
    see(MAILBOX_MODE);
    see(MAILBOX_VALUE);
    see(MAILBOX_VALUE + 1);
    supplied = false;
    pass(50 * MS);
    supplied = true;
    pass(10 * MS);
    see(MAILBOX_VALUE + 2);
    pass(10 * MS);
    gave(0, 1, 5, 0, 5, 1);
    shows_places(1, 4);
}

static void test_a_board_that_cannot(void **state) {
    (void)state;
    struct board_config config = board.config;
    config.capabilities = WIRE_CAN_SELECT;
    board_start(&board, &config, now);
    assert_int_equal(give(0, 1, 0, 1), WIRE_UNKNOWN);
    assert_int_equal(reply_type, WIRE_ERROR);
}

/* ---- random schedules ---- */

enum { PLACES = 200, EVENTS = 4096, PIECE = 256, SEEDS = 1000, SEEDS_SMALL = 60 };

static struct schedule {
    uint64_t seed, random;
    uint64_t turn; /* us: the longest of the board's usual turns */
    bool prompt;   /* the board polls within a millisecond and sees all, and the queue is filled in time */
    /* The console: it reads the mode each field, and the bytes within 4 ms of it. */
    uint64_t at, period, between; /* us: the next read, a field, from one read to the next */
    int reads;                    /* of this field */
    bool given;
    uint32_t value;
    long place; /* shown last; -1: none */
    long fields, repeated, free_fields;
    uint16_t events[EVENTS];
    size_t event_count;
} run;

static uint64_t below(uint64_t most) {
    return draw_random(&run.random) % most;
}

static bool one_in(uint64_t n) {
    return below(n) == 0;
}

static void happened(uint16_t address) {
    if (run.event_count < EVENTS) {
        run.events[run.event_count++] = address;
    }
}

static void new_value(void) {
    if (run.place >= 0 && run.value == value_of((uint32_t)run.place)) {
        run.repeated++;
    } else if (run.value == value_of((uint32_t)(run.place + 1))) {
        run.place++;
    } else {
        fail_msg("seed %llu: %X after place %ld", (unsigned long long)run.seed, run.value, run.place);
    }
}

static void console_read(void) {
    const uint16_t address = (uint16_t)(run.reads == 0 ? MAILBOX_MODE : MAILBOX_VALUE + run.reads - 1);
    const uint8_t byte = shows(address);
    happened(address);
    happened(0x1000);
    if (run.reads == 0) {
        run.given = byte == MAILBOX_GIVEN;
        run.value = 0;
        run.fields++;
        run.free_fields += !run.given && run.place + 1 < PLACES;
    } else {
        run.value |= (uint32_t)byte << 8 * (run.reads - 1);
    }
    run.reads++;
    if (run.given && run.reads <= 3) {
        run.at += run.between;
        return;
    }
    if (run.given) {
        new_value();
    }
    run.at += run.period - (run.given ? 3 * run.between : 0);
    run.reads = 0;
}

/* Time passes, and the console goes on. */
static void passes(uint64_t us) {
    now += us;
    while (run.at <= now) {
        console_read();
    }
}

static void some_microseconds(void) {
    passes(below(40));
}

/* What the slot saw, in pieces; now and then the watch loses the first of them. */
static void drain(void) {
    size_t lost = !run.prompt && one_in(50) && run.event_count > 0 ? 1 + below(run.event_count) : 0;
    size_t count = run.event_count;
    uint16_t events[EVENTS];
    memcpy(events, run.events, sizeof events);
    run.event_count = 0;
    for (size_t at = lost; at < count || lost > 0; at += PIECE) {
        size_t left = at < count ? count - at : 0;
        board_watch(&board, events + at, left < PIECE ? left : PIECE, (uint32_t)lost);
        lost = 0;
        some_microseconds();
    }
}

/* What the board may take of a message. */
static uint32_t next_after(uint32_t next, uint32_t taken, uint32_t first, uint32_t count) {
    if (first > next || first + count <= next) {
        return next;
    }
    uint32_t most = taken + WIRE_VALUES_QUEUE;
    return first + count < most ? first + count : most;
}

static void host(void) {
    uint32_t next = answer.next, first = next, count = 1 + (uint32_t)below(WIRE_VALUES_MAX);
    if (!run.prompt && next > 0) { /* the first message begins the stream where it says */
        first = one_in(4) ? next + (uint32_t)below(5) : next - (uint32_t)below(next < 70 ? next + 1 : 70);
    }
    count = first + count > PLACES ? (first < PLACES ? PLACES - first : 0) : count;
    assert_int_equal(give(0, 1, first, (uint8_t)count), WIRE_OK);
    assert_int_equal(answer.next, next_after(next, answer.taken, first, count));
    assert_int_equal(answer.room, WIRE_VALUES_QUEUE - (answer.next - answer.taken));
    assert_true(answer.taken <= answer.next && (long)answer.taken <= run.place + 1);
}

static void board_turn(void) {
    passes(!run.prompt && one_in(200 * MS / run.turn) ? below(60 * MS) : below(run.turn));
    if (run.prompt ? one_in(20) : one_in(90000 / run.turn)) {
        host();
    }
    if (!run.prompt && one_in(9000 / run.turn)) {
        passes(below(5 * MS));
    }
    drain();
    passes(run.prompt ? below(100) : one_in(9000 / run.turn) ? below(5 * MS) : below(run.turn / 5));
    board_poll(&board, now);
}

static void new_run(uint64_t seed) {
    static const uint64_t periods[] = {16683, 19970, 16683, 7000, 2500}; /* NTSC's, PAL's; faster ones */
    start(NULL);
    run = (struct schedule){
        .seed = seed, .random = seed * 0x9E3779B97F4A7C15, .place = -1, .prompt = seed % 2 == 0};
    run.turn = run.prompt ? 800 : one_in(3) ? 50 : 1500;
    run.period = run.turn == 50 ? 2500 : periods[run.prompt ? below(3) : below(5)];
    run.between = 1 + below(run.prompt          ? 700
                            : run.period < 5400 ? run.period / 4
                                                : 1330); /* three: below 4 ms */
    run.at = now + below(run.period);
    answer = (struct answer){0};
    slip = some_microseconds;
    host();
}

static void one_schedule(uint64_t seed) {
    new_run(seed);
    for (long turns = 0; run.place + 1 < PLACES || answer.taken < PLACES; turns++) {
        board_turn();
        if (turns > 4000000) {
            fail_msg("seed %llu: place %ld after %ld fields", (unsigned long long)seed, run.place,
                     run.fields);
        }
    }
    if (run.prompt && (run.repeated > 0 || run.free_fields > 1)) {
        fail_msg("seed %llu: %ld fields repeated, %ld of its own", (unsigned long long)seed, run.repeated,
                 run.free_fields);
    }
    for (int i = 0; i < 200; i++) {
        passes(500);
        drain();
        board_poll(&board, now);
    }
    slip = NULL;
    assert_int_equal(run.place, PLACES - 1);
    assert_int_equal(shows(MAILBOX_MODE), MAILBOX_FREE);
}

/* Never a mixture, never out of order, none lost; and where the board is in time, each field has a new one
 * (the first one may come too early for the first value). */
static void test_schedules(void **state) {
    (void)state;
    const uint64_t seeds = getenv("SLOTJIG_TEST_SMALL") != NULL ? SEEDS_SMALL : SEEDS;
    long repeated = 0, fields = 0;
    for (uint64_t seed = 1; seed <= seeds; seed++) {
        one_schedule(seed);
        repeated += run.repeated;
        fields += run.fields;
    }
    assert_true(repeated > 0); /* the late ones were late */
    print_message("    %ld fields, %ld of them showed a value again\n", fields, repeated);
}

/* ---- each request twice ---- */

static void one_request(void) {
    const uint8_t stream = (uint8_t)(1 + below(2));
    const int port = one_in(4);
    const uint32_t first = answer.next + (uint32_t)below(6) - (one_in(2) ? (uint32_t)below(9) : 0);
    switch (below(6)) {
    case 0:
        ASK(port, WIRE_HELLO, 1, 1);
        break;
    case 1:
        ASK(port, WIRE_SELECT, one_in(2), 3);
        break;
    default:
        give(port, stream, one_in(8) ? 0 : first, (uint8_t)below(one_in(4) ? 65 : 5));
    }
}

/* CRC of every reply and of what the console sees. */
static uint32_t requests(uint64_t seed, int times) {
    uint32_t crc = 0;
    start(NULL);
    run = (struct schedule){.random = seed * 0x9E3779B97F4A7C15};
    answer = (struct answer){0};
    for (int i = 0; i < 60; i++) {
        const uint64_t random = run.random;
        const struct answer before = answer;
        for (int time = 0; time < times; time++) {
            run.random = random;
            answer = before;
            one_request();
        }
        crc = frame_crc(crc, reply, reply_count);
        if (one_in(2)) {
            const long value = field();
            crc = frame_crc(crc, (const uint8_t *)&value, sizeof value);
        }
    }
    return crc;
}

/* Whatever comes twice, or three times, ends as if it had come once. */
static void test_requests_that_come_twice(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= 500; seed++) {
        const uint32_t once = requests(seed, 1);
        for (int times = 2; times <= 3; times++) {
            if (requests(seed, times) != once) {
                fail_msg("seed %llu: %d times", (unsigned long long)seed, times);
            }
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_in_order_and_then_free, start),
        cmocka_unit_test_setup(test_twice_gaps_and_room, start),
        cmocka_unit_test_setup(test_places_wrap, start),
        cmocka_unit_test_setup(test_lengths_and_values, start),
        cmocka_unit_test_setup(test_another_stream_replaces_it, start),
        cmocka_unit_test_setup(test_select_ends_it_for_good, start),
        cmocka_unit_test_setup(test_hello, start),
        cmocka_unit_test_setup(test_another_image_ends_it, start),
        cmocka_unit_test_setup(test_a_console_that_is_switched_off, start),
        cmocka_unit_test_setup(test_a_board_that_cannot, start),
        cmocka_unit_test_setup(test_schedules, start),
        cmocka_unit_test_setup(test_requests_that_come_twice, start),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
