/*
 * The 6502's documented instructions: mnemonic, addressing mode, length, cycles.
 * Source: MOS Technology, MCS6500 Family Programming Manual, 1976, instruction set summary.
 */
#ifndef SLOTJIG_ROM_OPCODES_H
#define SLOTJIG_ROM_OPCODES_H

#include <stdbool.h>
#include <stdint.h>

enum mode {
    MODE_NONE, /* not a documented opcode */
    MODE_IMPLIED,
    MODE_ACCUMULATOR,
    MODE_IMMEDIATE,
    MODE_ZERO,
    MODE_ZERO_X,
    MODE_ZERO_Y,
    MODE_ABSOLUTE,
    MODE_ABSOLUTE_X,
    MODE_ABSOLUTE_Y,
    MODE_INDIRECT,
    MODE_INDIRECT_X,
    MODE_INDIRECT_Y,
    MODE_RELATIVE
};

struct opcode {
    char mnemonic[4];
    enum mode mode;
    uint8_t cycles;  /* without penalties; a branch: not taken */
    bool cross_adds; /* one cycle more when the index crosses a page */
};

/* The row of an opcode; mode is MODE_NONE where it is not documented. */
struct opcode opcode_facts(uint8_t code);

/* The code of a mnemonic in a mode. False when there is none. */
bool opcode_find(const char *mnemonic, enum mode mode, uint8_t *code);

/* Bytes of an instruction, 1 to 3. */
int opcode_bytes(enum mode mode);

#endif
