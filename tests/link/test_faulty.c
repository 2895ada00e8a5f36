/* The fault decorator: nothing at rate 0, each fault for sure at rate 1, and the same again from a seed. */
#include "core/frame.h"
#include "link/transport.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* ---- a transport that keeps what is sent and gives what the test put there ---- */

static struct {
    uint8_t sent[1 << 16], there[1 << 16];
    size_t sent_count, there_at, there_count;
    uint64_t now_us;
} inner;

static enum io inner_send(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    (void)state, (void)timeout_ms;
    memcpy(inner.sent + inner.sent_count, bytes, count);
    inner.sent_count += count;
    *done = count;
    return IO_OK;
}

static enum io inner_receive(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    const size_t there = inner.there_count - inner.there_at;
    (void)state;
    *done = there < size ? there : size;
    memcpy(bytes, inner.there + inner.there_at, *done);
    inner.there_at += *done;
    inner.now_us += *done > 0 ? 0 : (uint64_t)timeout_ms * 1000;
    return *done > 0 ? IO_OK : IO_TIMEOUT;
}

static uint64_t inner_now(void *state) {
    (void)state;
    return inner.now_us;
}

static void inner_close(void *state) {
    (void)state;
}

static struct transport transport;
static struct problem problem;

static void start(const struct transport_faults *faults) {
    const struct transport plain = {.name = "plain",
                                    .send = inner_send,
                                    .receive = inner_receive,
                                    .now_us = inner_now,
                                    .close = inner_close};
    memset(&inner, 0, sizeof inner);
    assert_true(transport_faulty(&plain, faults, &transport, &problem));
}

static void stop(void) {
    transport.close(transport.state);
}

static uint8_t frame[WIRE_FRAME_MAX];

/* A frame that says its number. */
static size_t make_frame(uint8_t number) {
    uint8_t payload[50];
    memset(payload, number, sizeof payload);
    return frame_encode(WIRE_DATA, number, payload, sizeof payload, frame);
}

static enum io send_number(uint8_t number) {
    size_t done = 0;
    return transport.send(transport.state, frame, make_frame(number), 1000, &done);
}

/* The numbers of the good frames among those bytes, as text. */
static void numbers(const uint8_t *bytes, size_t count, char *text) {
    struct frame_decoder decoder;
    struct frame_in in;
    frame_start(&decoder);
    *text = '\0';
    for (size_t i = 0; i < count; i++) {
        if (frame_feed(&decoder, bytes[i], &in)) {
            sprintf(text + strlen(text), "%d ", in.sequence);
        }
    }
}

/* Frames 0 to 5 through both ways; what arrives. */
static void through(const struct transport_faults *faults, char *out, char *in) {
    uint8_t got[4096];
    size_t count = 0;
    size_t done = 0;
    start(faults);
    for (uint8_t number = 0; number < 6; number++) {
        inner.there_count += make_frame(number);
        memcpy(inner.there + inner.there_count - make_frame(number), frame, make_frame(number));
    }
    while (count < sizeof got && transport.receive(transport.state, got + count, 7, 2000, &done) == IO_OK) {
        count += done;
    }
    for (uint8_t number = 0; number < 6; number++) {
        send_number(number);
    }
    numbers(got, count, in);
    numbers(inner.sent, inner.sent_count, out);
    stop();
}

static void arrives(const struct transport_faults *faults, const char *wanted) {
    char out[400];
    char in[400];
    through(faults, out, in);
    assert_string_equal(out, wanted);
    assert_string_equal(in, wanted);
}

static void no_fault(void **unused) {
    (void)unused;
    arrives(&(struct transport_faults){.seed = 7}, "0 1 2 3 4 5 ");
}

static void each_fault_for_sure(void **unused) {
    (void)unused;
    arrives(&(struct transport_faults){.seed = 7, .drop = 1}, "");
    arrives(&(struct transport_faults){.seed = 7, .flip = 1}, "");
    arrives(&(struct transport_faults){.seed = 7, .cut = 1}, "");
    arrives(&(struct transport_faults){.seed = 7, .twice = 1}, "0 0 1 1 2 2 3 3 4 4 5 5 ");
    arrives(&(struct transport_faults){.seed = 7, .reorder = 1}, "1 0 3 2 5 4 ");
}

static void a_stall_holds_up_both_ways(void **unused) {
    const struct transport_faults faults = {.seed = 3, .stall = 1, .stall_ms_max = 500};
    size_t done = 0;
    (void)unused;
    start(&faults);
    assert_int_equal(send_number(1), IO_OK);
    const uint64_t before = inner.now_us;
    assert_int_equal(transport.send(transport.state, frame, make_frame(2), 0, &done), IO_TIMEOUT);
    assert_int_equal(done, 0);
    assert_int_equal(send_number(2), IO_OK);
    assert_in_range(inner.now_us - before, 1, 500000);
    stop();
}

static void unplugged_until_it_is_back(void **unused) {
    const struct transport_faults faults = {.seed = 5, .unplug = 1, .stall_ms_max = 400};
    size_t done = 0;
    (void)unused;
    start(&faults);
    assert_int_equal(send_number(1), IO_LOST);
    assert_int_equal(inner.sent_count, 0);
    assert_int_equal(transport.receive(transport.state, frame, sizeof frame, 10, &done), IO_LOST);
    assert_false(transport.reopen(transport.state, 0, &problem));
    assert_true(transport.reopen(transport.state, 400, &problem));
    assert_int_equal(transport.receive(transport.state, frame, sizeof frame, 10, &done), IO_TIMEOUT);
    stop();
}

static uint32_t log_crc;

static void keep_log(void *user, char direction, const uint8_t *bytes, size_t count) {
    (void)user;
    log_crc = frame_crc(frame_crc(log_crc, (const uint8_t *)&direction, 1), bytes, count);
}

static uint32_t log_of(uint64_t seed) {
    const struct transport_faults faults = {.seed = seed,
                                            .drop = 0.3,
                                            .flip = 0.3,
                                            .cut = 0.3,
                                            .twice = 0.3,
                                            .reorder = 0.3,
                                            .stall = 0.3,
                                            .stall_ms_max = 100,
                                            .log = keep_log};
    char out[400];
    char in[400];
    log_crc = 0;
    through(&faults, out, in);
    return log_crc;
}

static void a_seed_gives_the_same_again(void **unused) {
    (void)unused;
    int different = 0;
    for (uint64_t seed = 0; seed < 100; seed++) {
        const uint32_t first = log_of(seed);
        assert_int_equal(log_of(seed), first);
        different += log_of(seed + 1) != first;
    }
    assert_true(different > 95);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_fault),
        cmocka_unit_test(each_fault_for_sure),
        cmocka_unit_test(a_stall_holds_up_both_ways),
        cmocka_unit_test(unplugged_until_it_is_back),
        cmocka_unit_test(a_seed_gives_the_same_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
