/*
 * The PIO blocks: registers and instructions. RP2040 data sheet: registers 3.7, instructions 3.4, one
 * function here for each of them. Delays and side-set go on top: DELAY(n), or SIDE(value) with one side-set
 * bit.
 */
#ifndef SLOTJIG_RP2040_PIO_H
#define SLOTJIG_RP2040_PIO_H

#include "rp2040/regs.h"

#define PIO0_BASE 0x50200000u
#define PIO1_BASE 0x50300000u
#define PIO_CTRL(pio) ((pio) + 0x000u)
#define PIO_FSTAT(pio) ((pio) + 0x004u)
#define PIO_TXF(pio, machine) ((pio) + 0x010u + 4u * (uint32_t)(machine))
#define PIO_RXF(pio, machine) ((pio) + 0x020u + 4u * (uint32_t)(machine))
#define PIO_IRQ(pio) ((pio) + 0x030u)
#define PIO_SYNC_BYPASS(pio) ((pio) + 0x038u)
#define PIO_PROGRAM(pio, at) ((pio) + 0x048u + 4u * (uint32_t)(at))
#define PIO_CLKDIV(pio, machine) ((pio) + 0x0C8u + 0x18u * (uint32_t)(machine))
#define PIO_EXECCTRL(pio, machine) (PIO_CLKDIV(pio, machine) + 4u)
#define PIO_SHIFTCTRL(pio, machine) (PIO_CLKDIV(pio, machine) + 8u)
#define PIO_INSTR(pio, machine) (PIO_CLKDIV(pio, machine) + 16u)
#define PIO_PINCTRL(pio, machine) (PIO_CLKDIV(pio, machine) + 20u)

enum {
    PIO_INSTRUCTIONS = 32,
    GPIO_PIO0 = 6, /* pin function */
    PIO_RESTART_SHIFT = 4,
    /* EXECCTRL */
    PIO_WRAP_BOTTOM = 7,
    PIO_WRAP_TOP = 12,
    PIO_JMP_PIN = 24,
    /* SHIFTCTRL; a threshold of 0 is 32 */
    PIO_AUTOPUSH = 1 << 16,
    PIO_AUTOPULL = 1 << 17,
    PIO_OUT_RIGHT = 1 << 19,
    PIO_PUSH_AT = 20,
    PIO_PULL_AT = 25,
    /* PINCTRL */
    PIO_OUT_BASE = 0,
    PIO_SET_BASE = 5,
    PIO_SIDE_BASE = 10,
    PIO_IN_BASE = 15,
    PIO_OUT_COUNT = 20,
    PIO_SET_COUNT = 26,
    PIO_SIDE_COUNT = 29
};

enum pio_jmp { JMP_ALWAYS, JMP_NOT_X, JMP_X_DOWN, JMP_NOT_Y, JMP_Y_DOWN, JMP_DIFFER, JMP_PIN, JMP_NOT_OSRE };
/* Sources of IN and MOV, destinations of OUT, MOV and SET: the same numbers where both have them. */
enum pio_place { AT_PINS, AT_X, AT_Y, AT_NULL, AT_PINDIRS, AT_PC, AT_ISR, AT_OSR };

#define PIO_WORD(op, high, low) ((uint16_t)((op) << 13 | (high) << 5 | (low)))
#define DELAY(cycles) ((uint16_t)((cycles) << 8))
#define SIDE(value) ((uint16_t)((value) << 12))

#define JMP(condition, to) PIO_WORD(0, condition, to)
#define WAIT_IRQ_SET(flag) PIO_WORD(1, 6, flag) /* waits for a 1, then clears the flag */
#define IN(from, bits) PIO_WORD(2, from, bits)
#define OUT(to, bits) PIO_WORD(3, to, bits)
#define PULL_BLOCK PIO_WORD(4, 5, 0)
#define PULL_NOBLOCK PIO_WORD(4, 4, 0)
#define MOV(to, from) PIO_WORD(5, to, from)
#define MOV_NOT(to, from) PIO_WORD(5, to, 1 << 3 | (from))
#define IRQ_SET(flag) PIO_WORD(6, 0, flag)
#define SET(to, value) PIO_WORD(7, to, value)
#define NOP MOV(AT_Y, AT_Y)

#endif
