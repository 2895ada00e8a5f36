#include "rom/check_kernel.h"

#include "plan/check_screen.h"
#include "rom/phrases.h"
#include "slotjig/slate.h"

enum {
    /* The 6532's [H]. */
    TIM64T = 0x296,
    INTIM = 0x284,
    TIMINT = 0x285, /* bit 7: it has passed 0 */
    TIMER_STEP = 64,
    SET_CYCLES = 6, /* LDA, STA: the timer is set with that cycle of the window's first line */
    /* Where in the window's last line the timer may come to 0: room for a wait's turn before, and for the way
     * to the next frame after it. */
    ZERO_FROM = 5,
    ZERO_TO = 55,
    /* From there to `work`, and from `work_done` to the last read that finds the timer still running. */
    ENTER_CYCLES = 15, /* INC, LDA, CMP, BCC, JMP */
    LEAVE_CYCLES = 21, /* BIT, BMI, LDA, BEQ, CMP, BCS, LDA; and one cycle as a margin */
    LATE_BYTES = 25,
    WAIT_BYTES = 28,
    CLEAR_BYTES = 48,
    RAM_DARK_LEFT = RAM_VECTOR,
    RAM_DARK_BLANK = RAM_VECTOR + 1
};

static int window_lines(enum standard standard) {
    const struct standard_facts *facts = &standard_table[standard];
    return standard_plan_lines(standard) + facts->overscan_lines - CHECK_SCREEN_LINES;
}

/* What the timer is set to, and the cycle of the window in which it comes to 0. */
static int timer_of(enum standard standard, int *zero) {
    const int last = (window_lines(standard) - 1) * LINE_CYCLES;
    int steps = 0;
    while (SET_CYCLES + 1 + steps * TIMER_STEP < last + ZERO_FROM) {
        steps++;
    }
    *zero = SET_CYCLES + 1 + steps * TIMER_STEP;
    return steps + 1;
}

int check_window(enum standard standard) {
    int zero = 0;
    timer_of(standard, &zero);
    return zero - SET_CYCLES - ENTER_CYCLES - LEAVE_CYCLES;
}

static void start(struct encoder *e, const struct cart_check *check) {
    encode_label(e, "reset");
    one(e, "SEI");
    one(e, "CLD");
    imm(e, "LDX", 0xFF);
    one(e, "TXS");
    check_work_warm(e, check);
    encode_label(e, "cold");
    encode_to(e, "JMP", MODE_ABSOLUTE, "clear", 0, NULL);
}

static void cold_start(struct encoder *e, const struct kernel_options *options) {
    static const enum reg dark[] = {REG_CTRLPF, REG_PF0, REG_PF1, REG_PF2};
    encode_room(e, CLEAR_BYTES);
    encode_label(e, "clear");
    imm(e, "LDA", 0);
    imm(e, "LDX", 0x7F);
    encode_label(e, "clear_ram");
    encode(e, "STA", MODE_ZERO_X, RAM_SLATE, NULL);
    one(e, "DEX");
    branch(e, "BPL", "clear_ram");
    for (size_t i = 0; i < sizeof dark / sizeof dark[0]; i++) {
        zp(e, "STA", reg_address(dark[i]));
    }
    imm(e, "LDX", TIA_ENABL - TIA_AUDV0);
    encode_label(e, "clear_tia");
    encode(e, "STA", MODE_ZERO_X, TIA_AUDV0, "sound, players, missiles and ball off");
    one(e, "DEX");
    branch(e, "BPL", "clear_tia");
    encode(e, "LDA", MODE_ABSOLUTE, 0xE000 | CHECK_BANK_AT, "the bank that came up");
    zp(e, "STA", RAM_HOME);
    if (options->dark > 0) {
        set(e, options->dark, RAM_DARK_LEFT);
    }
    set(e, SLATE_WHITE, reg_address(REG_COLUPF));
    check_text_start(e);
    check_work_start(e, &options->plan->check);
    encode_to(e, "JMP", MODE_ABSOLUTE, "frame", 0, NULL);
}

static void count_field(struct encoder *e, bool dark) {
    zp(e, "INC", RAM_COUNTER); /* of whose bits the slate takes six */
    if (dark) {
        zp(e, "LDA", RAM_DARK_LEFT);
        branch(e, "BEQ", "light");
        zp(e, "DEC", RAM_DARK_LEFT);
        imm(e, "LDA", 2);
        encode_label(e, "light");
        zp(e, "STA", RAM_DARK_BLANK);
    }
}

/* The work is done in a field whose item has been shown long enough. */
static void window(struct encoder *e, const struct kernel_options *options) {
    int zero = 0;
    const int set_to = timer_of(options->plan->standard, &zero);
    encode_label(e, "window");
    imm(e, "LDA", set_to);
    encode(e, "STA", MODE_ABSOLUTE, TIM64T, "sets the timer");
    zp(e, "INC", RAM_SHOWN_FOR);
    zp(e, "LDA", RAM_SHOWN_FOR);
    imm(e, "CMP", options->hold);
    branch(e, "BCC", "work_done");
    encode_to(e, "JMP", MODE_ABSOLUTE, "work", 0, NULL);
    encode_window(e, "work_done");
    encode_room(e, WAIT_BYTES);
    encode_label(e, "work_done");
    encode(e, "BIT", MODE_ABSOLUTE, TIMINT, "has passed 0?");
    branch(e, "BMI", "late");
    encode(e, "LDA", MODE_ABSOLUTE, INTIM, NULL);
    branch(e, "BEQ", "late");
    imm(e, "CMP", set_to);
    branch(e, "BCS", "late"); /* it passed 0 between the two reads, of which the second ends the flag */
    encode_label(e, "run_down");
    encode(e, "LDA", MODE_ABSOLUTE, INTIM, NULL);
    branch(e, "BNE", "run_down");
    encode_timer(e);
    encode_to(e, "JMP", MODE_ABSOLUTE, "frame", 0, NULL);
}

/* Work that took too long made the field longer: that is an error, and told. INTIM at 0 already is late too:
 * the wait would find it anywhere in the 64 cycles that follow. */
static void late(struct encoder *e) {
    encode_room(e, LATE_BYTES);
    encode_label(e, "late");
    imm(e, "LDX", 2);
    encode_never(e);
    encode_label(e, "late_byte");
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "late_item", 0, NULL);
    encode(e, "STA", MODE_ZERO_X, RAM_VALUE, NULL);
    encode(e, "STA", MODE_ZERO_X, RAM_FIRST_ERROR, NULL);
    one(e, "DEX");
    branch(e, "BPL", "late_byte");
    zp(e, "INC", RAM_ERRORS);
    branch(e, "BNE", "late_told");
    zp(e, "INC", RAM_ERRORS + 1);
    encode_label(e, "late_told");
    set(e, 0, RAM_SHOWN_FOR);
    encode_to(e, "JMP", MODE_ABSOLUTE, "frame", 0, NULL);
}

static void late_table(struct encoder *e, const struct cart_check *check) {
    const uint8_t item[] = {(uint8_t)(check->scheme | (check->ram ? 8 : 0)), CHECK_LATE, CHECK_START};
    encode_room(e, sizeof item);
    encode_label(e, "late_item");
    encode_data(e, item, sizeof item, "what a late field shows");
}

/* The slate's rows want a page of their own, so there is room above it. */
static void between(struct encoder *e, const struct kernel_options *options) {
    cold_start(e, options);
    check_slate_tables(e);
    late_table(e, &options->plan->check);
}

static void bank_end(struct encoder *e) {
    e->sealed = false;
    encode_fill(e, e->limit - (0x2000 - CHECK_BANK_AT));
    encode_label(e, "bank");
    encode_data(e, (const uint8_t[]){0}, 1, "the bank's number");
    encode_fill(e, e->limit - 6);
    encode_label(e, "vectors");
    for (int i = 0; i < 3; i++) {
        encode_address(e, "reset");
    }
}

void check_kernel_emit(struct encoder *e, const struct kernel_options *options) {
    const struct plan *plan = options->plan;
    const struct standard_facts *facts = &standard_table[plan->standard];
    if (e->limit == 4096) {
        encode_fill(e, SCHEME_PAGE); /* with RAM the first page does not show */
    }
    encode_sealed(e);
    vertical_sync(e, facts->sync_lines);
    count_field(e, options->dark > 0);
    check_slate_prepare(e, options->hash);
    wait_lines(e, facts->blank_lines - check_slate_lines(), "blank");
    encode_to(e, "JMP", MODE_ABSOLUTE, "band", 0, NULL);
    between(e, options);
    const bool started = check_slate_draw(e, &plan->check, options->dark > 0 ? RAM_DARK_BLANK : 0, start);
    check_text_emit(e);
    window(e, options);
    late(e);
    if (!started) {
        start(e, &plan->check);
    }
    check_work_emit(e, &plan->check, check_window(plan->standard));
    check_text_tables(e);
    bank_end(e);
}
