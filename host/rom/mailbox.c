#include "rom/mailbox.h"

#include "rom/phrases.h"
#include "rom/rom.h"

#include "slotjig/mailbox.h"

enum {
    IRQ_VECTOR = 0x1FFE,
    COPIED_A_LINE = 2,
    /* Lines of the loop's frame: 3 of sync, two at a time, the rest one at a time; one ends in between. */
    LOOP_LAST_LINES = RESET_LINES - 1
};

static void read_slot(struct encoder *e, const char *mnemonic, int address, const char *note) {
    encode(e, mnemonic, MODE_ABSOLUTE, (uint16_t)(ADDRESS_HIGH | address), note);
}

/* The read that announces, three fetches, the read whose address carries X. */
static void say_x(struct encoder *e, int announced) {
    read_slot(e, "LDA", announced, "announced");
    encode(e, "LDA", MODE_ABSOLUTE_X, ADDRESS_HIGH | MAILBOX_ECHO, "said");
}

/* The interrupt vector holds the same word as the reset vector, and reading it looks like no reset. */
static void say_state(struct encoder *e, bool counts) {
    read_slot(e, "LDX", IRQ_VECTOR, NULL);
    say_x(e, MAILBOX_VECTOR_LOW);
    read_slot(e, "LDX", IRQ_VECTOR + 1, NULL);
    say_x(e, MAILBOX_VECTOR_HIGH);
    zp(e, "LDX", counts ? RAM_VALUE : RAM_STEP);
    say_x(e, MAILBOX_STEP_SHOWN);
    end_line(e);
}

/* The kernel takes one from the hold before it looks, so that one more makes a whole hold. */
static void hold_on(struct encoder *e, const struct kernel_options *options) {
    const uint16_t hold = (uint16_t)(options->hold + 1);
    set(e, hold & 0xFF, RAM_HOLD);
    set(e, hold >> 8, RAM_HOLD + 1);
}

static void take_step(struct encoder *e, const struct kernel_options *options) {
    read_slot(e, "LDA", MAILBOX_STEP, NULL);
    if (options->plan->step_count < KERNEL_STEPS_MAX) {
        imm(e, "CMP", (int)options->plan->step_count);
        branch(e, "BCS", "served");
    }
    zp(e, "STA", RAM_STEP);
}

void mailbox_serve(struct encoder *e, const struct kernel_options *options) {
    const bool counts = plan_counts(options->plan);
    say_state(e, counts);
    read_slot(e, "LDA", MAILBOX_MODE, NULL);
    if (counts) {
        zp(e, "STA", RAM_MODE);
    }
    imm(e, "CMP", MAILBOX_HAND_OVER);
    branch(e, "BNE", "stay");
    encode_to(e, "JMP", MODE_ABSOLUTE, "hand_over", 0, NULL);
    encode_label(e, "stay");
    imm(e, "CMP", MAILBOX_HOLD);
    branch(e, "BNE", "served");
    if (!counts) {
        take_step(e, options);
    }
    hold_on(e, options);
    encode_label(e, "served");
}

/* Starts with VBLANK on, on the last line of the overscan. */
static void loop_sync(struct encoder *e, const struct standard_facts *facts) {
    const int others = facts->blank_lines + facts->picture_lines + facts->overscan_lines;
    encode_label(e, "ram_frame");
    imm(e, "LDA", 2);
    end_line(e);
    zp(e, "STA", TIA_VSYNC);
    for (int i = 0; i < facts->sync_lines; i++) {
        end_line(e);
    }
    set(e, 0, TIA_VSYNC);
    imm(e, "LDX", (others - 1 - LOOP_LAST_LINES) / 2);
    encode_label(e, "ram_pairs");
    end_line(e);
    end_line(e);
    one(e, "DEX");
    branch(e, "BNE", "ram_pairs");
}

/* Returns the offset of its waiting. */
static size_t loop_look(struct encoder *e) {
    read_slot(e, "LDA", MAILBOX_IN_RAM, "the console runs from its RAM");
    read_slot(e, "LDA", MAILBOX_MODE, NULL);
    imm(e, "CMP", MAILBOX_HAND_OVER);
    branch(e, "BNE", "ram_leave");
    imm(e, "LDX", LOOP_LAST_LINES);
    const size_t last = e->size;
    encode_label(e, "ram_last");
    end_line(e);
    one(e, "DEX");
    branch(e, "BNE", "ram_last");
    branch(e, "BEQ", "ram_frame");
    encode_label(e, "ram_leave");
    encode(e, "JMP", MODE_INDIRECT, ADDRESS_HIGH | RESET_VECTOR, "into the new image");
    return last;
}

/* Two bytes a line, from the last to the first. Returns the lines it ends. */
static int copy_loop(struct encoder *e, int size) {
    const int copied = (size + COPIED_A_LINE - 1) / COPIED_A_LINE * COPIED_A_LINE;
    imm(e, "LDX", copied - 1);
    encode_label(e, "copy");
    for (int i = 0; i < COPIED_A_LINE; i++) {
        encode_to(e, "LDA", MODE_ABSOLUTE_X, "ram_frame", 0, NULL);
        encode(e, "STA", MODE_ZERO_X, RAM_SLATE, NULL);
        one(e, "DEX");
    }
    end_line(e); /* a store leaves the flags alone */
    branch(e, "BPL", "copy");
    return copied / COPIED_A_LINE;
}

void mailbox_hand_over(struct encoder *e, enum standard standard) {
    const struct standard_facts *facts = &standard_table[standard];
    const size_t start = e->size;
    loop_sync(e, facts);
    const size_t last = loop_look(e) - start, size = e->size - start;
    encode_label(e, "hand_over");
    const int lines = MAILBOX_LINES + copy_loop(e, (int)size);
    if (e->problem.kind == PROBLEM_NONE && lines >= facts->overscan_lines - 1) {
        problem_set(&e->problem, PROBLEM_INPUT, "image: the hand-over takes %d lines to copy %zu bytes",
                    lines, size);
    }
    imm(e, "LDX", facts->overscan_lines - 1 - lines);
    encode(e, "JMP", MODE_ABSOLUTE, (uint16_t)(RAM_SLATE + last), "in RAM");
}

void mailbox_entry(struct encoder *e) {
    static const uint8_t mailbox[MAILBOX_IN_RAM - MAILBOX_MODE] = {0};
    encode_fill(e, e->limit - (0x2000 - MAILBOX_ENTRY));
    encode_label(e, "entry");
    encode_to(e, "JMP", MODE_ABSOLUTE, "reset", 0, NULL);
    encode_label(e, "mailbox");
    encode_data(e, mailbox, sizeof mailbox, "a board changes these");
    encode_fill(e, e->limit - 6);
    encode_label(e, "vectors");
    for (int i = 0; i < 3; i++) {
        encode_address(e, "entry");
    }
}
