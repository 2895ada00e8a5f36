/* The few byte helpers the core needs: it is built where there is no C library. */
#ifndef SLOTJIG_CORE_BYTES_H
#define SLOTJIG_CORE_BYTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

static inline void bytes_copy(uint8_t *to, const uint8_t *from, size_t count) {
    for (size_t i = 0; i < count; i++) {
        to[i] = from[i];
    }
}

static inline void bytes_fill(uint8_t *to, uint8_t value, size_t count) {
    for (size_t i = 0; i < count; i++) {
        to[i] = value;
    }
}

static inline bool bytes_equal(const uint8_t *a, const uint8_t *b, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (a[i] != b[i]) {
            return false;
        }
    }
    return true;
}

/* Little endian. */
static inline uint16_t get16(const uint8_t *at) {
    return (uint16_t)(at[0] | at[1] << 8);
}

static inline uint32_t get32(const uint8_t *at) {
    return (uint32_t)get16(at) | (uint32_t)get16(at + 2) << 16;
}

static inline void put16(uint8_t *at, uint16_t value) {
    at[0] = (uint8_t)value;
    at[1] = (uint8_t)(value >> 8);
}

static inline void put32(uint8_t *at, uint32_t value) {
    put16(at, (uint16_t)value);
    put16(at + 2, (uint16_t)(value >> 16));
}

#endif
