/*
 * A kernel by hand for the console's own tests: vertical sync, then lines of WSYNC, the first 24 of the
 * picture rewriting COLUBK eight times a line as a slate does.
 */
#ifndef TESTS_VIRTUAL_KERNEL_H
#define TESTS_VIRTUAL_KERNEL_H

#include <stdint.h>
#include <string.h>

enum {
    KERNEL_SIZE = 2048,
    KERNEL_LINES = 262,
    KERNEL_FIRST = 40,
    KERNEL_SLATE_LINES = 24,
    KERNEL_WHITE = 0x0E
};

struct assembly {
    uint8_t *bytes;
    unsigned at;
};

static inline void emit(struct assembly *out, const uint8_t *bytes, unsigned count) {
    memcpy(out->bytes + out->at, bytes, count);
    out->at += count;
}
#define EMIT(out, ...) emit(out, (const uint8_t[]){__VA_ARGS__}, sizeof((const uint8_t[]){__VA_ARGS__}))

/* X times WSYNC: label STA WSYNC; DEX; BNE label. */
static inline void emit_lines(struct assembly *out, uint8_t count) {
    EMIT(out, 0xA2, count, 0x85, 0x02, 0xCA, 0xD0, 0xFB);
}

/* The slate's lines: eight times LDA zp, STA COLUBK, the first store ending with cycle 25 (beside each: the
 * cycles of the line, from 1). The line after the last leaves just time for another store to WSYNC: it ends
 * with cycle 76. */
static inline void emit_slate(struct assembly *out) {
    EMIT(out, 0xA2, KERNEL_SLATE_LINES, 0x85, 0x02); /* LDX; STA WSYNC, the label */
    for (int i = 0; i < 8; i++)
        EMIT(out, 0xEA);   /* cycles 1..16 */
    EMIT(out, 0x85, 0xFF); /* STA $FF: 17..19 */
    for (uint8_t i = 0; i < 8; i++)
        EMIT(out, 0xA5, (uint8_t)(0x80 + i), 0x85, 0x09);    /* 20..25, 26..31, ... 62..67 */
    EMIT(out, 0xCA, 0xD0, (uint8_t) - (2 + 8 + 2 + 32 + 3)); /* DEX 68..69, BNE 70..72, STA WSYNC 73..75 */
}

/* 2048 bytes at $F800. RAM $80..$87 alternate white and black. */
static inline void kernel(uint8_t image[KERNEL_SIZE]) {
    struct assembly out = {image, 0};
    memset(image, 0xEA, KERNEL_SIZE);
    EMIT(&out, 0x78, 0xD8, 0xA2, 0xFF, 0x9A); /* SEI CLD LDX #$FF TXS */
    EMIT(&out, 0xA9, KERNEL_WHITE, 0x85, 0x80, 0x85, 0x82, 0x85, 0x84, 0x85, 0x86);
    EMIT(&out, 0xA9, 0, 0x85, 0x81, 0x85, 0x83, 0x85, 0x85, 0x85, 0x87);
    EMIT(&out, 0x85, 0x09, 0x85, 0x0A, 0x85, 0x0D, 0x85, 0x0E, 0x85, 0x0F, 0x85, 0x01);
    const unsigned frame = 0xF800 + out.at;
    EMIT(&out, 0xA9, 0x02, 0x85, 0x02, 0x85, 0x00); /* WSYNC, then VSYNC on */
    emit_lines(&out, 3);
    EMIT(&out, 0xA9, 0x00, 0x85, 0x00, 0x85, 0x09); /* VSYNC off */
    emit_lines(&out, KERNEL_FIRST - 3 - 1);
    emit_slate(&out); /* its first WSYNC ends line KERNEL_FIRST - 1 */
    emit_lines(&out, KERNEL_LINES - KERNEL_FIRST - KERNEL_SLATE_LINES);
    EMIT(&out, 0x4C, (uint8_t)frame, (uint8_t)(frame >> 8));
    image[0x7FC] = 0x00;
    image[0x7FD] = 0xF8;
}

static inline uint8_t kernel_read(void *state, uint16_t address, uint8_t bus) {
    (void)bus;
    return ((const uint8_t *)state)[address & (KERNEL_SIZE - 1)];
}

#endif
