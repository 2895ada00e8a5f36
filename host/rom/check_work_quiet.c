/*
 * What the cartridge does while A12 = 0, as far as it shows: run from the cartridge, so that each read comes
 * right after a cycle in which it had to drive the bus.
 */
#include "rom/check_work.h"

#include <stdio.h>

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

static const uint8_t patterns[] = {0x00, 0xFF, 0x55, 0xAA};
enum { PATTERNS = sizeof patterns };

static void differs(struct encoder *e) {
    zp(e, "ORA", WORK_WHAT);
    zp(e, "STA", WORK_WHAT);
}

static void ram_quiet(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "quiet_0");
    imm(e, "LDX", CHECK_JOB_MAX - 1);
    encode_room(e, 64);
    encode_label(e, "quiet_ram_on");
    for (int i = 0; i < PATTERNS; i++) {
        imm(e, "LDA", patterns[i]);
        encode(e, "STA", MODE_ZERO_X, CHECK_JOB_AT, NULL);
        encode(e, "EOR", MODE_ZERO_X, CHECK_JOB_AT, NULL);
        differs(e);
    }
    one(e, "DEX");
    branch(e, "BPL", "quiet_ram_on");
    work_jump(work, "quiet_show");
}

static void port(struct encoder *e, int direction, int pattern) {
    imm(e, "LDA", pattern);
    encode(e, "STA", MODE_ABSOLUTE, (uint16_t)direction, NULL);
    encode(e, "EOR", MODE_ABSOLUTE, (uint16_t)direction, NULL);
    differs(e);
}

/* The directions hold the patterns; a pin that becomes an output by it goes low, as a switch to ground takes
 * it too, so that nothing drives against a switch. Of port B only what has none. */
static void ports_quiet(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "quiet_1");
    imm(e, "LDA", 0);
    encode(e, "STA", MODE_ABSOLUTE, SWCHA, "outputs are low");
    encode(e, "STA", MODE_ABSOLUTE, SWCHB, NULL);
    for (int i = 0; i < PATTERNS; i++) {
        port(e, SWACNT, patterns[i]);
        port(e, SWBCNT, patterns[i] & NO_SWITCH);
    }
    imm(e, "LDA", 0xFF);
    encode(e, "STA", MODE_ABSOLUTE, SWACNT, NULL);
    encode(e, "LDA", MODE_ABSOLUTE, SWCHA, "pins that are driven low");
    differs(e);
    imm(e, "LDA", 0);
    encode(e, "STA", MODE_ABSOLUTE, SWACNT, "inputs again");
    encode(e, "STA", MODE_ABSOLUTE, SWBCNT, NULL);
    work_jump(work, "quiet_show");
}

/* The timer that ends the window, read again and again: each time as before, or one less. */
static void timer_quiet(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "quiet_2");
    imm(e, "LDX", TIMER_READS);
    encode(e, "LDY", MODE_ABSOLUTE, INTIM, NULL);
    encode_room(e, 40);
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
    work_jump(work, "quiet_show");
}

/* Registers of the TIA whose addresses are complements in D5 to D0: the last byte on the bus is the address.
 */
static void open_quiet(struct encoder *e) {
    static const uint8_t addresses[] = {0x0A, 0x35};
    encode_label(e, "quiet_3");
    for (size_t i = 0; i < sizeof addresses; i++) {
        zp(e, "LDA", addresses[i]);
        imm(e, "EOR", addresses[i]);
        imm(e, "AND", OPEN_BITS);
        differs(e);
    }
}

void work_quiet(const struct work *work) {
    struct encoder *e = work->e;
    encode_label(e, "quiet");
    set(e, 0, WORK_WHAT);
    zp(e, "LDX", WORK_PLACE);
    for (int quiet = 0; quiet < CHECK_QUIETS - 1; quiet++) {
        char next[LABEL_MAX], here[LABEL_MAX];
        snprintf(next, sizeof next, "not_quiet_%d", quiet);
        snprintf(here, sizeof here, "quiet_%d", quiet);
        imm(e, "CPX", quiet);
        branch(e, "BNE", next);
        work_jump(work, here);
        encode_label(e, next);
    }
    open_quiet(e);
    work_next_stage(work, STAGE_ROUND);
    zp(e, "LDA", WORK_WHAT);
    imm(e, "LDX", CHECK_QUIET_OPEN);
    work_item(work, CHECK_QUIET, "show");
    encode_label(e, "quiet_show");
    zp(e, "LDX", WORK_PLACE);
    zp(e, "INC", WORK_PLACE);
    zp(e, "LDA", WORK_WHAT);
    work_item(work, CHECK_QUIET, "judge");
    ram_quiet(work);
    ports_quiet(work);
    timer_quiet(work);
}
