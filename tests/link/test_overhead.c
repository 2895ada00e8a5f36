/* What a push costs on the wire beyond the image, counted on the transport and not by the client. */
#include "core/frame.h"
#include "link/link.h"
#include "link/transports.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* ---- a meter around a transport ---- */

struct meter {
    struct transport inner;
    struct frame_decoder out, in;
    bool running;
    uint64_t moved_out, moved_in; /* BEGIN's first byte to the last of COMMIT's reply */
    uint64_t total;               /* since the meter was made */
};

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct meter *meter = state;
    struct frame_in frame;
    const enum io result = meter->inner.send(meter->inner.state, bytes, count, timeout_ms, done);
    for (size_t i = 0; i < *done; i++) {
        /* A frame is sent by one call, so BEGIN's bytes are those of this one. */
        if (frame_feed(&meter->out, bytes[i], &frame) && frame.type == WIRE_BEGIN) {
            meter->running = true;
        }
    }
    meter->moved_out += meter->running ? *done : 0;
    meter->total += *done;
    return result;
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct meter *meter = state;
    struct frame_in frame;
    const enum io result = meter->inner.receive(meter->inner.state, bytes, size, timeout_ms, done);
    for (size_t i = 0; i < *done; i++) {
        meter->moved_in += meter->running;
        if (frame_feed(&meter->in, bytes[i], &frame) && frame.type == (WIRE_COMMIT | WIRE_REPLY)) {
            meter->running = false;
        }
    }
    meter->total += *done;
    return result;
}

static uint64_t now_us(void *state) {
    struct meter *meter = state;
    return meter->inner.now_us(meter->inner.state);
}

static void close_nothing(void *state) {
    (void)state;
}

/* ---- pushes ---- */

static struct rig rig;
static struct meter meter;
static struct link *link;
static struct problem problem;
static uint8_t image[WIRE_IMAGE_MAX];

static void start(uint32_t erase_us, uint32_t program_us) {
    rig_prepare(&rig);
    rig.options.erase_us = erase_us;
    rig.options.program_us = program_us;
    rig.board = virtual_board_new(&rig.options, &problem);
    memset(&meter, 0, sizeof meter);
    frame_start(&meter.out);
    frame_start(&meter.in);
    transport_virtual(rig.board, &meter.inner, &problem);
    const struct transport transport = {.state = &meter,
                                        .name = "virtual",
                                        .send = send_bytes,
                                        .receive = receive_bytes,
                                        .reopen = NULL, /* nothing is lost here */
                                        .now_us = now_us,
                                        .close = close_nothing};
    if (!link_open(&transport, NULL, &link, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static void stop(void) {
    link_close(link);
    virtual_board_free(rig.board);
}

static struct link_push push(size_t size) {
    struct link_push done;
    struct link_image what = {.bytes = image, .size = size};
    assert_true(link_scheme(size, &what.scheme));
    meter.moved_out = meter.moved_in = 0;
    const uint64_t before = meter.total;
    if (!link_push(link, &what, &done, &problem)) {
        fail_msg("%s", problem.text);
    }
    assert_int_equal(done.bytes_out, meter.moved_out);
    assert_int_equal(done.bytes_in, meter.moved_in);
    assert_int_equal(done.bytes_out + done.bytes_in + done.compare_out + done.compare_in + done.verify_out +
                         done.verify_in,
                     meter.total - before);
    assert_true(rig_serves(&rig, image, size));
    return done;
}

/* Random bytes; bytes that COBS can shorten nowhere; and nothing but zeroes. */
static void fill(int kind, size_t size) {
    uint32_t seed = 99;
    for (size_t i = 0; i < size; i++) {
        seed = seed * 1664525u + 1013904223u;
        image[i] = kind == 0 ? (uint8_t)(seed >> 24) : kind == 1 ? (uint8_t)(1 + (seed >> 24) % 255) : 0;
    }
}

static void overhead_of(size_t size, double most) {
    for (int kind = 0; kind < 3; kind++) {
        start(0, 0);
        fill(kind, size);
        const struct link_push done = push(size);
        const double moved = (double)(done.bytes_out + done.bytes_in);
        const double beyond = (moved - (double)size) / (double)size;
        print_message("    %zu bytes: %.0f moved, %.2f %% more\n", size, moved, 100 * beyond);
        assert_true(beyond <= most);
        assert_int_equal(done.retries, 0);
        stop();
    }
}

static void overhead(void **unused) {
    (void)unused;
    overhead_of(4096, 0.03);
    overhead_of(WIRE_IMAGE_MAX, 0.02);
}

static void one_byte_changed(void **unused) {
    (void)unused;
    static const size_t places[] = {0, 1023, 1024, 16000, 32767};
    start(0, 0);
    fill(0, sizeof image);
    push(sizeof image);
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        image[places[i]] ^= 0x40;
        const struct link_push done = push(sizeof image);
        const uint64_t moved = done.bytes_out + done.bytes_in + done.compare_out + done.compare_in;
        print_message("    one byte at %zu: %llu bytes moved (%.2f %% of the image), comparing among them\n",
                      places[i], (unsigned long long)moved, 100.0 * (double)moved / sizeof image);
        assert_true((double)moved < 0.05 * sizeof image);
        assert_int_equal(done.sent, 1);
    }
    stop();
}

/* Flash that takes its data sheet's longest time makes a push slow, never repeat itself: 400 ms a sector's
 * erase, 3 ms a page (typical SPI NOR maxima, from memory). */
static void slow_flash_repeats_no_block(void **unused) {
    (void)unused;
    start(400000, 3000);
    fill(0, sizeof image);
    const struct link_push done = push(sizeof image);
    assert_int_equal(done.sent, 32);
    image[5] ^= 1;
    assert_int_equal(push(sizeof image).sent, 1);
    stop();
}

/* A console that is given a value each field, 60 a second, told of in so many messages. A message of n values
 * and its reply are 2 + 6 + 3n + 4 and 2 + 11 + 4 bytes in frames of one byte of COBS (below 254) and one
 * zero [A]; the line is 115,200 baud, ten bits a byte. */
static void values_for_a_second(void **unused) {
    (void)unused;
    enum { A_SECOND = 60, LINE = 11520 };
    static const uint32_t messages[] = {1, 4, 15, 60};
    static uint32_t values[A_SECOND];
    struct link_queue queue;
    start(0, 0);
    for (uint32_t i = 0; i < A_SECOND; i++) {
        values[i] = i * 0x040404U;
    }
    for (uint8_t i = 0; i < sizeof messages / sizeof messages[0]; i++) {
        const uint32_t each = A_SECOND / messages[i];
        const uint64_t before = meter.total;
        for (uint32_t first = 0; first < A_SECOND; first += each) {
            assert_true(link_values(link, i, first, values + first, each, &queue, &problem));
            assert_int_equal(queue.next, first + each);
        }
        const uint64_t moved = meter.total - before;
        print_message("    60 values in %u messages: %llu bytes, %.1f %% of a line's second\n", messages[i],
                      (unsigned long long)moved, 100.0 * (double)moved / LINE);
        assert_int_equal(moved, messages[i] * (2 + 6 + 4 + 2 + 2 + 11 + 4 + 2) + 3 * A_SECOND);
        assert_true(moved < LINE / 4);
    }
    stop();
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(overhead),
        cmocka_unit_test(one_byte_changed),
        cmocka_unit_test(slow_flash_repeats_no_block),
        cmocka_unit_test(values_for_a_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
