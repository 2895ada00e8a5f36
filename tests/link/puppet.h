/*
 * A board that says whatever a test wants, behind a transport in memory with a clock of its own. It answers
 * like a board that holds nothing and takes everything, except where the test's own answer goes before.
 */
#ifndef SLOTJIG_TESTS_LINK_PUPPET_H
#define SLOTJIG_TESTS_LINK_PUPPET_H

#include "core/frame.h"
#include "link/transport.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct puppet {
    /* True: the test has answered (or means silence). May be NULL. */
    bool (*answer)(struct puppet *puppet, const struct frame_in *in);
    int (*reopened)(struct puppet *puppet); /* ms that coming back takes, or -1: does not; NULL: at once */
    uint8_t serial[WIRE_SERIAL];
    bool lost;        /* set it to lose the transport */
    uint64_t busy_us; /* nothing is received for so long; a test adds to it */
    /* What came. */
    int asked[256]; /* by type */
    uint8_t blocks; /* of the push under way */
    uint32_t have;
    uint32_t crc, generation;
    uint8_t kib, scheme, flags;
    bool committed;
    uint8_t image[WIRE_IMAGE_MAX];
    /* inside */
    uint64_t now_us;
    struct frame_decoder decoder;
    uint8_t out[1 << 16];
    size_t out_at, out_count;
    int seen; /* for a test's own use */
};

void puppet_start(struct puppet *puppet, struct transport *transport);
void puppet_reply(struct puppet *puppet, uint8_t type, uint8_t sequence, const uint8_t *payload,
                  size_t count);
void puppet_say(struct puppet *puppet, const uint8_t *bytes, size_t count);

#endif
