#include "link/puppet.h"

#include "core/bytes.h"

#include <string.h>

void puppet_say(struct puppet *puppet, const uint8_t *bytes, size_t count) {
    if (puppet->out_at == puppet->out_count) {
        puppet->out_at = puppet->out_count = 0;
    }
    if (puppet->out_count + count <= sizeof puppet->out) {
        memcpy(puppet->out + puppet->out_count, bytes, count);
        puppet->out_count += count;
    }
}

void puppet_reply(struct puppet *puppet, uint8_t type, uint8_t sequence, const uint8_t *payload,
                  size_t count) {
    uint8_t wire[WIRE_FRAME_MAX];
    puppet_say(puppet, wire, frame_encode(type, sequence, payload, count, wire));
}

/* ---- a plain board ---- */

static size_t hello(struct puppet *puppet, uint8_t *reply) {
    reply[1] = WIRE_VERSION;
    put32(reply + 4, WIRE_CAN_BANKS | WIRE_CAN_KEEP | WIRE_CAN_RAM);
    put16(reply + 8, WIRE_PAYLOAD_MAX);
    put16(reply + 10, WIRE_BLOCK);
    reply[12] = WIRE_WINDOW;
    put32(reply + 13, WIRE_IMAGE_MAX);
    memcpy(reply + 17, puppet->serial, WIRE_SERIAL);
    return 25;
}

static size_t begin(struct puppet *puppet, const uint8_t *payload, uint8_t *reply) {
    puppet->crc = get32(payload);
    puppet->kib = puppet->blocks = payload[4];
    puppet->scheme = payload[5];
    puppet->flags = payload[6];
    puppet->have |= get32(payload + 7);
    put32(reply + 1, puppet->have);
    reply[5] = WIRE_WINDOW;
    return 6;
}

static size_t data(struct puppet *puppet, const struct frame_in *in, uint8_t *reply) {
    if (in->sequence < WIRE_BLOCKS_MAX && in->count == WIRE_BLOCK) {
        memcpy(puppet->image + (size_t)in->sequence * WIRE_BLOCK, in->payload, WIRE_BLOCK);
        puppet->have |= (uint32_t)1 << in->sequence;
    }
    reply[1] = 0;
    while (reply[1] < puppet->blocks && (puppet->have >> reply[1] & 1) != 0) {
        reply[1]++;
    }
    return 2;
}

static size_t commit(struct puppet *puppet) {
    puppet->committed = true;
    puppet->generation++;
    puppet->have = 0;
    return 1;
}

static size_t status(const struct puppet *puppet, uint8_t *reply) {
    memset(reply + 1, 0, 24);
    reply[1] = puppet->committed ? WIRE_SERVING : WIRE_IDLE;
    if (puppet->committed) {
        put32(reply + 2, puppet->generation);
        put32(reply + 6, puppet->crc);
        reply[10] = puppet->kib;
        reply[11] = puppet->scheme;
        reply[12] = puppet->flags;
    }
    return 25;
}

static size_t read_back(const struct puppet *puppet, const uint8_t *payload, uint8_t *reply) {
    const size_t count = get16(payload + 4);
    memcpy(reply + 1, puppet->image + get32(payload) % WIRE_IMAGE_MAX, count);
    return 1 + count;
}

static size_t sums(const struct puppet *puppet, uint8_t *reply) {
    for (size_t i = 0; i < puppet->kib; i++) {
        put32(reply + 1 + 4 * i, frame_crc(0, puppet->image + i * WIRE_BLOCK, WIRE_BLOCK));
    }
    return 1 + 4 * (size_t)puppet->kib;
}

static void answer_plainly(struct puppet *puppet, const struct frame_in *in) {
    uint8_t reply[WIRE_PAYLOAD_MAX] = {WIRE_OK};
    size_t count = 1;
    switch (in->type) {
    case WIRE_HELLO:
        count = hello(puppet, reply);
        break;
    case WIRE_BEGIN:
        count = begin(puppet, in->payload, reply);
        break;
    case WIRE_DATA:
        count = data(puppet, in, reply);
        break;
    case WIRE_COMMIT:
        count = commit(puppet);
        break;
    case WIRE_STATUS:
        count = status(puppet, reply);
        break;
    case WIRE_READ:
        count = read_back(puppet, in->payload, reply);
        break;
    case WIRE_SUMS:
        count = sums(puppet, reply);
        break;
    default:
        break;
    }
    puppet_reply(puppet, in->type | WIRE_REPLY, in->sequence, reply, count);
}

/* ---- the transport ---- */

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct puppet *puppet = state;
    struct frame_in in;
    (void)timeout_ms;
    *done = 0;
    for (size_t i = 0; i < count && !puppet->lost; i++) {
        if (frame_feed(&puppet->decoder, bytes[i], &in)) {
            puppet->asked[in.type]++;
            if (puppet->answer == NULL || !puppet->answer(puppet, &in)) {
                answer_plainly(puppet, &in);
            }
        }
    }
    if (puppet->lost) {
        return IO_LOST;
    }
    *done = count;
    return IO_OK;
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct puppet *puppet = state;
    const uint64_t most_us = (uint64_t)timeout_ms * 1000;
    const uint64_t busy_us = puppet->busy_us < most_us ? puppet->busy_us : most_us;
    const size_t there = puppet->busy_us > busy_us ? 0 : puppet->out_count - puppet->out_at;
    *done = there < size ? there : size;
    memcpy(bytes, puppet->out + puppet->out_at, *done);
    puppet->out_at += *done;
    puppet->busy_us -= busy_us;
    puppet->now_us += *done > 0 ? busy_us : most_us;
    return puppet->lost ? IO_LOST : *done > 0 ? IO_OK : IO_TIMEOUT;
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    struct puppet *puppet = state;
    const int ms = puppet->reopened != NULL ? puppet->reopened(puppet) : 0;
    if (ms < 0 || ms > timeout_ms) {
        puppet->now_us += (uint64_t)timeout_ms * 1000;
        return problem_set(problem, PROBLEM_BENCH, "the puppet stays away");
    }
    puppet->now_us += (uint64_t)ms * 1000;
    puppet->lost = false;
    puppet->out_at = puppet->out_count = 0;
    frame_start(&puppet->decoder);
    return true;
}

static uint64_t now_us(void *state) {
    const struct puppet *puppet = state;
    return puppet->now_us;
}

static void close_nothing(void *state) {
    (void)state;
}

void puppet_start(struct puppet *puppet, struct transport *transport) {
    memset(puppet, 0, sizeof *puppet);
    frame_start(&puppet->decoder);
    *transport = (struct transport){
        .state = puppet,
        .name = "puppet",
        .send = send_bytes,
        .receive = receive_bytes,
        .reopen = reopen,
        .now_us = now_us,
        .close = close_nothing,
    };
}
