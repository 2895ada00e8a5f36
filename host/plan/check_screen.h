/*
 * What plan `cartridge` shows below the slate for a person to read without any grabber: rows of five
 * hexadecimal digits, from the left edge and once more from the middle on (so that one of the two is clear of
 * a tube's edge), and below them a sign that is plain from afar. From the top: the first bad item, wrong
 * items, rounds, the item being shown; the sign is a tick, or a cross once anything was wrong. All white on
 * black, then black to the bottom.
 */
#ifndef SLOTJIG_PLAN_CHECK_SCREEN_H
#define SLOTJIG_PLAN_CHECK_SCREEN_H

#include <stdint.h>

enum {
    CHECK_DIGITS = 5,
    CHECK_FONT_LINES = 5, /* of CHECK_DOT_LINES scanlines each */
    CHECK_DOT_LINES = 2,
    CHECK_TEXT_ROWS = 4,
    CHECK_GAP_LINES = 4, /* black, above each row */
    CHECK_SIGN_GAP = 1,
    CHECK_SIGN_ROWS = 7, /* of CHECK_DOT_LINES each */
    CHECK_SCREEN_LINES = 72
};

/* Three bits a line, the left one highest; a digit's first cell of four is dark. */
extern const uint8_t check_font[16][CHECK_FONT_LINES];
/* A tick and a cross, from the lowest row up: PF1's byte. */
extern const uint8_t check_signs[2][CHECK_SIGN_ROWS];

struct check_screen {
    uint32_t item, first; /* as the slate's value; first: 0 for none */
    uint16_t rounds, errors;
};

/* PF0, PF1, PF2 of a line below the slate, which the left half shows and the right half repeats. */
void check_screen_line(const struct check_screen *screen, int line, uint8_t pf[3]);
/* The number that a row of digits shows, the highest row first. */
uint32_t check_screen_row(const struct check_screen *screen, int row);

#endif
