/* Short names for what kernels say most. Inside rom/ only. */
#ifndef SLOTJIG_ROM_PHRASES_H
#define SLOTJIG_ROM_PHRASES_H

#include "rom/encoder.h"
#include "rom/kernel.h"

static inline void imm(struct encoder *e, const char *mnemonic, int value) {
    encode(e, mnemonic, MODE_IMMEDIATE, (uint16_t)value, NULL);
}

static inline void zp(struct encoder *e, const char *mnemonic, int address) {
    encode(e, mnemonic, MODE_ZERO, (uint16_t)address, NULL);
}

static inline void one(struct encoder *e, const char *mnemonic) {
    encode(e, mnemonic, MODE_IMPLIED, 0, NULL);
}

static inline void end_line(struct encoder *e) {
    encode(e, "STA", MODE_ZERO, TIA_WSYNC, "line ends");
}

static inline void set(struct encoder *e, int value, int address) {
    imm(e, "LDA", value);
    zp(e, "STA", address);
}

static inline void branch(struct encoder *e, const char *mnemonic, const char *label) {
    encode_to(e, mnemonic, MODE_RELATIVE, label, 0, NULL);
}

static inline void shift(struct encoder *e, const char *mnemonic, int times) {
    for (int i = 0; i < times; i++) {
        encode(e, mnemonic, MODE_ACCUMULATOR, 0, NULL);
    }
}

/* The step's registers, of which CTRLPF is in X and PF0 in Y already, in 24 cycles: each before its first
 * cell, COLUPF, CTRLPF and PF0 by cycle 12 (22.67 is the picture's edge), PF1 by 18 (28), PF2 by 24 (38.67)
 * [A]. */
static inline void show_registers(struct encoder *e) {
    zp(e, "LDA", RAM_HELD + 1);
    zp(e, "STA", reg_address(REG_COLUPF));
    zp(e, "STX", reg_address(REG_CTRLPF));
    zp(e, "STY", reg_address(REG_PF0));
    zp(e, "LDA", RAM_HELD + 4);
    zp(e, "STA", reg_address(REG_PF1));
    zp(e, "LDA", RAM_HELD + 5);
    zp(e, "STA", reg_address(REG_PF2));
}

/* Begins a field, at label `frame`. */
static inline void vertical_sync(struct encoder *e, int lines) {
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

/* So many lines in which nothing happens. Uses X. */
static inline void wait_lines(struct encoder *e, int lines, const char *label) {
    if (lines <= 0) {
        return;
    }
    imm(e, "LDX", lines);
    encode_label(e, label);
    end_line(e);
    one(e, "DEX");
    branch(e, "BNE", label);
}

#endif
