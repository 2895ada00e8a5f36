#include "plan/check_screen.h"

#include "plan/check.h"

enum { ROW_LINES = CHECK_GAP_LINES + CHECK_FONT_LINES * CHECK_DOT_LINES };

/* b and d stand out from 8 and 0. */
const uint8_t check_font[16][CHECK_FONT_LINES] = {
    {7, 5, 5, 5, 7}, {2, 6, 2, 2, 7}, {7, 1, 7, 4, 7}, {7, 1, 3, 1, 7}, {5, 5, 7, 1, 1}, {7, 4, 7, 1, 7},
    {7, 4, 7, 5, 7}, {7, 1, 2, 2, 2}, {7, 5, 7, 5, 7}, {7, 5, 7, 1, 7}, {2, 5, 7, 5, 5}, {4, 4, 6, 5, 6},
    {3, 4, 4, 4, 3}, {1, 1, 3, 5, 3}, {7, 4, 6, 4, 7}, {7, 4, 6, 4, 4},
};

const uint8_t check_signs[2][CHECK_SIGN_ROWS] = {{0x20, 0x70, 0xD8, 0x8C, 0x06, 0x03, 0x01},
                                                 {0xC3, 0x66, 0x3C, 0x18, 0x3C, 0x66, 0xC3}};

uint32_t check_screen_row(const struct check_screen *screen, int row) {
    switch (row) {
    case 0:
        return screen->first;
    case 1:
        return (uint32_t)CHECK_ERRORS << 16 | screen->errors;
    case 2:
        return (uint32_t)CHECK_ROUND << 16 | screen->rounds;
    default:
        return screen->item;
    }
}

/* Serial output [H TIA 1A]: PF0 D4 to D7, PF1 D7 to D0, PF2 D0 to D7. */
static void light(uint8_t pf[3], int cell) {
    if (cell < 4) {
        pf[0] |= (uint8_t)(0x10 << cell);
    } else if (cell < 12) {
        pf[1] |= (uint8_t)(0x80 >> (cell - 4));
    } else {
        pf[2] |= (uint8_t)(1 << (cell - 12));
    }
}

static void draw_digits(uint32_t number, int font_line, uint8_t pf[3]) {
    for (int place = 0; place < CHECK_DIGITS; place++) {
        const uint8_t dots = check_font[number >> 4 * (CHECK_DIGITS - 1 - place) & 0xF][font_line];
        for (int dot = 0; dot < 3; dot++) {
            if (dots >> (2 - dot) & 1) {
                light(pf, 4 * place + 1 + dot);
            }
        }
    }
}

void check_screen_line(const struct check_screen *screen, int line, uint8_t pf[3]) {
    const int row = line / ROW_LINES, in_row = line % ROW_LINES - CHECK_GAP_LINES;
    const int in_sign = line - CHECK_TEXT_ROWS * ROW_LINES - CHECK_SIGN_GAP;
    pf[0] = pf[1] = pf[2] = 0;
    if (row < CHECK_TEXT_ROWS && in_row >= 0) {
        draw_digits(check_screen_row(screen, row), in_row / CHECK_DOT_LINES, pf);
    } else if (in_sign >= 0 && in_sign < CHECK_SIGN_ROWS * CHECK_DOT_LINES) {
        pf[1] = check_signs[screen->errors != 0][CHECK_SIGN_ROWS - 1 - in_sign / CHECK_DOT_LINES];
    }
}
