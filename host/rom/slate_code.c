#include "rom/slate_code.h"

#include "rom/phrases.h"
#include "slate/slate.h"

#include <stdio.h>

enum { NIBBLES = SLATE_VALUE_BITS / 4, STEP_NIBBLES = 2, COUNTER_VALUES = 1 << SLATE_COUNTER_BITS };

static const char *const nibble_tables[NIBBLES] = {"c_low", "c_high", "c_third", "c_fourth", "c_fifth"};

/* X chooses the row of a table whose two halves are XORed onto the check code in RAM. 22 cycles at most. */
static void check_part(struct encoder *e, const char *name) {
    char table[2][LABEL_MAX];
    snprintf(table[0], LABEL_MAX, "%s_h", name);
    snprintf(table[1], LABEL_MAX, "%s_l", name);
    zp(e, "LDA", RAM_CHECK_HIGH);
    encode_to(e, "EOR", MODE_ABSOLUTE_X, table[0], 0, NULL);
    zp(e, "STA", RAM_CHECK_HIGH);
    zp(e, "LDA", RAM_ROWS + 6);
    encode_to(e, "EOR", MODE_ABSOLUTE_X, table[1], 0, NULL);
    zp(e, "STA", RAM_ROWS + 6);
}

/* One line: what hash and counter add to the check code. */
static void check_counter(struct encoder *e, uint16_t of_hash) {
    set(e, of_hash >> 8, RAM_CHECK_HIGH);
    set(e, of_hash & 0xFF, RAM_ROWS + 6);
    zp(e, "LDX", RAM_COUNTER);
    check_part(e, "c_counter");
    end_line(e);
}

static void low_nibble(struct encoder *e, int address, int nibble) {
    zp(e, "LDA", address);
    imm(e, "AND", 0x0F);
    one(e, "TAX");
    check_part(e, nibble_tables[nibble]);
}

static void to_high_nibble(struct encoder *e, int address) {
    zp(e, "LDA", address);
    shift(e, "LSR", 4);
    one(e, "TAX");
}

static void hash_rows(struct encoder *e, uint16_t hash) {
    set(e, hash >> 8, RAM_ROWS);
    set(e, hash & 0xFF, RAM_ROWS + 1);
}

/* The rest of a line: the value's low nibble, the counter and the check code as the last three rows. */
static void last_rows(struct encoder *e, int value) {
    zp(e, "LDA", RAM_COUNTER);
    shift(e, "LSR", 2);
    zp(e, "STA", RAM_ROWS + 4);
    zp(e, "LDA", value);
    shift(e, "ASL", 4);
    zp(e, "ORA", RAM_ROWS + 4);
    zp(e, "STA", RAM_ROWS + 4);
    zp(e, "LDA", RAM_COUNTER);
    shift(e, "ASL", 6);
    zp(e, "ORA", RAM_CHECK_HIGH);
    zp(e, "STA", RAM_ROWS + 5);
    end_line(e);
}

/* Three lines. */
static void step_rows(struct encoder *e, uint16_t hash) {
    low_nibble(e, RAM_STEP, 0);
    to_high_nibble(e, RAM_STEP);
    end_line(e);
    check_part(e, nibble_tables[1]);
    hash_rows(e, hash);
    set(e, 0, RAM_ROWS + 2); /* bits 19..12 of the step */
    encode(e, "STX", MODE_ZERO, RAM_ROWS + 3, "bits 11..4 of the step");
    end_line(e);
    last_rows(e, RAM_STEP);
}

/* The low nibble of one byte and the high one of the byte below as a row. */
static void join_nibbles(struct encoder *e, int low, int row) {
    zp(e, "LDA", low);
    shift(e, "LSR", 4);
    zp(e, "STA", RAM_ROWS + row);
    zp(e, "LDA", low + 1);
    shift(e, "ASL", 4);
    zp(e, "ORA", RAM_ROWS + row);
    zp(e, "STA", RAM_ROWS + row);
}

/* Five lines. */
static void value_rows(struct encoder *e, uint16_t hash) {
    for (int byte = 0; byte < 2; byte++) {
        low_nibble(e, RAM_VALUE + byte, 2 * byte);
        to_high_nibble(e, RAM_VALUE + byte);
        check_part(e, nibble_tables[2 * byte + 1]);
        end_line(e);
    }
    zp(e, "LDX", RAM_VALUE + 2);
    check_part(e, nibble_tables[4]);
    join_nibbles(e, RAM_VALUE + 1, 2);
    end_line(e);
    hash_rows(e, hash);
    join_nibbles(e, RAM_VALUE, 3);
    end_line(e);
    last_rows(e, RAM_VALUE);
}

void slate_spread_bit(struct encoder *e, int bit) {
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
        slate_spread_bit(e, bit);
    }
    one(e, "INX");
    imm(e, "CPX", SLATE_ROWS);
    end_line(e); /* a store leaves the flags alone */
    branch(e, "BNE", "spread");
}

int slate_code_lines(const struct plan *plan) {
    return 1 + (plan_counts(plan) ? 5 : 3) + 2 * SLATE_ROWS;
}

/* The check code is linear: the parts of hash, counter and each nibble of the value are XORed together. */
void slate_code_emit(struct encoder *e, const struct kernel_options *options) {
    const struct slate hash = {.hash = options->hash};
    check_counter(e, slate_check(&hash));
    if (plan_counts(options->plan)) {
        value_rows(e, options->hash);
    } else {
        step_rows(e, options->hash);
    }
    spread_rows(e);
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

int slate_code_tables(struct encoder *e, const struct plan *plan, int from, size_t end) {
    const int tables = 1 + (plan_counts(plan) ? NIBBLES : STEP_NIBBLES);
    for (; from < tables; from++) {
        const int count = from == 0 ? COUNTER_VALUES : 16;
        if (e->size + 2 * (size_t)count > end) {
            break;
        }
        check_table(e, from == 0 ? "c_counter" : nibble_tables[from - 1], count, 4 * (from - 1), from == 0);
    }
    return from;
}
