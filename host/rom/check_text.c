/*
 * What a person reads from the screen (plan/check_screen.h). While a line of the digits' dots is drawn, on
 * two scanlines, the next one is worked out.
 */
#include "plan/check_screen.h"
#include "rom/check_kernel.h"
#include "rom/phrases.h"

enum {
    FONT_STRIDE = 8, /* bytes a digit: its lines, a blank one, and two of the signs */
    SIGNS_AT = CHECK_FONT_LINES + 1,
    /* Over the slate's rows, which have been drawn. */
    RAM_DIGIT = RAM_SLATE, /* five: where in the font each is */
    RAM_TEXT_ROW = RAM_SLATE + CHECK_DIGITS,
    RAM_FONT_LINE,
    RAM_PLAYFIELD = RAM_HELD, /* three: the next line's; 0 after a row, as a digit's last line is blank */
    /* The first digits of rounds and errors, as their items have. */
    RAM_ROUND_DIGIT = RAM_HOLD,
    RAM_ERRORS_DIGIT = RAM_HOLD + 1,
    ROW_LINES = CHECK_GAP_LINES + CHECK_FONT_LINES * CHECK_DOT_LINES,
    SIGN_LINES = CHECK_SIGN_GAP + CHECK_SIGN_ROWS * CHECK_DOT_LINES + 1
};
_Static_assert(CHECK_TEXT_ROWS *ROW_LINES + SIGN_LINES == CHECK_SCREEN_LINES, "the text's lines");

static const struct {
    uint8_t low, first;
} rows[CHECK_TEXT_ROWS] = {{RAM_VALUE, RAM_VALUE + 2},
                           {RAM_ROUNDS, RAM_ROUND_DIGIT},
                           {RAM_ERRORS, RAM_ERRORS_DIGIT},
                           {RAM_FIRST_ERROR, RAM_FIRST_ERROR + 2}}; /* the lowest first */

static void clear_playfield(struct encoder *e) {
    imm(e, "LDA", 0);
    zp(e, "STA", reg_address(REG_PF0));
    zp(e, "STA", reg_address(REG_PF1));
    zp(e, "STA", reg_address(REG_PF2));
}

static void digit_of(struct encoder *e, int digit, bool high) {
    if (high) {
        shift(e, "LSR", 1);
    } else {
        shift(e, "ASL", 3);
    }
    imm(e, "AND", 0x0F * FONT_STRIDE);
    zp(e, "STA", RAM_DIGIT + digit);
}

/* Two lines: the row's five digits. */
static void take_row(struct encoder *e) {
    clear_playfield(e);
    zp(e, "LDY", RAM_TEXT_ROW);
    encode_to(e, "LDX", MODE_ABSOLUTE_Y, "text_first", 0, NULL);
    encode(e, "LDA", MODE_ZERO_X, 0, NULL);
    digit_of(e, 0, false);
    end_line(e);
    encode_to(e, "LDX", MODE_ABSOLUTE_Y, "text_low", 0, NULL);
    for (int byte = 0; byte < 2; byte++) {
        encode(e, "LDA", MODE_ZERO_X, (uint16_t)byte, NULL);
        digit_of(e, 4 - 2 * byte, false);
        encode(e, "LDA", MODE_ZERO_X, (uint16_t)byte, NULL);
        digit_of(e, 3 - 2 * byte, true);
    }
    set(e, CHECK_FONT_LINES + 1, RAM_FONT_LINE);
    end_line(e);
}

static void font_byte(struct encoder *e, int digit) {
    zp(e, "LDX", RAM_DIGIT + digit);
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "font", 0, NULL);
}

/* The table's upper half has the left cell in its highest bit, as PF1 wants it, the lower one in its lowest,
 * as PF0 and PF2 do. */
static void draw_row(struct encoder *e) {
    encode_label(e, "font_line");
    zp(e, "LDA", RAM_PLAYFIELD);
    zp(e, "STA", reg_address(REG_PF0));
    zp(e, "LDA", RAM_PLAYFIELD + 1);
    zp(e, "STA", reg_address(REG_PF1));
    zp(e, "LDA", RAM_PLAYFIELD + 2);
    zp(e, "STA", reg_address(REG_PF2));
    font_byte(e, 0);
    shift(e, "ASL", 4);
    zp(e, "STA", RAM_PLAYFIELD);
    font_byte(e, 2);
    shift(e, "LSR", 4);
    zp(e, "STA", RAM_PLAYFIELD + 1);
    zp(e, "INC", RAM_DIGIT);
    zp(e, "INC", RAM_DIGIT + 2);
    end_line(e);
    font_byte(e, 1);
    imm(e, "AND", 0xF0);
    zp(e, "ORA", RAM_PLAYFIELD + 1);
    zp(e, "STA", RAM_PLAYFIELD + 1);
    font_byte(e, 4);
    shift(e, "ASL", 4);
    zp(e, "STA", RAM_PLAYFIELD + 2);
    font_byte(e, 3);
    imm(e, "AND", 0x0F);
    zp(e, "ORA", RAM_PLAYFIELD + 2);
    zp(e, "STA", RAM_PLAYFIELD + 2);
    zp(e, "INC", RAM_DIGIT + 1);
    zp(e, "INC", RAM_DIGIT + 3);
    zp(e, "INC", RAM_DIGIT + 4);
    zp(e, "DEC", RAM_FONT_LINE);
    end_line(e); /* a store leaves the flags alone */
    branch(e, "BNE", "font_line");
}

/* Something plain from afar: a tick, or a cross once anything was wrong. They lie in what the font leaves
 * free, each a byte a digit. */
static void draw_sign(struct encoder *e) {
    clear_playfield(e);
    imm(e, "LDX", (CHECK_SIGN_ROWS - 1) * FONT_STRIDE);
    zp(e, "LDA", RAM_ERRORS);
    zp(e, "ORA", RAM_ERRORS + 1);
    branch(e, "BEQ", "sign_good");
    one(e, "INX");
    encode_label(e, "sign_good");
    end_line(e);
    encode_label(e, "sign_row");
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "font", SIGNS_AT, NULL);
    zp(e, "STA", reg_address(REG_PF1));
    end_line(e);
    one(e, "TXA");
    one(e, "SEC");
    imm(e, "SBC", FONT_STRIDE);
    one(e, "TAX");
    end_line(e);
    branch(e, "BCS", "sign_row");
    imm(e, "LDA", 0);
    zp(e, "STA", reg_address(REG_PF1));
    end_line(e);
}

void check_text_start(struct encoder *e) {
    set(e, CHECK_ROUND, RAM_ROUND_DIGIT);
    set(e, CHECK_ERRORS, RAM_ERRORS_DIGIT);
}

void check_text_emit(struct encoder *e) {
    encode_label(e, "text");
    imm(e, "LDY", CHECK_TEXT_ROWS - 1);
    encode_label(e, "text_row");
    zp(e, "STY", RAM_TEXT_ROW);
    take_row(e);
    draw_row(e);
    zp(e, "LDY", RAM_TEXT_ROW);
    one(e, "DEY");
    branch(e, "BMI", "text_end");
    encode_to(e, "JMP", MODE_ABSOLUTE, "text_row", 0, NULL);
    encode_label(e, "text_end");
    draw_sign(e);
}

static void font_table(struct encoder *e) {
    uint8_t bytes[16 * FONT_STRIDE] = {0};
    for (int digit = 0; digit < 16; digit++) {
        for (int line = 0; line < CHECK_FONT_LINES; line++) {
            const uint8_t cells = check_font[digit][line];
            const uint8_t turned =
                (uint8_t)((cells >> 2 & 1) << 1 | (cells >> 1 & 1) << 2 | (cells & 1) << 3);
            bytes[digit * FONT_STRIDE + line] = (uint8_t)(cells << 4 | turned);
        }
    }
    for (int row = 0; row < CHECK_SIGN_ROWS; row++) {
        bytes[row * FONT_STRIDE + SIGNS_AT] = check_signs[0][row];
        bytes[row * FONT_STRIDE + SIGNS_AT + 1] = check_signs[1][row];
    }
    encode_room(e, sizeof bytes);
    encode_label(e, "font");
    encode_data(e, bytes, sizeof bytes,
                "a digit's lines from the top, cells from the left and turned round; a row of each sign");
}

void check_text_tables(struct encoder *e) {
    uint8_t low[CHECK_TEXT_ROWS], first[CHECK_TEXT_ROWS];
    for (int row = 0; row < CHECK_TEXT_ROWS; row++) {
        low[row] = rows[row].low;
        first[row] = rows[row].first;
    }
    font_table(e);
    encode_room(e, 2 * CHECK_TEXT_ROWS);
    encode_label(e, "text_low");
    encode_data(e, low, CHECK_TEXT_ROWS, "where in RAM a row's digits are, the lowest row first");
    encode_label(e, "text_first");
    encode_data(e, first, CHECK_TEXT_ROWS, NULL);
}
