/*
 * A reader's end of the wire: whatever comes in, with the cartridge in or out, it sends only good frames with
 * statuses that exist, one answer at most to a question, and a minute after the last of them its supply is
 * off.
 *
 * The input: a byte for scheme, RAM and line faults, then actions, see act(). Missing bytes are 0.
 */
#include "core/bytes.h"
#include "core/frame.h"
#include "fuzz/fuzz.h"
#include "virtual/reader.h"

#include <stdlib.h>
#include <string.h>

enum { ACTIONS_MAX = 60, SILENT_MS = 61000, TURN_MS = 50 };

static struct run {
    const uint8_t *at, *end;
    struct virtual_reader *reader;
    struct transport wire;
    struct frame_decoder decoder;
    uint8_t last[WIRE_PAYLOAD_MAX];
    int last_type;
} run;
static struct cart_model cartridge;
static uint8_t image[WIRE_IMAGE_MAX];

static void must(bool truth) {
    if (!truth) {
        abort();
    }
}

static uint8_t byte(void) {
    return run.at < run.end ? *run.at++ : 0;
}

static void take(uint8_t got) {
    struct frame_in in;
    if (!frame_feed(&run.decoder, got, &in)) {
        return;
    }
    must((in.type & WIRE_REPLY) && in.count > 0);
    must(in.type == WIRE_LOG ? in.payload[0] <= 2 : in.payload[0] < WIRE_STATUSES);
    if (in.type != WIRE_LOG) {
        run.last_type = in.type;
        memcpy(run.last, in.payload, in.count);
    }
}

static void listen(int ms) {
    uint8_t got[300];
    size_t done = 0;
    const uint64_t until = virtual_reader_now_us(run.reader) + (uint64_t)ms * 1000;
    while (virtual_reader_now_us(run.reader) < until) {
        run.wire.receive(run.wire.state, got, sizeof got, TURN_MS, &done);
        for (size_t i = 0; i < done; i++) {
            take(got[i]);
        }
    }
    must(run.decoder.bad == 0);
}

static void send(const uint8_t *bytes, size_t count) {
    size_t done = 0;
    run.wire.send(run.wire.state, bytes, count, TURN_MS, &done);
    must(done <= count);
}

static void send_frame(uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count) {
    uint8_t wire[WIRE_FRAME_MAX];
    send(wire, frame_encode(type, sequence, payload, count, wire));
}

static size_t some(uint8_t *payload, size_t most) {
    const size_t count = byte() % (most + 1);
    for (size_t i = 0; i < count; i++) {
        payload[i] = byte();
    }
    return count;
}

static void act(void) {
    uint8_t payload[WIRE_PAYLOAD_MAX] = {0};
    const uint8_t what = byte();
    switch (what % 8) {
    case 0: /* any bytes */
        send(payload, some(payload, 64));
        break;
    case 1: { /* any frame */
        const uint8_t type = byte(), sequence = byte();
        send_frame(type, sequence, payload, some(payload, 64));
        break;
    }
    case 2: /* any task */
        for (size_t i = 0; i < 12; i++) {
            payload[i] = byte();
        }
        send_frame(WIRE_TASK, byte(), payload, 12);
        break;
    case 3: /* its state */
        send_frame(WIRE_TASK_STATE, byte(), payload, 0);
        break;
    case 4: /* its result */
        put32(payload, (uint32_t)byte() * 1024 + byte());
        put16(payload + 4, (uint16_t)(byte() * 5));
        send_frame(WIRE_TASK_RESULT, byte(), payload, 6);
        break;
    case 5:
        payload[0] = byte();
        send_frame(WIRE_SUPPLY, byte(), payload, 1);
        break;
    case 6:
        virtual_reader_insert(run.reader, what / 8 % 2 == 0);
        break;
    default: {
        struct problem problem = {0};
        if (what / 8 % 8 == 0) {
            run.wire.reopen(run.wire.state, 0, &problem);
            frame_start(&run.decoder);
        }
        listen(byte() * 8);
        break;
    }
    }
}

/* Asked once it has been left alone: all is off, and it answers. */
static void end(void) {
    static const uint8_t nothing[1];
    send(nothing, 1); /* whatever frame was left open ends */
    listen(SILENT_MS);
    run.last_type = 0;
    send_frame(WIRE_TASK_STATE, 77, nothing, 0);
    listen(TURN_MS);
    must(run.last_type == (WIRE_TASK_STATE | WIRE_REPLY) && run.last[2] != WIRE_TASK_RUNNING);
    must(!virtual_reader_supply(run.reader));
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count) {
    struct cart_faults faults;
    struct problem problem = {0};
    run = (struct run){.at = bytes, .end = bytes + count};
    const uint8_t choice = byte();
    const int scheme = choice % 8 % WIRE_SCHEMES;
    cart_faults_none(scheme, &faults);
    faults.data_open = choice & 0x10 ? 0x21 : 0;
    faults.late_us = choice & 0x20 ? 300000 : 0;
    faults.loose_data = choice & 0x40 ? 4 : 0;
    faults.loose_rate = UINT32_MAX / 50;
    for (size_t i = 0; i < sizeof image; i++) {
        image[i] = (uint8_t)(i % 251 + i / 4096);
    }
    cart_model_init(&cartridge, scheme, (choice & 8) != 0, image, &faults, choice);
    run.reader = virtual_reader_new(&cartridge, 1, &problem);
    must(run.reader != NULL);
    virtual_reader_transport(run.reader, &run.wire);
    frame_start(&run.decoder);
    for (int i = 0; i < ACTIONS_MAX && run.at < run.end; i++) {
        act();
    }
    end();
    virtual_reader_free(run.reader);
    return 0;
}
