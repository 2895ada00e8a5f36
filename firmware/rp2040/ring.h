/* Bytes from one writer to one reader, one of which may be an interrupt. */
#ifndef SLOTJIG_RP2040_RING_H
#define SLOTJIG_RP2040_RING_H

#include <stddef.h>
#include <stdint.h>

enum { RING_BYTES = 2048 };

struct ring {
    volatile uint32_t put, taken; /* ever; they wrap */
    uint8_t bytes[RING_BYTES];
};

static inline size_t ring_used(const struct ring *ring) {
    return ring->put - ring->taken;
}

static inline size_t ring_room(const struct ring *ring) {
    return RING_BYTES - ring_used(ring);
}

static inline void ring_empty(struct ring *ring) {
    ring->taken = ring->put;
}

/* count: at most ring_room() or ring_used(). Volatile bytes: the other side may be the USB controller's RAM.
 */
static inline void ring_put(struct ring *ring, const volatile uint8_t *bytes, size_t count) {
    uint32_t put = ring->put;
    for (size_t i = 0; i < count; i++) {
        ring->bytes[put++ % RING_BYTES] = bytes[i];
    }
    ring->put = put;
}

static inline void ring_take(struct ring *ring, volatile uint8_t *bytes, size_t count) {
    uint32_t taken = ring->taken;
    for (size_t i = 0; i < count; i++) {
        bytes[i] = ring->bytes[taken++ % RING_BYTES];
    }
    ring->taken = taken;
}

/* The used bytes that lie in one piece. */
static inline const uint8_t *ring_piece(const struct ring *ring, size_t *count) {
    size_t at = ring->taken % RING_BYTES, used = ring_used(ring);
    *count = used < RING_BYTES - at ? used : RING_BYTES - at;
    return ring->bytes + at;
}

#endif
