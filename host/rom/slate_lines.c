#include "rom/slate_lines.h"

#include "rom/counting.h"
#include "rom/phrases.h"
#include "slate/slate.h"

#include <stdio.h>

enum { FIRST_BIT_CYCLES = 19 }; /* the first bit's LDA, STA then end with cycle 25 */

void slate_ready(struct encoder *e) {
    static const enum reg dark[] = {REG_PF0, REG_PF1, REG_PF2, REG_CTRLPF, REG_COLUBK};
    static const enum reg white[] = {REG_COLUPF, REG_COLUP0, REG_COLUP1};
    imm(e, "LDA", 0);
    for (size_t i = 0; i < sizeof dark / sizeof dark[0]; i++) {
        zp(e, "STA", reg_address(dark[i]));
    }
    imm(e, "LDA", SLATE_WHITE);
    for (size_t i = 0; i < sizeof white / sizeof white[0]; i++) {
        zp(e, "STA", reg_address(white[i]));
    }
}

void slate_band(struct encoder *e, int blanking) {
    encode_label(e, "band");
    if (blanking != 0) {
        zp(e, "LDA", blanking);
        zp(e, "STA", TIA_VBLANK);
    } else {
        set(e, 0, TIA_VBLANK);
    }
    set(e, SLATE_WHITE, TIA_WRITE_COLUBK);
    for (int i = 0; i < SLATE_BAND_LINES; i++) {
        end_line(e);
    }
    set(e, SLATE_BLACK, TIA_WRITE_COLUBK);
}

void slate_row_bits(struct encoder *e, int row) {
    for (int bit = 0; bit < SLATE_ROW_BITS; bit++) {
        zp(e, "LDA", RAM_SLATE + bit * SLATE_ROWS + row);
        zp(e, "STA", TIA_WRITE_COLUBK);
    }
}

/* A row is its first line and two times round; each way into its bits takes FIRST_BIT_CYCLES. The last row
 * leaves its third line to last_line(), which also gets the picture's first line ready. */
static void slate_row(struct encoder *e, int row, slate_spare *spare) {
    char again[LABEL_MAX], next[LABEL_MAX];
    bool last = row == SLATE_ROWS - 1;
    snprintf(again, sizeof again, "row%d", row);
    snprintf(next, sizeof next, last ? "lastline" : "row%d_end", row);
    imm(e, "LDY", last ? SLATE_ROW_LINES - 2 : SLATE_ROW_LINES - 1);
    if (spare != NULL) {
        spare(e, row);
    } else {
        encode_delay(e, COUNTING_SPARE_CYCLES);
    }
    encode_label(e, again);
    slate_row_bits(e, row);
    set(e, SLATE_BLACK, TIA_WRITE_COLUBK);
    end_line(e);
    one(e, "DEY");
    branch(e, "BMI", next);
    encode_delay(e, FIRST_BIT_CYCLES - 2 - 2 - 3);
    encode_to(e, "JMP", MODE_ABSOLUTE, again, 0, NULL);
    encode_label(e, next);
}

/* 76 cycles, its WSYNC included: the last bit is followed by the picture's background at once. */
static void last_line(struct encoder *e) {
    zp(e, "LDY", RAM_HELD + 3);
    zp(e, "LDX", RAM_HELD + 2);
    encode_delay(e, FIRST_BIT_CYCLES - 5 - 6);
    slate_row_bits(e, SLATE_ROWS - 1);
    zp(e, "LDA", RAM_HELD);
    zp(e, "STA", TIA_WRITE_COLUBK);
    end_line(e);
}

void slate_lines(struct encoder *e, int blanking, slate_spare *spare) {
    slate_band(e, blanking);
    for (int row = 0; row < SLATE_ROWS; row++) {
        slate_row(e, row, spare);
    }
    last_line(e);
}
