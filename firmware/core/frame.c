/* COBS and CRC-32, both a byte at a time: neither end holds a frame twice. */
#include "core/frame.h"

#include "core/bytes.h"

enum { PLAIN_MIN = 2 + 4, COBS_FULL = 0xFF };

/* CRC-32 of the sixteen half bytes. */
static const uint32_t crc_steps[16] = {
    0x00000000, 0x1DB71064, 0x3B6E20C8, 0x26D930AC, 0x76DC4190, 0x6B6B51F4, 0x4DB26158, 0x5005713C,
    0xEDB88320, 0xF00F9344, 0xD6D6A3E8, 0xCB61B38C, 0x9B64C2B0, 0x86D3D2D4, 0xA00AE278, 0xBDBDF21C,
};

uint32_t frame_crc(uint32_t crc, const uint8_t *bytes, size_t count) {
    crc = ~crc;
    for (size_t i = 0; i < count; i++) {
        crc ^= bytes[i];
        crc = crc >> 4 ^ crc_steps[crc & 15];
        crc = crc >> 4 ^ crc_steps[crc & 15];
    }
    return ~crc;
}

/* The group under way starts at `code`; its length is written there when it ends. */
struct stuffing {
    uint8_t *wire;
    size_t code, length;
    bool full; /* the last group was full: it stands for no zero, and the next one opens only for a byte */
};

static void open_group(struct stuffing *out) {
    out->code = out->length++;
}

static void close_group(struct stuffing *out) {
    out->wire[out->code] = (uint8_t)(out->length - out->code);
}

static void stuff(struct stuffing *out, const uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (out->full) {
            open_group(out);
            out->full = false;
        }
        if (bytes[i] == 0) {
            close_group(out);
            open_group(out);
            continue;
        }
        out->wire[out->length++] = bytes[i];
        if (out->length - out->code == COBS_FULL) {
            close_group(out);
            out->full = true;
        }
    }
}

size_t frame_encode(uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count, uint8_t *wire) {
    if (count > WIRE_PAYLOAD_MAX) {
        return 0;
    }
    uint8_t head[2] = {type, sequence}, tail[4];
    put32(tail, frame_crc(frame_crc(0, head, sizeof head), payload, count));
    struct stuffing out = {.wire = wire};
    open_group(&out);
    stuff(&out, head, sizeof head);
    stuff(&out, payload, count);
    stuff(&out, tail, sizeof tail);
    if (!out.full) {
        close_group(&out);
    }
    wire[out.length++] = 0;
    return out.length;
}

static void next_frame(struct frame_decoder *decoder) {
    decoder->length = 0;
    decoder->left = 0;
    decoder->zero_due = false;
    decoder->started = false;
    decoder->spoilt = false;
}

void frame_start(struct frame_decoder *decoder) {
    next_frame(decoder);
    decoder->bad = 0;
}

static void keep(struct frame_decoder *decoder, uint8_t byte) {
    if (decoder->length < sizeof decoder->plain) {
        decoder->plain[decoder->length++] = byte;
    } else {
        decoder->spoilt = true;
    }
}

static bool whole(const struct frame_decoder *decoder) {
    if (decoder->spoilt || decoder->left != 0 || decoder->length < PLAIN_MIN) {
        return false;
    }
    size_t covered = decoder->length - 4;
    return frame_crc(0, decoder->plain, covered) == get32(decoder->plain + covered);
}

static bool end_frame(struct frame_decoder *decoder, struct frame_in *in) {
    bool started = decoder->started, good = started && whole(decoder);
    if (good) {
        in->type = decoder->plain[0];
        in->sequence = decoder->plain[1];
        in->payload = decoder->plain + 2;
        in->count = decoder->length - PLAIN_MIN;
    } else if (started) {
        decoder->bad++;
    }
    next_frame(decoder);
    return good;
}

bool frame_feed(struct frame_decoder *decoder, uint8_t byte, struct frame_in *in) {
    if (byte == 0) {
        return end_frame(decoder, in);
    }
    decoder->started = true;
    if (decoder->spoilt) {
        return false;
    }
    if (decoder->left > 0) {
        decoder->left--;
        keep(decoder, byte);
        return false;
    }
    if (decoder->zero_due) {
        keep(decoder, 0);
    }
    decoder->left = (uint8_t)(byte - 1);
    decoder->zero_due = byte != COBS_FULL;
    return false;
}
