/*
 * What the cartridge does while A12 = 0, as far as it shows: run from the cartridge, so that each read comes
 * right after a cycle in which it had to drive the bus.
 */
#include "rom/check_work.h"

enum {
    /* The 6532's [H]. */
    SWCHA = 0x280,
    SWACNT = 0x281,
    SWCHB = 0x282,
    SWBCNT = 0x283,
    INTIM = 0x284,
    /* Port B: bits without a switch [P]. */
    NO_SWITCH = 0x34,
    TIMER_READS = 250,
    OPEN_BITS = 0x3F
};

static const uint8_t patterns[] = {0xFF, 0x00, 0x55, 0xAA};
enum { PATTERNS = sizeof patterns };

static void differs(struct encoder *e) {
    zp(e, "ORA", WORK_WHAT);
    zp(e, "STA", WORK_WHAT);
}

static void begin(const struct work *work, const char *label) {
    encode_label(work->e, label);
    set(work->e, 0, WORK_WHAT);
}

/* Over the slate's rows. */
static void ram_quiet(const struct work *work) {
    struct encoder *e = work->e;
    encode_room(e, 32);
    begin(work, "quiet_ram");
    imm(e, "LDX", CHECK_JOB_MAX - 1);
    encode_label(e, "quiet_cell");
    imm(e, "LDY", PATTERNS - 1);
    encode_label(e, "quiet_pattern");
    encode_to(e, "LDA", MODE_ABSOLUTE_Y, "patterns", 0, NULL);
    encode(e, "STA", MODE_ZERO_X, CHECK_JOB_AT, NULL);
    encode(e, "EOR", MODE_ZERO_X, CHECK_JOB_AT, NULL);
    differs(e);
    one(e, "DEY");
    branch(e, "BPL", "quiet_pattern");
    one(e, "DEX");
    branch(e, "BPL", "quiet_cell");
    work_jump(work, "quiet_show");
}

static void direction(struct encoder *e, int bits, int at) {
    encode_to(e, "LDA", MODE_ABSOLUTE_X, "patterns", 0, NULL);
    if (bits != 0xFF) {
        imm(e, "AND", bits);
    }
    encode(e, "STA", MODE_ABSOLUTE, (uint16_t)at, NULL);
    encode(e, "EOR", MODE_ABSOLUTE, (uint16_t)at, NULL);
    differs(e);
}

/* The directions hold the patterns; a pin that becomes an output by it goes low, as a switch to ground takes
 * it too, so that nothing drives against a switch. Of port B only what has none. */
static void ports_quiet(const struct work *work) {
    struct encoder *e = work->e;
    encode_room(e, 64);
    begin(work, "quiet_ports");
    encode(e, "STA", MODE_ABSOLUTE, SWCHA, "outputs are low");
    encode(e, "STA", MODE_ABSOLUTE, SWCHB, NULL);
    imm(e, "LDX", PATTERNS - 1);
    encode_label(e, "quiet_direction");
    direction(e, NO_SWITCH, SWBCNT);
    direction(e, 0xFF, SWACNT);
    one(e, "DEX");
    branch(e, "BPL", "quiet_direction");
    encode(e, "LDA", MODE_ABSOLUTE, SWCHA, "all pins, driven low");
    differs(e);
    imm(e, "LDA", 0);
    encode(e, "STA", MODE_ABSOLUTE, SWACNT, "inputs again");
    encode(e, "STA", MODE_ABSOLUTE, SWBCNT, NULL);
    work_jump(work, "quiet_show");
}

/* The timer that ends the window, read again and again: each time as before, or one less. */
static void timer_quiet(const struct work *work) {
    struct encoder *e = work->e;
    encode_room(e, 40);
    begin(work, "quiet_timer");
    imm(e, "LDX", TIMER_READS);
    encode(e, "LDY", MODE_ABSOLUTE, INTIM, NULL);
    encode_label(e, "quiet_timer_on");
    zp(e, "STY", WORK_T);
    encode(e, "LDY", MODE_ABSOLUTE, INTIM, NULL);
    zp(e, "CPY", WORK_T);
    branch(e, "BEQ", "quiet_timer_right");
    zp(e, "DEC", WORK_T);
    one(e, "TYA");
    zp(e, "EOR", WORK_T);
    differs(e);
    encode_label(e, "quiet_timer_right");
    one(e, "DEX");
    branch(e, "BNE", "quiet_timer_on");
    encode_label(e, "quiet_show");
    zp(e, "LDA", WORK_STAGE);
    one(e, "SEC");
    imm(e, "SBC", STAGE_QUIET);
    one(e, "TAX");
    zp(e, "INC", WORK_STAGE);
    zp(e, "LDA", WORK_WHAT);
    work_item(work, CHECK_QUIET, "judge");
}

/* Registers of the TIA whose addresses are complements in D5 to D0: the last byte on the bus is the address.
 * What else is read there is told, and no fault. */
static void open_quiet(const struct work *work) {
    static const uint8_t addresses[] = {0x0A, 0x35};
    struct encoder *e = work->e;
    begin(work, "quiet_open");
    for (size_t i = 0; i < sizeof addresses; i++) {
        zp(e, "LDA", addresses[i]);
        imm(e, "EOR", addresses[i]);
        imm(e, "AND", OPEN_BITS);
        differs(e);
    }
    imm(e, "LDX", CHECK_QUIET_OPEN);
    zp(e, "INC", WORK_STAGE);
    work_item(work, CHECK_QUIET, "show");
}

void work_quiet(const struct work *work) {
    ram_quiet(work);
    ports_quiet(work);
    timer_quiet(work);
    open_quiet(work);
    encode_room(work->e, PATTERNS);
    encode_label(work->e, "patterns");
    encode_data(work->e, patterns, PATTERNS, NULL);
}
