/*
 * Plan `every`: a pattern a line, or a few. The next one is made while a line is drawn: a carry runs from PF2
 * through PF1 into PF0's upper half, since the lower half of its byte is all ones before the sum.
 */
#include "plan/every.h"

#include "rom/counting.h"
#include "rom/mailbox.h"
#include "rom/phrases.h"

#include "slotjig/mailbox.h"

enum {
    /* RAM_HELD as last_line() wants it: X, Y. */
    HELD_PF1 = RAM_HELD + 2,
    HELD_PF2 = RAM_HELD + 3,
    HELD_PF0 = RAM_HELD + 4,
    HELD_MODE = RAM_HELD + 5,
    RAM_UPPER = RAM_PICTURE,    /* PF0's next value, $0F below it */
    RAM_LEFT = RAM_PICTURE + 1, /* patterns */
    MODE = 1,                   /* the bit of the slate's value */
    /* Cycle of PF0's store on a pattern's first line, and on the picture's; PF1's and PF2's follow at once:
     * well before the first cell of each (22.67, 28 and 38.67 [A]). */
    PATTERN_CYCLE = 6,
    PICTURE_CYCLE = 9
};

static void read_byte(struct encoder *e, int byte) {
    encode(e, "LDA", MODE_ABSOLUTE, (uint16_t)(ADDRESS_HIGH | (MAILBOX_VALUE + byte)), NULL);
}

static void add(struct encoder *e, uint32_t sum) {
    one(e, "CLC");
    for (int byte = 0; byte < 3; byte++) {
        zp(e, "LDA", RAM_VALUE + byte);
        imm(e, "ADC", sum >> 8 * byte & 0xFF);
        if (byte == 2) {
            imm(e, "AND", 0x0F);
        }
        zp(e, "STA", RAM_VALUE + byte);
    }
}

/* As many patterns as a field has: an even number, so that the mode's bit stays. */
static void every_count(struct encoder *e, const struct plan *plan) {
    add(e, every_base(&plan->every, false, 1));
}

/* What is given may be the end of a mode by chance: RAM_WORK says that nothing was counted. */
static void every_given(struct encoder *e) {
    zp(e, "STA", RAM_WORK);
    for (int byte = 0; byte < 3; byte++) {
        read_byte(e, byte);
        if (byte == 2) {
            imm(e, "AND", 0x0F);
        }
        zp(e, "STA", RAM_VALUE + byte);
    }
}

static void every_wrap(struct encoder *e, const struct plan *plan) {
    const uint32_t end = every_base(&plan->every, false, plan->every.bases);
    zp(e, "LDA", RAM_WORK);
    branch(e, "BNE", "kept");
    for (int byte = 0; byte < 3; byte++) {
        zp(e, "LDA", RAM_VALUE + byte);
        if (byte == 0) {
            imm(e, "AND", 0xFF - MODE);
        }
        imm(e, "CMP", end >> 8 * byte & 0xFF);
        branch(e, "BNE", "kept");
    }
    zp(e, "LDA", RAM_VALUE);
    imm(e, "AND", MODE);
    imm(e, "EOR", MODE);
    zp(e, "STA", RAM_VALUE);
    imm(e, "LDA", 0);
    zp(e, "STA", RAM_VALUE + 1);
    zp(e, "STA", RAM_VALUE + 2);
}

static void every_prepare(struct encoder *e, const struct plan *plan) {
    (void)plan;
    set(e, plan_default_colour(REG_COLUBK), RAM_HELD);
    zp(e, "LDA", RAM_VALUE);
    imm(e, "AND", 0xFF - MODE);
    zp(e, "STA", HELD_PF2);
    zp(e, "LDA", RAM_VALUE + 1);
    zp(e, "STA", HELD_PF1);
    zp(e, "LDA", RAM_VALUE + 2);
    shift(e, "ASL", 4);
    zp(e, "STA", HELD_PF0);
    imm(e, "ORA", 0x0F);
    zp(e, "STA", RAM_UPPER);
    zp(e, "LDA", RAM_VALUE);
    imm(e, "AND", MODE);
    zp(e, "STA", HELD_MODE);
    end_line(e);
}

static void show_pattern(struct encoder *e, int cycle) {
    zp(e, "STA", reg_address(REG_PF0));
    encode_mark(e, cycle);
    zp(e, "STX", reg_address(REG_PF1));
    encode_mark(e, cycle + 3);
    zp(e, "STY", reg_address(REG_PF2));
    encode_mark(e, cycle + 6);
}

static void sum_half(struct encoder *e, const char *from, uint8_t step, const char *to) {
    one(e, from);
    imm(e, "ADC", step);
    one(e, to);
}

/* X, Y and RAM_UPPER go on by a pattern, A becomes PF0's. 26 cycles. */
static void next_pattern(struct encoder *e) {
    uint8_t step[3];
    every_registers(EVERY_STEP % EVERY_VALUES, step);
    one(e, "CLC");
    sum_half(e, "TYA", step[2], "TAY");
    sum_half(e, "TXA", step[1], "TAX");
    zp(e, "LDA", RAM_UPPER);
    imm(e, "ADC", step[0]);
    imm(e, "ORA", 0x0F);
    zp(e, "STA", RAM_UPPER);
    imm(e, "AND", 0xF0);
}

static void first_pattern(struct encoder *e, int patterns) {
    encode_label(e, "picture");
    zp(e, "LDA", HELD_PF0);
    show_pattern(e, PICTURE_CYCLE);
    zp(e, "LDA", HELD_MODE);
    zp(e, "STA", reg_address(REG_CTRLPF));
    set(e, patterns, RAM_LEFT);
    encode_to(e, "JMP", MODE_ABSOLUTE, "sum", 0, NULL);
}

static void every_picture(struct encoder *e, const struct plan *plan) {
    const struct every *every = &plan->every;
    first_pattern(e, every->patterns);
    encode_label(e, "pattern");
    show_pattern(e, PATTERN_CYCLE);
    encode_label(e, "sum");
    next_pattern(e);
    for (int i = 1; i < every->repeat; i++) {
        end_line(e);
    }
    zp(e, "DEC", RAM_LEFT);
    end_line(e); /* a store leaves the flags alone */
    branch(e, "BNE", "pattern");
    wait_lines(e, standard_plan_lines(plan->standard) - every->lines, "left");
    encode_to(e, "JMP", MODE_ABSOLUTE, "overscan", 0, NULL);
}

const struct counting every_counting = {.count = every_count,
                                        .given = every_given,
                                        .wrap = every_wrap,
                                        .prepare = every_prepare,
                                        .prepare_lines = 1,
                                        .picture = every_picture};
