/*
 * The slate's layout: the band of scanlines at the top of every picture that says which image, step and field
 * it is. Host and firmware share it: a board with nothing loaded draws an idle picture with a slate of its
 * own.
 *
 * From top to bottom: SLATE_BAND_LINES lines of solid white, then SLATE_ROWS rows of SLATE_ROW_LINES lines,
 * eight bits a row, the most significant bit on the left; a 1 is white ($0E), a 0 is black ($00). Everything
 * is drawn with COLUBK; PF0..PF2 and CTRLPF are 0 and COLUPF is white meanwhile, so that a playfield bit
 * stuck high cannot disturb the white band. A row's eighth bit is 15 clocks wide where the others are 18:
 * black follows it after five cycles.
 *
 * The 56 bits, first row first, most significant bit first:
 *   16 hash      of the image (SLATE_HASH_IDLE: a board with nothing loaded)
 *   20 value     a step's number, a base, a moment, an item of a check; which follows from the plan
 *    6 counter   steps by one every field, modulo 64
 *   14 check     CRC over the 42 bits before it
 *
 * Check code: polynomial x^14 + SLATE_POLY, most significant bit first, register 0 at the start, complemented
 * at the end with SLATE_XOROUT. At 56 bits its Hamming distance is 6 (found by search over all polynomials of
 * degree 14, and checked by a test), so one to five wrong bits are always noticed, and so is every odd number
 * of them, since x + 1 divides it. Six wrong bits go unnoticed in 4,012 of 32,468,436 patterns (1.2e-4); of
 * all errors, one in 2^14 (6.1e-5) does. An all-black or all-white slate fails the check.
 */
#ifndef SLOTJIG_SLATE_H
#define SLOTJIG_SLATE_H

enum {
    SLATE_LINES = 24,     /* all of it, in scanlines */
    SLATE_BAND_LINES = 3, /* the solid band */
    SLATE_ROWS = 7,
    SLATE_ROW_LINES = 3,
    SLATE_ROW_BITS = 8,
    SLATE_BIT_CLOCKS = 18, /* LDA zp, STA zp: 6 cycles, 18 colour clocks [A] */
    SLATE_FIRST_CLOCK = 7, /* visible clock (0..159) at which the first bit of a row starts: its store ends
                              with cycle 25 [A] */
    SLATE_HASH_IDLE = 0,
    SLATE_VALUE_BITS = 20,
    SLATE_COUNTER_BITS = 6,
    SLATE_CHECK_BITS = 14,
    SLATE_POLY = 0x111F,
    SLATE_XOROUT = 0x2A5C,
    SLATE_BLACK = 0x00, /* COLUBK values; black and white on every standard [M] */
    SLATE_WHITE = 0x0E
};

#endif
