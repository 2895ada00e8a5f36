/*
 * The processor: an NMOS 6502 core as the 6507 has it, without interrupt inputs. Freestanding.
 * This header has what every bus shares; cpu6507_core.h has the instructions, compiled once for each kind
 * of bus. Sources: MOS MCS6500 Family Hardware Manual (bus cycles) and Programming Manual (documented
 * opcodes); the undocumented ones after the transistor-level simulation that cpu-cases.txt comes from.
 */
#ifndef SLOTJIG_VIRTUAL_CPU6507_H
#define SLOTJIG_VIRTUAL_CPU6507_H

#include <stdbool.h>
#include <stdint.h>

/* The status register; bit 5 has no storage, bit 4 (B) exists only in the pushed byte. */
enum {
    CPU_C = 0x01,
    CPU_Z = 0x02,
    CPU_I = 0x04,
    CPU_D = 0x08,
    CPU_B = 0x10,
    CPU_ONE = 0x20,
    CPU_V = 0x40,
    CPU_N = 0x80
};

struct cpu6507 {
    uint16_t pc; /* all 16 bits; the 6507's bus shows 13 of them */
    uint8_t a, x, y, s;
    uint8_t p;   /* CPU_ONE set, CPU_B clear */
    bool jammed; /* met an opcode that stops the processor; only a reset helps */
};

/* How the operand is addressed. */
enum cpu_mode {
    CPU_IMP,  /* none, or the accumulator */
    CPU_IMM,  /* the byte after the opcode */
    CPU_ZP,   /* zero page */
    CPU_ZPX,  /* zero page, X */
    CPU_ZPY,  /* zero page, Y */
    CPU_ABS,  /* absolute */
    CPU_ABSX, /* absolute, X */
    CPU_ABSY, /* absolute, Y */
    CPU_INDX, /* (zero page, X) */
    CPU_INDY, /* (zero page), Y */
    CPU_REL   /* branches */
};

/* What is done. The order makes four groups: reading, storing, read-modify-write, the rest. */
enum cpu_op {
    /* reading a byte */
    OP_ADC,
    OP_AND,
    OP_BIT,
    OP_CMP,
    OP_CPX,
    OP_CPY,
    OP_EOR,
    OP_LDA,
    OP_LDX,
    OP_LDY,
    OP_ORA,
    OP_SBC,
    OP_IGN, /* reads and forgets */
    OP_LAX,
    OP_ANC,
    OP_ALR,
    OP_ARR,
    OP_ANE,
    OP_LXA,
    OP_SBX,
    OP_LAS,
    /* storing a byte */
    OP_STA,
    OP_STX,
    OP_STY,
    OP_SAX,
    OP_SHA, /* this and the next three store through the address's high byte */
    OP_SHX,
    OP_SHY,
    OP_TAS,
    /* read-modify-write, on memory or (CPU_IMP) on the accumulator */
    OP_ASL,
    OP_DEC,
    OP_INC,
    OP_LSR,
    OP_ROL,
    OP_ROR,
    OP_SLO,
    OP_RLA,
    OP_SRE,
    OP_RRA,
    OP_DCP,
    OP_ISC,
    /* registers only */
    OP_CLC,
    OP_CLD,
    OP_CLI,
    OP_CLV,
    OP_SEC,
    OP_SED,
    OP_SEI,
    OP_DEX,
    OP_DEY,
    OP_INX,
    OP_INY,
    OP_TAX,
    OP_TAY,
    OP_TSX,
    OP_TXA,
    OP_TXS,
    OP_TYA,
    OP_NOP,
    /* flow and stack */
    OP_BPL, /* the eight branches in the order of their opcodes */
    OP_BMI,
    OP_BVC,
    OP_BVS,
    OP_BCC,
    OP_BCS,
    OP_BNE,
    OP_BEQ,
    OP_BRK,
    OP_JMP,
    OP_JMI, /* JMP (address) */
    OP_JSR,
    OP_RTI,
    OP_RTS,
    OP_PHA,
    OP_PHP,
    OP_PLA,
    OP_PLP,
    OP_JAM
};

struct cpu_code {
    uint8_t op;   /* enum cpu_op */
    uint8_t mode; /* enum cpu_mode */
};
extern const struct cpu_code cpu_decode[256];

/* The arithmetic, decimal mode as the NMOS part has it (N, V and Z as left there too). */
void cpu_adc(struct cpu6507 *cpu, uint8_t value);
void cpu_sbc(struct cpu6507 *cpu, uint8_t value);
void cpu_arr(struct cpu6507 *cpu, uint8_t value);

#endif
