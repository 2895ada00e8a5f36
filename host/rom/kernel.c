#include "rom/kernel.h"

#include "rom/bands.h"
#include "rom/counting.h"
#include "rom/mailbox.h"
#include "rom/phrases.h"
#include "rom/rows.h"
#include "rom/slate_code.h"
#include "rom/slate_lines.h"
#include "slate/slate.h"

#include <stdio.h>

static const enum reg held[] = {REG_COLUBK, REG_COLUPF, REG_CTRLPF, REG_PF0, REG_PF1, REG_PF2};
enum { HELD = sizeof held / sizeof held[0] };

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
    const int hold = options->hold + plan_counts(options->plan); /* as mailbox.c's hold_on() */
    set(e, hold & 0xFF, RAM_HOLD);
    set(e, hold >> 8 & 0xFF, RAM_HOLD + 1);
    if (options->dark > 0) {
        set(e, options->dark, RAM_DARK);
    }
}

/* In dark fields the hold stands still. */
static void count_dark(struct encoder *e) {
    zp(e, "LDA", RAM_DARK);
    branch(e, "BEQ", "light");
    zp(e, "DEC", RAM_DARK);
    imm(e, "LDA", 2);
    zp(e, "STA", RAM_BLANKING);
    zp(e, "STA", RAM_WORK);
    branch(e, "BNE", "counted");
    encode_label(e, "light");
    zp(e, "STA", RAM_BLANKING);
}

/* One line: the counter moves, the hold runs down; whether it ran out (0) is left in RAM_WORK. */
static void count_field(struct encoder *e, bool dark) {
    zp(e, "INC", RAM_COUNTER);
    zp(e, "LDA", RAM_COUNTER);
    imm(e, "AND", 0x3F);
    zp(e, "STA", RAM_COUNTER);
    if (dark) {
        count_dark(e);
    }
    zp(e, "LDA", RAM_HOLD);
    branch(e, "BNE", "held");
    zp(e, "DEC", RAM_HOLD + 1);
    encode_label(e, "held");
    zp(e, "DEC", RAM_HOLD);
    zp(e, "LDA", RAM_HOLD);
    zp(e, "ORA", RAM_HOLD + 1);
    zp(e, "STA", RAM_WORK);
    if (dark) {
        encode_label(e, "counted");
    }
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

/* Steps with routines of their own, rather than a table's row a line. */
static bool draws_bands(const struct plan *plan) {
    return bands_wanted(plan) && !rows_wanted(plan);
}

/* The work of a field: the value to show, its slate, what its picture needs. */
static void blank(struct encoder *e, const struct kernel_options *options, int lines) {
    const struct counting *counting = counting_of(options->plan);
    int work = 1 + slate_code_lines(options->plan);
    count_field(e, options->dark > 0);
    if (counting == NULL) {
        next_step(e, options);
        load_registers(e, draws_bands(options->plan));
        work += 2;
    } else {
        counting_next(e, options);
        work += COUNTING_NEXT_LINES;
    }
    slate_code_emit(e, options);
    if (counting != NULL) {
        counting->prepare(e, options->plan);
        work += counting->prepare_lines;
    }
    slate_ready(e);
    wait_lines(e, lines - work, "blank");
}

/* After a jump all registers are written 5 cycles later. */
static void picture(struct encoder *e, int lines, bool bands) {
    if (bands) {
        encode(e, "JMP", MODE_INDIRECT, RAM_VECTOR, "to the step's own picture");
    }
    encode_label(e, "picture");
    show_registers(e);
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

static size_t next_page(const struct encoder *e) {
    return (e->size + 0xFF) & ~(size_t)0xFF;
}

static void slate(struct encoder *e, const struct kernel_options *options) {
    const struct counting *counting = counting_of(options->plan);
    encode_fill(e, next_page(e)); /* so that no branch of the slate's rows crosses a page */
    slate_lines(e, options->dark > 0 ? RAM_BLANKING : 0, counting == NULL ? NULL : counting->spare);
}

static void steps_picture(struct encoder *e, const struct kernel_options *options) {
    const struct standard_facts *facts = &standard_table[options->plan->standard];
    struct rows rows;
    const bool by_rows = rows_of(options->plan, &rows);
    const bool bands = draws_bands(options->plan);
    if (by_rows) {
        rows_picture(e, &rows);
    } else {
        picture(e, facts->picture_lines - SLATE_LINES, bands);
    }
    overscan(e, options, facts->overscan_lines);
    if (bands) {
        bands_emit(e, options->plan);
    }
    slate_code_tables(e, options->plan, 0, SIZE_MAX);
    register_tables(e, options->plan);
    if (bands) {
        bands_tables(e, options->plan);
    }
    if (by_rows) {
        rows_tables(e, &rows);
    }
}

/* The picture has a page's start, so that no branch of its crosses one; tables fill the page before. */
static void counted_picture(struct encoder *e, const struct kernel_options *options) {
    const struct counting *counting = counting_of(options->plan);
    encode_to(e, "JMP", MODE_ABSOLUTE, "picture", 0, NULL);
    overscan(e, options, standard_table[options->plan->standard].overscan_lines);
    const size_t page = next_page(e);
    const int next = slate_code_tables(e, options->plan, 0, page);
    encode_fill(e, page);
    counting->picture(e, options->plan);
    slate_code_tables(e, options->plan, next, SIZE_MAX);
    if (counting->tables != NULL) {
        counting->tables(e);
    }
}

void kernel_emit(struct encoder *e, const struct kernel_options *options) {
    const struct standard_facts *facts = &standard_table[options->plan->standard];
    cold_start(e, options);
    vertical_sync(e, facts->sync_lines);
    blank(e, options, facts->blank_lines);
    encode_to(e, "JMP", MODE_ABSOLUTE, "band", 0, NULL);
    mailbox_hand_over(e, options->plan->standard);
    slate(e, options);
    if (plan_counts(options->plan)) {
        counted_picture(e, options);
    } else {
        steps_picture(e, options);
    }
    mailbox_entry(e);
}
