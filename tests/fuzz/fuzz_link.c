/*
 * The host's end of the wire: a board that says anything at all. Opening, a push and every question end in
 * their bounds, with a problem that says something where they fail.
 *
 * The input is a script: at each frame that the host sends and at each wait, a byte says what comes next. See
 * act(). Time is the script's own.
 */
#include "core/bytes.h"
#include "core/frame.h"
#include "fuzz/fuzz.h"
#include "link/link.h"

#include <stdlib.h>
#include <string.h>

enum { SIZE = 4096, CALL_MAX_MS = 600000 };

static struct script {
    const uint8_t *at, *end;
    uint64_t now_us;
    struct frame_decoder decoder;
    struct frame_in last; /* what the host asked */
    uint8_t begun[11];    /* payload of its last WIRE_BEGIN */
    bool committed;
    uint8_t out[1 << 14];
    size_t out_at, out_count;
    bool lost;
    uint8_t image[WIRE_IMAGE_MAX]; /* as the blocks came */
} script;

static uint8_t image[SIZE];

static uint8_t byte(void) {
    return script.at < script.end ? *script.at++ : 0xFF;
}

static void say(const uint8_t *bytes, size_t count) {
    if (script.out_at == script.out_count) {
        script.out_at = script.out_count = 0;
    }
    if (script.out_count + count <= sizeof script.out) {
        memcpy(script.out + script.out_count, bytes, count);
        script.out_count += count;
    }
}

static void say_frame(uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count) {
    uint8_t wire[WIRE_FRAME_MAX];
    say(wire, frame_encode(type, sequence, payload, count, wire));
}

/* A payload from the script: its length, then its bytes. */
static size_t take_payload(uint8_t *payload) {
    const size_t count = (size_t)byte() * 8 % (WIRE_PAYLOAD_MAX + 1) + byte() % 8;
    const size_t length = count <= WIRE_PAYLOAD_MAX ? count : WIRE_PAYLOAD_MAX;
    for (size_t i = 0; i < length; i++) {
        payload[i] = script.at < script.end ? byte() : 0;
    }
    return length;
}

static size_t read_back(uint8_t *payload) {
    if (script.last.count != 6) {
        return 1;
    }
    const size_t offset = get32(script.last.payload) % (WIRE_IMAGE_MAX - WIRE_BLOCK);
    const size_t count = get16(script.last.payload + 4) % (WIRE_BLOCK + 1);
    memcpy(payload + 1, script.image + offset, count);
    return 1 + count;
}

/* The answer that a good board would give, with the script's bytes over it from `from` on. */
static void answer_nearly(uint8_t from) {
    uint8_t payload[WIRE_PAYLOAD_MAX] = {WIRE_OK};
    static const uint8_t hello[] = {WIRE_OK, WIRE_VERSION, 0, 1, 0xFF, 0, 0, 0, 0x10, 4, 0, 4, 4,
                                    0,       0x80,         0, 0};
    size_t count = 1;
    switch (script.last.type) {
    case WIRE_HELLO:
        memcpy(payload, hello, sizeof hello);
        count = 25;
        break;
    case WIRE_BEGIN:
        payload[5] = WIRE_WINDOW;
        count = 6;
        break;
    case WIRE_DATA:
        payload[1] = (uint8_t)(script.last.sequence + 1);
        count = 2;
        break;
    case WIRE_COMMIT:
        script.committed = true;
        break;
    case WIRE_STATUS:
        count = 25;
        if (script.committed) {
            payload[2] = 1;
            memcpy(payload + 6, script.begun, 7);
        }
        break;
    case WIRE_WATCH:
        count = 49;
        break;
    case WIRE_READ:
        count = read_back(payload);
        break;
    case WIRE_VALUES:
        count = 11;
        payload[1] = script.last.payload[0];
        break;
    case WIRE_SUMS:
        count = 1 + 4 * SIZE / WIRE_BLOCK;
        break;
    default:
        break;
    }
    for (size_t i = from; i < count && i < 64; i++) {
        payload[i] = byte();
    }
    say_frame(script.last.type | WIRE_REPLY, script.last.sequence, payload, count);
}

/* One thing that the board does. */
static void act(void) {
    uint8_t payload[WIRE_PAYLOAD_MAX];
    const uint8_t what = byte();
    switch (what % 8) {
    case 0: /* the right answer, more or less */
    case 1:
        answer_nearly(what / 8 == 0 ? 64 : what / 8);
        break;
    case 2: /* any frame, to this question */
        say_frame(script.last.type | WIRE_REPLY, script.last.sequence, payload, take_payload(payload));
        break;
    case 3: { /* any frame */
        const uint8_t type = byte();
        const uint8_t sequence = byte();
        say_frame(type, sequence, payload, take_payload(payload));
        break;
    }
    case 4: /* bytes */
        say(payload, take_payload(payload));
        break;
    case 5: /* a refusal */
        payload[0] = byte();
        payload[1] = script.last.type;
        say_frame(WIRE_ERROR, script.last.sequence, payload, 2);
        break;
    case 6: /* gone */
        script.lost = what / 8 % 2 == 0;
        break;
    default: /* silence */
        break;
    }
}

/* ---- the transport ---- */

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct frame_in in;
    (void)state, (void)timeout_ms;
    *done = 0;
    for (size_t i = 0; i < count && !script.lost; i++) {
        if (frame_feed(&script.decoder, bytes[i], &in)) {
            script.last = in;
            if (in.type == WIRE_BEGIN && in.count == sizeof script.begun) {
                memcpy(script.begun, in.payload, sizeof script.begun);
            }
            if (in.type == WIRE_DATA && in.count == WIRE_BLOCK && in.sequence < WIRE_BLOCKS_MAX) {
                memcpy(script.image + (size_t)in.sequence * WIRE_BLOCK, in.payload, WIRE_BLOCK);
            }
            act();
        }
    }
    if (script.lost) {
        return IO_LOST;
    }
    *done = count;
    return IO_OK;
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    (void)state;
    *done = 0;
    if (script.lost) {
        return IO_LOST;
    }
    if (script.out_at == script.out_count) {
        script.now_us += (uint64_t)timeout_ms * 1000;
        if (script.at < script.end && timeout_ms > 0) {
            act();
        }
        return script.lost ? IO_LOST : IO_TIMEOUT;
    }
    const size_t there = script.out_count - script.out_at;
    *done = there < size ? there : size;
    memcpy(bytes, script.out + script.out_at, *done);
    script.out_at += *done;
    return IO_OK;
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    (void)state;
    if (byte() % 4 == 0) {
        script.now_us += (uint64_t)timeout_ms * 1000;
        return problem_set(problem, PROBLEM_BENCH, "away");
    }
    script.now_us += 1000;
    script.lost = false;
    script.out_at = script.out_count = 0;
    frame_start(&script.decoder);
    return true;
}

static uint64_t now_us(void *state) {
    (void)state;
    return script.now_us;
}

static void close_nothing(void *state) {
    (void)state;
}

/* ---- the run ---- */

static void must(bool truth) {
    if (!truth) {
        abort();
    }
}

static void failed_well(bool done, const struct problem *problem) {
    must(done || (problem->kind != PROBLEM_NONE && problem->text[0] != '\0'));
}

static void push_once(struct link *link) {
    struct problem problem = {0};
    struct link_push push;
    const struct link_image what = {.bytes = image, .size = SIZE, .scheme = WIRE_4K};
    const uint64_t before = script.now_us;
    const bool pushed = link_push(link, &what, &push, &problem);
    must(script.now_us - before <= 1000 * link_push_bound_ms(link, SIZE));
    failed_well(pushed, &problem);
}

static void ask_everything(struct link *link) {
    struct problem problem = {0};
    struct link_status status;
    struct link_watch watch = {0};
    uint8_t bytes[100];
    const uint64_t before = script.now_us;
    failed_well(link_status(link, &status, &problem), &problem);
    failed_well(link_watch(link, &watch, &problem), &problem);
    must(watch.traced <= WIRE_TRACE);
    failed_well(link_read(link, 5, bytes, sizeof bytes, &problem), &problem);
    failed_well(link_select(link, WIRE_HOLD_STEP, 1, &problem), &problem);
    failed_well(link_abort(link, &problem), &problem);
    must(script.now_us - before <= CALL_MAX_MS * (uint64_t)1000);
}

static void give_values(struct link *link) {
    static const uint32_t values[WIRE_VALUES_MAX];
    struct problem problem = {0};
    struct link_queue queue = {0};
    const uint64_t before = script.now_us;
    for (int i = 0; i < 3; i++) {
        failed_well(link_values(link, 1, queue.next, values, WIRE_VALUES_MAX, &queue, &problem), &problem);
    }
    must(script.now_us - before <= CALL_MAX_MS * (uint64_t)1000);
}

static void ignore_log(void *user, int level, const char *text) {
    (void)user, (void)level;
    must(strlen(text) <= WIRE_LOG_TEXT);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count) {
    const struct transport transport = {.name = "fuzz",
                                        .send = send_bytes,
                                        .receive = receive_bytes,
                                        .reopen = reopen,
                                        .now_us = now_us,
                                        .close = close_nothing};
    struct link_options options;
    struct link *link;
    struct problem problem = {0};
    script = (struct script){.at = bytes, .end = bytes + count};
    frame_start(&script.decoder);
    for (size_t i = 0; i < SIZE; i++) {
        image[i] = (uint8_t)(i % 251);
    }
    link_defaults(&options);
    options.log = ignore_log;
    const uint8_t choice = byte();
    options.whole = (choice & 1) != 0;
    options.read_back = (choice & 2) != 0;
    options.reconnect_ms = (choice & 4) != 0 ? 3000 : 0;
    const bool opened = link_open(&transport, &options, &link, &problem);
    failed_well(opened, &problem);
    if (opened) {
        push_once(link);
        ask_everything(link);
        push_once(link);
        give_values(link);
        link_close(link);
    }
    return 0;
}
