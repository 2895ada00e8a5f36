#include "core/talk.h"

#include "core/bytes.h"

#include <string.h>

enum { LONGEST_MS = 60000, TAKE = 256 };

void talk_start(struct talk *talk, struct virtual_board *board) {
    *talk = (struct talk){.board = board};
    frame_start(&talk->decoder);
}

void talk_send(struct talk *talk, uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count) {
    uint8_t wire[WIRE_FRAME_MAX];
    size_t length = frame_encode(type, sequence, payload, count, wire);
    talk->out += length;
    virtual_board_receive(talk->board, wire, length);
}

static void keep_reply(struct talk *talk, const struct frame_in *in) {
    if (in->type == WIRE_LOG) {
        talk->logs++;
        return;
    }
    talk->answered = true;
    talk->type = in->type;
    talk->answer_sequence = in->sequence;
    talk->count = in->count;
    memcpy(talk->payload, in->payload, in->count);
}

/* One reply at most, so that none is lost. */
static void take(struct talk *talk) {
    uint8_t byte;
    struct frame_in in;
    while (!talk->answered && virtual_board_take(talk->board, &byte, 1) == 1) {
        talk->in++;
        if (frame_feed(&talk->decoder, byte, &in)) {
            keep_reply(talk, &in);
        }
    }
}

bool talk_hear(struct talk *talk, int wait_ms) {
    talk->answered = false;
    take(talk);
    for (int ms = 0; ms < wait_ms && !talk->answered && !virtual_board_dead(talk->board); ms++) {
        virtual_board_advance(talk->board, 1000);
        take(talk);
    }
    return talk->answered;
}

int talk_ask(struct talk *talk, uint8_t type, const uint8_t *payload, size_t count) {
    uint8_t sequence = talk->sequence++;
    talk_send(talk, type, sequence, payload, count);
    while (talk_hear(talk, LONGEST_MS)) {
        if (talk->answer_sequence == sequence &&
            (talk->type == (type | WIRE_REPLY) || talk->type == WIRE_ERROR)) {
            return talk->payload[0];
        }
    }
    return -1;
}

int talk_begin(struct talk *talk, const struct talk_image *image, uint32_t keep) {
    uint8_t ask[11];
    put32(ask, frame_crc(0, image->bytes, (size_t)image->kib * 1024));
    ask[4] = image->kib;
    ask[5] = image->scheme;
    ask[6] = image->flags;
    put32(ask + 7, keep);
    return talk_ask(talk, WIRE_BEGIN, ask, sizeof ask);
}

void talk_block(struct talk *talk, const struct talk_image *image, uint8_t block) {
    talk_send(talk, WIRE_DATA, block, image->bytes + (size_t)block * WIRE_BLOCK, WIRE_BLOCK);
}

int talk_push(struct talk *talk, const struct talk_image *image, uint32_t keep) {
    int status = talk_begin(talk, image, keep);
    if (status != WIRE_OK) {
        return status;
    }
    uint32_t have = get32(talk->payload + 1);
    for (uint8_t block = 0; block < image->kib; block++) {
        if (!(have >> block & 1)) {
            talk_block(talk, image, block);
        }
    }
    return talk_ask(talk, WIRE_COMMIT, NULL, 0);
}

bool talk_holds(struct talk *talk, const struct talk_image *image) {
    if (talk_ask(talk, WIRE_STATUS, NULL, 0) != WIRE_OK || talk->payload[10] != image->kib ||
        talk->payload[11] != image->scheme || talk->payload[12] != image->flags ||
        get32(talk->payload + 6) != frame_crc(0, image->bytes, (size_t)image->kib * 1024)) {
        return false;
    }
    for (uint32_t at = 0; at < image->kib * 1024U; at += WIRE_BLOCK) {
        uint8_t ask[6];
        put32(ask, at);
        put16(ask + 4, WIRE_BLOCK);
        if (talk_ask(talk, WIRE_READ, ask, sizeof ask) != WIRE_OK || talk->count != 1 + WIRE_BLOCK ||
            memcmp(talk->payload + 1, image->bytes + at, WIRE_BLOCK) != 0) {
            return false;
        }
    }
    return true;
}

void talk_fill(uint8_t *bytes, size_t count, uint64_t seed) {
    for (size_t i = 0; i < count; i++) {
        seed = seed * 6364136223846793005U + 1442695040888963407U;
        bytes[i] = (uint8_t)(seed >> 56);
    }
}
