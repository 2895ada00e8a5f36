/*
 * Plan `moments`: a store every 152 cycles, two lines, without WSYNC, so that each cycle of a line can be
 * reached. The way in takes as many cycles as the moment's number, the way out those that are left of 75.
 */
#include "plan/moments.h"

#include "rom/counting.h"
#include "rom/mailbox.h"
#include "rom/phrases.h"

#include "slotjig/mailbox.h"
#include "slotjig/slate.h"

#include <stdio.h>

enum {
    ROWS = MOMENT_REGISTERS * MOMENT_MODES,
    RAM_CYCLE = RAM_PICTURE,
    RAM_ROW, /* register and mode */
    RAM_IN,  /* the delays, as wait_bits() takes them */
    RAM_OUT,
    RAM_AFTER,   /* what the store writes first */
    RAM_TOGGLE,  /* what turns it into what it writes next */
    RAM_ADDRESS, /* of the register */
    RAM_PLAYERS, /* COLUP0 and COLUP1 */
    PERIOD = 2 * LINE_CYCLES,
    LONGEST = LINE_CYCLES - 1,
    /* A delay in seven bits: six of 1 to 32, and one of 12 for what is above 63. */
    DELAY_BITS = 7,
    DELAY_SIX = 64,
    DELAY_SEVENTH = 12,
    DELAY_BIT_CYCLES = 5, /* of a bit that is 0 */
    STORE_CYCLES = 4,     /* STA $00,X */
    ENTRY_CYCLES = 3      /* the jump to the picture */
};

/* RAM_HELD as last_line() wants it: COLUBK, X, Y. */
static const enum reg held[] = {REG_COLUBK, REG_COLUPF, REG_CTRLPF, REG_PF0, REG_PF1, REG_PF2};
enum { HELD = sizeof held / sizeof held[0] };

static void read_byte(struct encoder *e, const char *mnemonic, int byte) {
    encode(e, mnemonic, MODE_ABSOLUTE, (uint16_t)(ADDRESS_HIGH | (MAILBOX_VALUE + byte)), NULL);
}

/* To `count` where it is no moment's. */
static void moments_given(struct encoder *e) {
    read_byte(e, "LDX", 0);
    read_byte(e, "LDY", 1);
    read_byte(e, "LDA", 2);
    branch(e, "BNE", "count");
    imm(e, "CPY", MOMENT_VALUES >> 8);
    branch(e, "BCC", "take");
    branch(e, "BNE", "count");
    imm(e, "CPX", MOMENT_VALUES & 0xFF);
    branch(e, "BCS", "count");
    encode_label(e, "take");
    zp(e, "STX", RAM_VALUE);
    zp(e, "STY", RAM_VALUE + 1);
}

static void moments_count(struct encoder *e, const struct plan *plan) {
    (void)plan;
    zp(e, "INC", RAM_VALUE);
    branch(e, "BNE", "same");
    zp(e, "INC", RAM_VALUE + 1);
}

static void moments_wrap(struct encoder *e, const struct plan *plan) {
    (void)plan;
    zp(e, "LDA", RAM_VALUE + 1);
    imm(e, "CMP", MOMENT_VALUES >> 8);
    branch(e, "BNE", "kept");
    zp(e, "LDA", RAM_VALUE);
    imm(e, "CMP", MOMENT_VALUES & 0xFF);
    branch(e, "BNE", "kept");
    imm(e, "LDA", 0);
    zp(e, "STA", RAM_VALUE);
    zp(e, "STA", RAM_VALUE + 1);
}

/* Takes a row's cycles from A once, where they are in it. */
static void take_row(struct encoder *e, const char *done) {
    imm(e, "CMP", LINE_CYCLES);
    branch(e, "BCC", done);
    imm(e, "SBC", LINE_CYCLES);
    one(e, "INY");
}

/* One line: RAM_VALUE by 76. The high byte's part of row and rest comes from tables. */
static void split_value(struct encoder *e) {
    zp(e, "LDX", RAM_VALUE + 1);
    encode_to(e, "LDY", MODE_ABSOLUTE_X, "m_row", 0, NULL);
    zp(e, "LDA", RAM_VALUE);
    for (int i = 0; i < 0xFF / LINE_CYCLES; i++) {
        take_row(e, "low_done");
    }
    encode_label(e, "low_done");
    one(e, "CLC");
    encode_to(e, "ADC", MODE_ABSOLUTE_X, "m_rest", 0, NULL);
    take_row(e, "split");
    encode_label(e, "split");
    zp(e, "STA", RAM_CYCLE);
    zp(e, "STY", RAM_ROW);
    end_line(e);
}

static void load_setting(struct encoder *e, const char *table, int to) {
    encode_to(e, "LDA", MODE_ABSOLUTE_Y, table, 0, NULL);
    zp(e, "STA", to);
}

/* Two lines: what the picture of this register and mode needs. */
static void load_settings(struct encoder *e) {
    zp(e, "LDY", RAM_ROW);
    encode_each(e);
    imm(e, "CPY", ROWS);
    branch(e, "BCC", "row_known");
    imm(e, "LDY", 0);
    encode_label(e, "row_known");
    load_setting(e, "m_address", RAM_ADDRESS);
    encode_draws(e);
    load_setting(e, "m_after", RAM_AFTER);
    load_setting(e, "m_toggle", RAM_TOGGLE);
    load_setting(e, "m_players", RAM_PLAYERS);
    end_line(e);
    for (int i = 0; i < HELD; i++) {
        char name[LABEL_MAX];
        snprintf(name, sizeof name, "m_%s", reg_name(held[i]));
        load_setting(e, name, RAM_HELD + i);
    }
    encode_forget(e);
    end_line(e);
}

/* From A's cycles to the bits of wait_bits(). */
static void to_bits(struct encoder *e, const char *below, int to) {
    imm(e, "CMP", DELAY_SIX);
    branch(e, "BCC", below);
    imm(e, "ADC", DELAY_SIX - DELAY_SEVENTH - 1); /* carry is set */
    encode_label(e, below);
    zp(e, "STA", to);
}

/* One line: the delay in, and out again. */
static void load_delays(struct encoder *e) {
    zp(e, "LDA", RAM_CYCLE);
    encode_each(e);
    imm(e, "CMP", LINE_CYCLES);
    branch(e, "BCC", "cycle_known");
    imm(e, "LDA", 0);
    encode_label(e, "cycle_known");
    zp(e, "STA", RAM_CYCLE);
    to_bits(e, "in_low", RAM_IN);
    imm(e, "LDA", LONGEST);
    one(e, "SEC");
    zp(e, "SBC", RAM_CYCLE);
    to_bits(e, "out_low", RAM_OUT);
    end_line(e);
}

static void moments_prepare(struct encoder *e, const struct plan *plan) {
    (void)plan;
    split_value(e);
    load_settings(e);
    load_delays(e);
}

/* What the slate is drawn without: the last two rows have the time, the picture's first line has not. */
static void moments_spare(struct encoder *e, int row) {
    if (row == SLATE_ROWS - 2) {
        zp(e, "LDA", RAM_HELD + 1);
        zp(e, "STA", reg_address(REG_COLUPF));
        encode_delay(e, COUNTING_SPARE_CYCLES - 6);
    } else if (row == SLATE_ROWS - 1) {
        zp(e, "LDA", RAM_PLAYERS);
        zp(e, "STA", reg_address(REG_COLUP0));
        zp(e, "STA", reg_address(REG_COLUP1));
        encode_delay(e, COUNTING_SPARE_CYCLES - 9);
    } else {
        encode_delay(e, COUNTING_SPARE_CYCLES);
    }
}

/* 3 cycles, 5 a bit, and the bits' own. */
static void wait_bits(struct encoder *e, int from, const char *prefix) {
    zp(e, "LDA", from);
    for (int bit = 0; bit < DELAY_BITS; bit++) {
        char label[LABEL_MAX];
        snprintf(label, sizeof label, "%s_%d", prefix, bit);
        shift(e, "LSR", 1);
        branch(e, "BCC", label); /* one cycle more where it is taken */
        encode_delay(e, (bit == DELAY_BITS - 1 ? DELAY_SEVENTH : 1 << bit) + 1);
        encode_label(e, label);
    }
}

enum { WAIT_CYCLES = 3 + DELAY_BITS * DELAY_BIT_CYCLES };

/* Each register is written before its first cell: CTRLPF and PF0 by cycle 9 (22.67), PF1 by 15 (28), PF2 by
 * 21 (38.67) [A]. */
static void first_line(struct encoder *e, int stores) {
    const int before = ENTRY_CYCLES + 3 + 3 + 6 + 6 + 2 + 3;
    encode_label(e, "picture");
    zp(e, "STX", reg_address(REG_CTRLPF));
    zp(e, "STY", reg_address(REG_PF0));
    zp(e, "LDA", RAM_HELD + 4);
    zp(e, "STA", reg_address(REG_PF1));
    zp(e, "LDA", RAM_HELD + 5);
    zp(e, "STA", reg_address(REG_PF2));
    imm(e, "LDY", stores);
    zp(e, "LDX", RAM_ADDRESS);
    encode_delay(e, LINE_CYCLES - before - WAIT_CYCLES - 3 - STORE_CYCLES);
    wait_bits(e, RAM_IN, "in");
    zp(e, "LDA", RAM_AFTER);
}

/* 12, 24 and 48 cycles, the JSR included: each calls the one below it, and runs into it. */
static void waits(struct encoder *e) {
    encode_label(e, "wait_48");
    encode_to(e, "JSR", MODE_ABSOLUTE, "wait_24", 0, NULL);
    encode_label(e, "wait_24");
    encode_to(e, "JSR", MODE_ABSOLUTE, "wait_12", 0, NULL);
    encode_label(e, "wait_12");
    one(e, "RTS");
}

static void stores(struct encoder *e) {
    static const char *const calls[] = {"wait_48", "wait_48", "wait_24", "wait_12"};
    const int rest = PERIOD - STORE_CYCLES - 3 - (48 + 48 + 24 + 12) - 2 - 3;
    encode_label(e, "store");
    encode(e, "STA", MODE_ZERO_X, 0, "the write that is measured");
    encode_mark_in(e, RAM_CYCLE);
    zp(e, "EOR", RAM_TOGGLE);
    for (size_t i = 0; i < sizeof calls / sizeof calls[0]; i++) {
        encode_to(e, "JSR", MODE_ABSOLUTE, calls[i], 0, NULL);
    }
    encode_delay(e, rest);
    one(e, "DEY");
    branch(e, "BNE", "store");
}

/* The last store is on the second line from below of the last group; after it one cycle less than a period,
 * the way out, and a line that has been begun. */
static void moments_picture(struct encoder *e, const struct plan *plan) {
    const int groups = moment_groups(plan->standard), lines = standard_plan_lines(plan->standard);
    const int last = MOMENT_FIRST + MOMENT_GROUP * (groups - 1) + MOMENT_FALLING;
    const int passed = last * LINE_CYCLES + PERIOD - 1 - STORE_CYCLES + WAIT_CYCLES + LONGEST;
    encode_counted(e);
    first_line(e, 2 * groups);
    stores(e);
    wait_bits(e, RAM_OUT, "out");
    encode_forget(e);
    end_line(e);
    wait_lines(e, lines - passed / LINE_CYCLES - 1, "left");
    encode_to(e, "JMP", MODE_ABSOLUTE, "overscan", 0, NULL);
    waits(e);
    encode_counted_end(e);
}

static void table(struct encoder *e, const char *name, const uint8_t *bytes, size_t count) {
    encode_label(e, name);
    encode_data(e, bytes, count, NULL);
}

/* What a row of a table is: which of the settings. */
enum column { ADDRESS, AFTER, TOGGLE, PLAYERS, COLUMNS };

static uint8_t cell(const struct moment_setting *setting, int column) {
    switch (column) {
    case ADDRESS:
        return reg_address(setting->reg);
    case AFTER:
        return setting->after;
    case TOGGLE:
        return setting->before ^ setting->after;
    case PLAYERS:
        return setting->held[REG_COLUP0];
    default:
        return setting->held[held[column - COLUMNS]];
    }
}

static void moments_tables(struct encoder *e) {
    static const char *const names[COLUMNS] = {"m_address", "m_after", "m_toggle", "m_players"};
    uint8_t bytes[ROWS];
    for (int column = 0; column < COLUMNS + HELD; column++) {
        char name[LABEL_MAX];
        for (int row = 0; row < ROWS; row++) {
            const struct moment_setting setting =
                moment_setting((enum moment_register)(row / MOMENT_MODES), row % MOMENT_MODES != 0);
            bytes[row] = cell(&setting, column);
        }
        snprintf(name, sizeof name, "m_%s", column < COLUMNS ? "" : reg_name(held[column - COLUMNS]));
        table(e, column < COLUMNS ? names[column] : name, bytes, ROWS);
    }
    uint8_t rests[(MOMENT_VALUES >> 8) + 1];
    for (int high = 0; high <= MOMENT_VALUES >> 8; high++) {
        bytes[high] = (uint8_t)(0x100 * high / LINE_CYCLES);
        rests[high] = (uint8_t)(0x100 * high % LINE_CYCLES);
    }
    table(e, "m_row", bytes, sizeof rests);
    table(e, "m_rest", rests, sizeof rests);
}

const struct counting moments_counting = {.count = moments_count,
                                          .given = moments_given,
                                          .wrap = moments_wrap,
                                          .prepare = moments_prepare,
                                          .prepare_lines = 4,
                                          .spare = moments_spare,
                                          .picture = moments_picture,
                                          .tables = moments_tables};
