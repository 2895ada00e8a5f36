/*
 * The slate of plan `cartridge`, for few bytes: the check code is worked out bit by bit over the rows, rather
 * than from tables as slate_code.c does, and a row's lines are one piece of code.
 */
#include "rom/check_kernel.h"
#include "rom/phrases.h"
#include "rom/slate_code.h"
#include "rom/slate_lines.h"
#include "slate/slate.h"

#include <stdio.h>

enum {
    CODED_ROW = 2, /* rows from here on change from field to field: value, counter, check code */
    CODED_BITS = SLATE_VALUE_BITS + SLATE_COUNTER_BITS,
    UPPER = 16 - SLATE_CHECK_BITS, /* the code's register is kept at the upper end of 16 bits */
    RAM_LOW = RAM_ROWS + SLATE_ROWS - 1,
    BITS_A_LINE = 2,
    MIX_LINES = CODED_BITS / BITS_A_LINE,
    ALIGN_LINES = 4,
    JUMP = 3,
    /* What has no cycles to spare for a jump to the next page lies within one. */
    ALIGN_BYTES = 15,
    MIX_BYTES = 60,
    SPREAD_BYTES = 60,
    ROW_BYTES = 64,
    LAST_LINES = 18, /* from the end of the check code to the slate: some 1,360 cycles */
    FIRST_BIT = 19,  /* cycles before a row's bits: the first one's store then ends with cycle 25 */
    ROW_ENTRY = FIRST_BIT - 3
};

/* The register from which value and counter 0 lead to this hash's check code. */
static uint16_t start_of(uint16_t hash) {
    const struct slate bare = {.hash = hash};
    uint16_t code = slate_check(&bare);
    for (int bit = 0; bit < CODED_BITS; bit++) {
        code = (uint16_t)(code & 1 ? (code ^ SLATE_POLY) >> 1 | 1 << (SLATE_CHECK_BITS - 1) : code >> 1);
    }
    return (uint16_t)(code << UPPER);
}

/* The line that counts the field, then ALIGN_LINES: value and counter side by side, from bit 27 of the four
 * bytes down, then from bit 31. */
static void align(struct encoder *e, uint16_t hash) {
    zp(e, "LDA", RAM_COUNTER);
    shift(e, "ASL", 2);
    zp(e, "STA", RAM_ROWS + 5);
    for (int byte = 0; byte < 3; byte++) {
        zp(e, "LDA", RAM_VALUE + byte);
        zp(e, "STA", RAM_ROWS + 4 - byte);
    }
    set(e, hash >> 8, RAM_ROWS);
    set(e, hash & 0xFF, RAM_ROWS + 1);
    imm(e, "LDX", ALIGN_LINES);
    encode_room(e, ALIGN_BYTES);
    encode_label(e, "align");
    end_line(e);
    zp(e, "ASL", RAM_ROWS + 5);
    for (int row = 4; row >= CODED_ROW; row--) {
        zp(e, "ROL", RAM_ROWS + row);
    }
    one(e, "DEX");
    branch(e, "BNE", "align");
    end_line(e);
}

static void mix_bit(struct encoder *e, int bit) {
    char name[LABEL_MAX];
    snprintf(name, sizeof name, "mixed_%d", bit);
    zp(e, "ASL", RAM_LOW);
    encode(e, "ROL", MODE_ACCUMULATOR, 0, NULL);
    branch(e, "BCC", name);
    imm(e, "EOR", SLATE_POLY << UPPER >> 8 & 0xFF);
    one(e, "TAX");
    zp(e, "LDA", RAM_LOW);
    imm(e, "EOR", SLATE_POLY << UPPER & 0xFF);
    zp(e, "STA", RAM_LOW);
    one(e, "TXA");
    encode_label(e, name);
}

/* MIX_LINES, and another begun: the register's upper half is left in A. */
static void mix(struct encoder *e, uint16_t hash) {
    const uint16_t start = start_of(hash);
    encode_room(e, MIX_BYTES);
    imm(e, "LDX", 0);
    zp(e, "STX", RAM_WORK);
    set(e, start & 0xFF, RAM_LOW);
    imm(e, "LDA", start >> 8);
    encode_label(e, "mix_row");
    encode(e, "EOR", MODE_ZERO_X, RAM_ROWS + CODED_ROW, NULL);
    encode_to(e, "LDY", MODE_ABSOLUTE_X, "mix_lines", 0, NULL);
    zp(e, "INC", RAM_WORK);
    encode_label(e, "mix");
    for (int bit = 0; bit < BITS_A_LINE; bit++) {
        mix_bit(e, bit);
    }
    end_line(e);
    one(e, "DEY");
    branch(e, "BNE", "mix");
    zp(e, "LDX", RAM_WORK);
    imm(e, "CPX", SLATE_ROWS - 1 - CODED_ROW);
    branch(e, "BNE", "mix_row");
}

/* The same cycles whatever the rows hold, so that no line needs an end of its own. */
static void spread(struct encoder *e) {
    enum { AT_ONCE = 2 };
    imm(e, "LDY", SLATE_ROWS - 1);
    encode_label(e, "spread_row");
    one(e, "TYA");
    one(e, "TAX");
    encode(e, "LDA", MODE_ABSOLUTE_Y, RAM_ROWS, NULL);
    imm(e, "EOR", 0xFF);
    zp(e, "STA", RAM_WORK);
    encode_label(e, "spread");
    for (int bit = 0; bit < AT_ONCE; bit++) {
        slate_spread_bit(e, bit);
    }
    one(e, "TXA");
    one(e, "CLC");
    imm(e, "ADC", AT_ONCE * SLATE_ROWS);
    one(e, "TAX");
    imm(e, "CPX", SLATE_ROWS * SLATE_ROW_BITS);
    branch(e, "BCC", "spread");
    one(e, "DEY");
    branch(e, "BPL", "spread_row");
}

int check_slate_lines(void) {
    return 1 + ALIGN_LINES + MIX_LINES + LAST_LINES;
}

void check_slate_prepare(struct encoder *e, uint16_t hash) {
    align(e, hash);
    mix(e, hash);
    for (int i = 0; i < UPPER; i++) {
        encode(e, "LSR", MODE_ACCUMULATOR, 0, NULL);
        zp(e, "ROR", RAM_LOW);
    }
    zp(e, "ORA", RAM_ROWS + SLATE_ROWS - 2);
    zp(e, "STA", RAM_ROWS + SLATE_ROWS - 2);
    encode_room(e, SPREAD_BYTES);
    encode_counted(e);
    spread(e);
    set(e, SLATE_ROW_LINES - 1, RAM_STEP);
    encode_counted_end(e);
    end_line(e);
}

/* From the end of a row's line to the next one's bits FIRST_BIT cycles later: those of the row again, and
 * then those of the next, which begins with LDY RAM_STEP. That takes 3 cycles after a branch not taken; a
 * branch taken goes to its second byte, $B8, which is CLV and takes 2. */
static void end_row(struct encoder *e, const char *name) {
    encode_to(e, "JSR", MODE_ABSOLUTE, "wait_12", 0, NULL);
    one(e, "DEY");
    encode_to(e, "BPL", MODE_RELATIVE, name, 1, "to the CLV that RAM_STEP's address is");
}

/* The same, where the next row begins in another page. True: there was a hole, and it is used. */
static bool end_page(struct encoder *e, const char *name, const struct cart_check *check, check_hole *hole) {
    one(e, "DEY");
    branch(e, "BMI", "rows_on");
    encode_to(e, "JSR", MODE_ABSOLUTE, "wait_12", 0, NULL);
    encode_to(e, "JMP", MODE_ABSOLUTE, name, 2, NULL);
    encode_label(e, "rows_on");
    encode_to(e, "JMP", MODE_ABSOLUTE, "rows_next", 0, NULL);
    const bool used = encoder_room(e) >= HOLE_BYTES;
    if (used) {
        hole(e, check);
    }
    encode_next_page(e);
    encode_label(e, "rows_next");
    encode_delay(e, ROW_ENTRY - 2 - 3 - JUMP);
    return used;
}

/* A row's lines but for the end of the last. */
static void draw_row(struct encoder *e, int row, const char *name) {
    encode_label(e, name);
    zp(e, "LDY", RAM_STEP);
    slate_row_bits(e, row);
    set(e, SLATE_BLACK, TIA_WRITE_COLUBK);
    encode_mark(e, FIRST_BIT + 6 * SLATE_ROW_BITS + 5);
    end_line(e);
}

bool check_slate_draw(struct encoder *e, const struct cart_check *check, int blanking, check_hole *hole) {
    bool used = false;
    encode_room(e, ROW_BYTES);
    slate_band(e, blanking);
    one(e, "PHA"); /* 7 cycles in two bytes */
    one(e, "PLA");
    encode_delay(e, ROW_ENTRY - 5 - 7);
    for (int row = 0; row < SLATE_ROWS; row++) {
        char name[LABEL_MAX];
        snprintf(name, sizeof name, "row%d", row);
        draw_row(e, row, name);
        if (row < SLATE_ROWS - 1 && encoder_room(e) < ROW_BYTES) {
            used = end_page(e, name, check, hole);
        } else {
            end_row(e, name);
        }
    }
    return used;
}

void check_slate_tables(struct encoder *e) {
    static const uint8_t lines[SLATE_ROWS - 1 - CODED_ROW] = {4, 4, 4, 1};
    encode_room(e, sizeof lines + 1);
    encode_label(e, "wait_12");
    one(e, "RTS");
    encode_label(e, "mix_lines");
    encode_data(e, lines, sizeof lines, "lines of two bits that a row's part of the check code takes");
}
