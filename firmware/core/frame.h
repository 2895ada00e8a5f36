/* Frames of the wire (slotjig/wire.h): COBS, CRC-32, and a decoder that is fed as bytes come. Both ends use
 * it. */
#ifndef SLOTJIG_CORE_FRAME_H
#define SLOTJIG_CORE_FRAME_H

#include "slotjig/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* CRC-32 as zlib's crc32(): start with 0, go on with what came out. */
uint32_t frame_crc(uint32_t crc, const uint8_t *bytes, size_t count);

/* Writes a whole frame, its 0x00 included, to `wire` (WIRE_FRAME_MAX bytes) and returns its length. count is
 * at most WIRE_PAYLOAD_MAX; more gives 0. payload may be NULL when count is 0. */
size_t frame_encode(uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count, uint8_t *wire);

struct frame_in {
    uint8_t type, sequence;
    const uint8_t *payload; /* into the decoder; good until it is fed again */
    size_t count;
};

struct frame_decoder {
    uint8_t plain[WIRE_PLAIN_MAX];
    size_t length; /* of plain */
    uint8_t left;  /* bytes of the COBS group still to come */
    bool zero_due; /* the group ends with a zero, if another follows */
    bool started;  /* a byte of this frame has come */
    bool spoilt;   /* too long or malformed: skip to the next 0x00 */
    uint32_t bad;  /* frames dropped since frame_start() */
};

void frame_start(struct frame_decoder *decoder);
/* One byte. True when it completed a good frame, which is then in *in. */
bool frame_feed(struct frame_decoder *decoder, uint8_t byte, struct frame_in *in);

#endif
