#include "rom/kernel.h"

#include "rom/bands.h"
#include "rom/mailbox.h"
#include "rom/phrases.h"
#include "rom/rows.h"
#include "slate/slate.h"

#include <stdio.h>

static const enum reg held[] = {REG_COLUBK, REG_COLUPF, REG_CTRLPF, REG_PF0, REG_PF1, REG_PF2};
enum { HELD = sizeof held / sizeof held[0] };

static void shift(struct encoder *e, const char *mnemonic, int times) {
    for (int i = 0; i < times; i++) {
        encode(e, mnemonic, MODE_ACCUMULATOR, 0, NULL);
    }
}

static void cold_start(struct encoder *e, const struct kernel_options *options) {
    encode_label(e, "reset");
    one(e, "SEI");
    one(e, "CLD");
    imm(e, "LDX", 0xFF);
    one(e, "TXS");
    imm(e, "LDA", 0);
    imm(e, "LDX", 0x7F);
    encode_label(e, "clear_ram");
    encode(e, "STA", MODE_ZERO_X, RAM_SLATE, NULL);
    one(e, "DEX");
    branch(e, "BPL", "clear_ram");
    imm(e, "LDX", TIA_ENABL - TIA_AUDV0);
    encode_label(e, "clear_tia");
    encode(e, "STA", MODE_ZERO_X, TIA_AUDV0, "sound, players, missiles and ball off");
    one(e, "DEX");
    branch(e, "BPL", "clear_tia");
    set(e, options->hold & 0xFF, RAM_HOLD);
    set(e, options->hold >> 8, RAM_HOLD + 1);
}

static void vertical_sync(struct encoder *e, int lines) {
    encode_label(e, "frame");
    imm(e, "LDA", 2);
    end_line(e);
    zp(e, "STA", TIA_VBLANK);
    zp(e, "STA", TIA_VSYNC);
    for (int i = 0; i < lines; i++) {
        end_line(e);
    }
    set(e, 0, TIA_VSYNC);
}

/* One line: the counter moves, the hold runs down; whether it ran out is left in RAM_WORK. */
static void count_field(struct encoder *e) {
    zp(e, "INC", RAM_COUNTER);
    zp(e, "LDA", RAM_COUNTER);
    imm(e, "AND", 0x3F);
    zp(e, "STA", RAM_COUNTER);
    zp(e, "LDA", RAM_HOLD);
    branch(e, "BNE", "held");
    zp(e, "DEC", RAM_HOLD + 1);
    encode_label(e, "held");
    zp(e, "DEC", RAM_HOLD);
    zp(e, "LDA", RAM_HOLD);
    zp(e, "ORA", RAM_HOLD + 1);
    zp(e, "STA", RAM_WORK);
    end_line(e);
}

/* One line: the next step, when the hold ran out. */
static void next_step(struct encoder *e, const struct kernel_options *options) {
    zp(e, "LDA", RAM_WORK);
    branch(e, "BNE", "same");
    set(e, options->hold & 0xFF, RAM_HOLD);
    set(e, options->hold >> 8, RAM_HOLD + 1);
    zp(e, "INC", RAM_STEP);
    zp(e, "LDA", RAM_STEP);
    imm(e, "CMP", (int)(options->plan->step_count & 0xFF)); /* 256 steps wrap by themselves */
    branch(e, "BNE", "same");
    set(e, 0, RAM_STEP);
    encode_label(e, "same");
    end_line(e);
}

static void table_name(enum reg reg, char name[LABEL_MAX]) {
    snprintf(name, LABEL_MAX, "t_%s", reg_name(reg));
}

static void load_byte(struct encoder *e, const char *name, int address) {
    encode_to(e, "LDA", MODE_ABSOLUTE_X, name, 0, NULL);
    zp(e, "STA", address);
}

/* One line: the step's registers out of the tables, and where its picture is drawn if steps differ in that.
 */
static void load_registers(struct encoder *e, bool bands) {
    zp(e, "LDX", RAM_STEP);
    for (int i = 0; i < HELD; i++) {
        char name[LABEL_MAX];
        table_name(held[i], name);
        load_byte(e, name, RAM_HELD + i);
    }
    if (bands) {
        load_byte(e, BANDS_TABLE_LOW, RAM_VECTOR);
        load_byte(e, BANDS_TABLE_HIGH, RAM_VECTOR + 1);
    }
    end_line(e);
}

/* X chooses the row of a table whose two halves are XORed onto the check code in RAM. 26 cycles at most. */
static void check_part(struct encoder *e, const char *table_high, const char *table_low) {
    zp(e, "LDA", RAM_CHECK_HIGH);
    encode_to(e, "EOR", MODE_ABSOLUTE_X, table_high, 0, NULL);
    zp(e, "STA", RAM_CHECK_HIGH);
    zp(e, "LDA", RAM_ROWS + 6);
    encode_to(e, "EOR", MODE_ABSOLUTE_X, table_low, 0, NULL);
    zp(e, "STA", RAM_ROWS + 6);
}

/* Two lines. The check code is linear: the parts of hash, counter and each half of the step are XORed
 * together. */
static void check_code(struct encoder *e, uint16_t of_hash) {
    set(e, of_hash >> 8, RAM_CHECK_HIGH);
    set(e, of_hash & 0xFF, RAM_ROWS + 6);
    zp(e, "LDX", RAM_COUNTER);
    check_part(e, "c_counter_h", "c_counter_l");
    end_line(e);
    zp(e, "LDA", RAM_STEP);
    imm(e, "AND", 0x0F);
    one(e, "TAX");
    check_part(e, "c_low_h", "c_low_l");
    zp(e, "LDA", RAM_STEP);
    shift(e, "LSR", 4);
    one(e, "TAX");
    end_line(e);
    check_part(e, "c_high_h", "c_high_l");
}

/* Follows check_code() on its line, and takes one more: hash, step, counter and check code as the seven rows.
 */
static void make_rows(struct encoder *e, uint16_t hash) {
    set(e, hash >> 8, RAM_ROWS);
    set(e, hash & 0xFF, RAM_ROWS + 1);
    set(e, 0, RAM_ROWS + 2); /* bits 19..12 of the step */
    encode(e, "STX", MODE_ZERO, RAM_ROWS + 3, "bits 11..4 of the step");
    end_line(e);
    zp(e, "LDA", RAM_COUNTER);
    shift(e, "LSR", 2);
    zp(e, "STA", RAM_ROWS + 4);
    zp(e, "LDA", RAM_STEP);
    shift(e, "ASL", 4);
    zp(e, "ORA", RAM_ROWS + 4);
    zp(e, "STA", RAM_ROWS + 4);
    zp(e, "LDA", RAM_COUNTER);
    shift(e, "ASL", 6);
    zp(e, "ORA", RAM_CHECK_HIGH);
    zp(e, "STA", RAM_ROWS + 5);
    end_line(e);
}

/* Carry clear: $0E, carry set: $00. The row was complemented before. */
static void spread_bit(struct encoder *e, int bit) {
    zp(e, "ASL", RAM_WORK);
    imm(e, "LDA", 0);
    imm(e, "SBC", 0);
    imm(e, "AND", SLATE_WHITE);
    encode(e, "STA", MODE_ZERO_X, (uint16_t)(RAM_SLATE + bit * SLATE_ROWS), NULL);
}

/* Two lines a row: each bit of a row becomes a byte of RAM, $00 or $0E, ready for COLUBK. */
static void spread_rows(struct encoder *e) {
    imm(e, "LDX", 0);
    encode_label(e, "spread");
    encode(e, "LDA", MODE_ZERO_X, RAM_ROWS, NULL);
    imm(e, "EOR", 0xFF);
    zp(e, "STA", RAM_WORK);
    for (int bit = 0; bit < SLATE_ROW_BITS; bit++) {
        if (bit == SLATE_ROW_BITS / 2) {
            end_line(e);
        }
        spread_bit(e, bit);
    }
    one(e, "INX");
    imm(e, "CPX", SLATE_ROWS);
    end_line(e); /* a store leaves the flags alone */
    branch(e, "BNE", "spread");
}

/* One line: the slate is drawn with COLUBK alone. */
static void clear_playfield(struct encoder *e) {
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

enum {
    WORK_LINES = 2 + 1 + 2 + 2 + 2 * SLATE_ROWS, /* what the functions above end */
    FIRST_BIT_CYCLES = 19                        /* the first bit's LDA, STA then end with cycle 25 */
};

static void blank(struct encoder *e, const struct kernel_options *options, int lines, bool bands) {
    const struct slate hash = {.hash = options->hash};
    count_field(e);
    next_step(e, options);
    load_registers(e, bands);
    check_code(e, slate_check(&hash));
    make_rows(e, options->hash);
    spread_rows(e);
    clear_playfield(e);
    wait_lines(e, lines - WORK_LINES, "blank");
}

/* The white band: three whole lines. Arrives at the first row's first line after 5 cycles, COLUBK black. */
static void slate_band(struct encoder *e) {
    encode_label(e, "band");
    set(e, 0, TIA_VBLANK);
    set(e, SLATE_WHITE, TIA_WRITE_COLUBK);
    for (int i = 0; i < SLATE_BAND_LINES; i++) {
        end_line(e);
    }
    set(e, SLATE_BLACK, TIA_WRITE_COLUBK);
}

static void row_bits(struct encoder *e, int row) {
    for (int bit = 0; bit < SLATE_ROW_BITS; bit++) {
        zp(e, "LDA", RAM_SLATE + bit * SLATE_ROWS + row);
        zp(e, "STA", TIA_WRITE_COLUBK);
    }
}

/* A row is its first line and two times round; each way into its bits takes FIRST_BIT_CYCLES. The last row
 * leaves its third line to last_line(), which also gets the picture's first line ready. */
static void slate_row(struct encoder *e, int row) {
    char again[LABEL_MAX], next[LABEL_MAX];
    bool last = row == SLATE_ROWS - 1;
    snprintf(again, sizeof again, "row%d", row);
    snprintf(next, sizeof next, last ? "lastline" : "row%d_end", row);
    imm(e, "LDY", last ? SLATE_ROW_LINES - 2 : SLATE_ROW_LINES - 1);
    encode_delay(e, FIRST_BIT_CYCLES - 5 - 2);
    encode_label(e, again);
    row_bits(e, row);
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
    row_bits(e, SLATE_ROWS - 1);
    zp(e, "LDA", RAM_HELD);
    zp(e, "STA", TIA_WRITE_COLUBK);
    end_line(e);
}

/* The picture's first line. Every register is written before its first cell: COLUPF, CTRLPF, PF0 by cycle 12
 * (22.67 is the picture's edge), PF1 by 18 (28), PF2 by 24 (38.67), all 5 later after a jump [A]. */
static void picture(struct encoder *e, int lines, bool bands) {
    if (bands) {
        encode(e, "JMP", MODE_INDIRECT, RAM_VECTOR, "to the step's own picture");
    }
    encode_label(e, "picture");
    zp(e, "LDA", RAM_HELD + 1);
    zp(e, "STA", reg_address(REG_COLUPF));
    zp(e, "STX", reg_address(REG_CTRLPF));
    zp(e, "STY", reg_address(REG_PF0));
    zp(e, "LDA", RAM_HELD + 4);
    zp(e, "STA", reg_address(REG_PF1));
    zp(e, "LDA", RAM_HELD + 5);
    zp(e, "STA", reg_address(REG_PF2));
    wait_lines(e, lines, "shown");
}

/* The last line of the overscan is ended by the next frame's first store to WSYNC. */
static void overscan(struct encoder *e, const struct kernel_options *options, int lines) {
    encode_label(e, "overscan");
    set(e, 2, TIA_VBLANK);
    mailbox_serve(e, options);
    wait_lines(e, lines - MAILBOX_LINES - 1, "below");
    encode_to(e, "JMP", MODE_ABSOLUTE, "frame", 0, NULL);
}

static void register_tables(struct encoder *e, const struct plan *plan) {
    for (int i = 0; i < HELD; i++) {
        char name[LABEL_MAX];
        table_name(held[i], name);
        encode_label(e, name);
        for (size_t step = 0; step < plan->step_count; step++) {
            uint8_t registers[REG_COUNT];
            step_registers(&plan->steps[step], registers);
            encode_data(e, &registers[held[i]], 1, step == 0 ? "one byte a step" : NULL);
        }
    }
}

/* High and low bytes of the check code's part for each of `count` values of one field of the slate. */
static void check_table(struct encoder *e, const char *name, int count, int value_shift, bool counter) {
    for (int half = 0; half < 2; half++) {
        char label[LABEL_MAX];
        snprintf(label, sizeof label, "%s_%c", name, half == 0 ? 'h' : 'l');
        encode_label(e, label);
        for (int i = 0; i < count; i++) {
            uint16_t part =
                counter ? slate_check_part(0, (uint8_t)i) : slate_check_part((uint32_t)i << value_shift, 0);
            uint8_t byte = (uint8_t)(half == 0 ? part >> 8 : part);
            encode_data(e, &byte, 1, NULL);
        }
    }
}

void kernel_emit(struct encoder *e, const struct kernel_options *options) {
    const struct standard_facts *facts = &standard_table[options->plan->standard];
    struct rows rows;
    const bool by_rows = rows_of(options->plan, &rows);
    const bool bands = !by_rows && bands_wanted(options->plan);
    cold_start(e, options);
    vertical_sync(e, facts->sync_lines);
    blank(e, options, facts->blank_lines, bands);
    encode_to(e, "JMP", MODE_ABSOLUTE, "band", 0, NULL);
    mailbox_hand_over(e, options->plan->standard);
    encode_fill(e,
                (e->size + 0xFF) & ~(size_t)0xFF); /* so that no branch of the slate's rows crosses a page */
    slate_band(e);
    for (int row = 0; row < SLATE_ROWS; row++) {
        slate_row(e, row);
    }
    last_line(e);
    if (by_rows) {
        rows_picture(e, &rows);
    } else {
        picture(e, facts->picture_lines - SLATE_LINES, bands);
    }
    overscan(e, options, facts->overscan_lines);
    if (bands) {
        bands_emit(e, options->plan);
    }
    check_table(e, "c_counter", 64, 0, true);
    check_table(e, "c_low", 16, 0, false);
    check_table(e, "c_high", 16, 4, false);
    register_tables(e, options->plan);
    if (bands) {
        bands_tables(e, options->plan);
    }
    if (by_rows) {
        rows_tables(e, &rows);
    }
    mailbox_entry(e);
}
