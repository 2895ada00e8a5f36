/* Talks to a virtual board in frames, one question at a time, without the host's client. */
#ifndef TESTS_CORE_TALK_H
#define TESTS_CORE_TALK_H

#include "core/frame.h"
#include "virtual/board.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct talk {
    struct virtual_board *board;
    struct frame_decoder decoder;
    uint8_t sequence; /* of the next question */
    uint64_t out, in; /* bytes on the wire */
    /* The last reply. */
    bool answered;
    uint8_t type, answer_sequence;
    uint8_t payload[WIRE_PAYLOAD_MAX];
    size_t count;
    int logs; /* lines of log seen */
};

void talk_start(struct talk *talk, struct virtual_board *board);
/* Sends a frame and waits for nothing. */
void talk_send(struct talk *talk, uint8_t type, uint8_t sequence, const uint8_t *payload, size_t count);
/* Waits at most wait_ms of the board's time for a frame that is no line of log. */
bool talk_hear(struct talk *talk, int wait_ms);
/* Both; returns the reply's first byte, or -1 where none came within a minute of the board's time. */
int talk_ask(struct talk *talk, uint8_t type, const uint8_t *payload, size_t count);

/* One image as WIRE_BEGIN has it. */
struct talk_image {
    const uint8_t *bytes;
    uint8_t kib, scheme, flags;
};
int talk_begin(struct talk *talk, const struct talk_image *image, uint32_t keep);
/* Sends one block and takes the answers that are there. */
void talk_block(struct talk *talk, const struct talk_image *image, uint8_t block);
/* All of a push. Returns WIRE_COMMIT's status, or that of what failed before. */
int talk_push(struct talk *talk, const struct talk_image *image, uint32_t keep);
/* The board's image against this one: through WIRE_STATUS and WIRE_READ. */
bool talk_holds(struct talk *talk, const struct talk_image *image);

/* Bytes from a seed. */
void talk_fill(uint8_t *bytes, size_t count, uint64_t seed);

#endif
