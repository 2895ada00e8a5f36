#include "link/probe.h"

#include "core/frame.h"

#include <stdio.h>
#include <string.h>

enum {
    TRIES = 2,
    WAIT_MS = 150, /* for one answer; a board answers hello within a few */
    HELLO_SAID = 1 + 1 + 2 + 4 + 2 + 2 + 1 + 4 + WIRE_SERIAL
};

static void read_facts(const struct frame_in *in, struct probe_facts *facts) {
    if (in->count < HELLO_SAID) {
        return;
    }
    facts->version = in->payload[1];
    facts->firmware_minor = in->payload[2];
    facts->firmware_major = in->payload[3];
    for (int i = 0; i < WIRE_SERIAL; i++) {
        snprintf(facts->serial + 2 * i, 3, "%02X", in->payload[HELLO_SAID - WIRE_SERIAL + i]);
    }
}

/* True: the frame settles it. */
static bool settles(const struct frame_in *in, struct probe_facts *facts, enum probe *found) {
    if (in->type == WIRE_ERROR) {
        *found = PROBE_OTHER_VERSION; /* a board that does not even know this hello */
        return true;
    }
    if (in->type != (WIRE_HELLO | WIRE_REPLY) || in->count < 1) {
        return false;
    }
    read_facts(in, facts);
    *found = in->payload[0] == WIRE_OK && facts->version == WIRE_VERSION ? PROBE_GOOD : PROBE_OTHER_VERSION;
    return true;
}

static bool listen(const struct transport *transport, struct frame_decoder *decoder,
                   struct probe_facts *facts, enum probe *found) {
    uint64_t deadline = transport->now_us(transport->state) + WAIT_MS * 1000;
    for (uint64_t now; (now = transport->now_us(transport->state)) < deadline;) {
        uint8_t bytes[WIRE_FRAME_MAX];
        size_t count = 0;
        int left_ms = (int)((deadline - now) / 1000) + 1;
        if (transport->receive(transport->state, bytes, sizeof bytes, left_ms, &count) == IO_LOST) {
            return false;
        }
        for (size_t i = 0; i < count; i++) {
            struct frame_in in;
            if (frame_feed(decoder, bytes[i], &in) && settles(&in, facts, found)) {
                return true;
            }
        }
    }
    return false;
}

enum probe probe_hello(const struct transport *transport, struct probe_facts *facts) {
    static const uint8_t versions[] = {WIRE_VERSION, WIRE_VERSION};
    struct frame_decoder decoder;
    enum probe found = PROBE_SILENT;
    *facts = (struct probe_facts){-1, -1, -1, ""};
    frame_start(&decoder);
    for (int i = 0; i < TRIES; i++) {
        /* A 0x00 first ends what another program may have left half sent. */
        uint8_t wire[1 + WIRE_FRAME_MAX] = {0};
        size_t done;
        size_t length = 1 + frame_encode(WIRE_HELLO, (uint8_t)i, versions, sizeof versions, wire + 1);
        transport->send(transport->state, wire, length, WAIT_MS, &done);
        if (listen(transport, &decoder, facts, &found)) {
            break;
        }
    }
    return found;
}
