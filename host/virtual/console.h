/*
 * The console model: a 6507, a TIA that draws background and playfield by the colour clock, and a 6532.
 * No libc: freestanding C17 (stdint, stdbool, stddef only), so that one source also builds for wasm32. No
 * allocation: the caller owns struct console (it is large; keep it off the stack).
 */
#ifndef SLOTJIG_VIRTUAL_CONSOLE_H
#define SLOTJIG_VIRTUAL_CONSOLE_H

#include "virtual/cpu6507.h"
#include "virtual/riot6532.h"
#include "virtual/tia.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What sits in the slot. Addresses are 13 bits. console->cycles is right at each call; it jumps where the
 * processor waits. */
struct cartridge {
    void *state;
    /* Every read cycle with A12 = 1, those whose data nobody uses included. bus: what is on the data lines if
     * the cartridge does not drive them. */
    uint8_t (*read)(void *state, uint16_t address, uint8_t bus);
    /* Every write cycle with A12 = 1. May be NULL: counted as unmodelled. */
    void (*write)(void *state, uint16_t address, uint8_t value);
    /* Told of every other bus cycle, reads and writes; bus: what is on the data lines. May be NULL. */
    void (*pass)(void *state, uint16_t address, uint8_t bus);
    /* Instead of pass, of a cartridge that may drive the data lines with A12 = 0 as well: what is on them
     * then. driven: the lines that the processor or a chip drives; the others float. May be NULL. */
    uint8_t (*hold)(void *state, uint16_t address, uint8_t driven, uint8_t bus);
    uint8_t data_stuck_low, data_stuck_high; /* masks: data lines of the cartridge stuck, seen by the
                                                processor only on cartridge reads */
};

struct console {
    struct cpu6507 cpu;
    struct tia tia;
    struct riot6532 riot;
    struct cartridge cartridge;
    uint64_t cycles;            /* bus cycles since power-on */
    uint64_t unmodelled_writes; /* writes to something the model does not have */
    uint16_t unmodelled_last;   /* address of the last of them */
    uint64_t unmodelled_reads;  /* reads of the TIA: collisions and inputs, which float or read 0 */
    /* The rest is console.c's. */
    uint64_t line_end; /* bus cycle at which the current line ends */
    uint64_t ready_at; /* bus cycle before which no read goes on: set by WSYNC */
    uint8_t bus;       /* what was last on the data lines */
    bool listens;      /* the cartridge has pass or hold */
};

/* RAM and registers random from the seed; then the reset sequence. chip: settings and faults of the TIA
 * (copied). */
void console_power_on(struct console *console, const struct tia_chip *chip, const struct cartridge *cartridge,
                      uint64_t seed);

/* Runs until the TIA has finished one field (the start of the next vertical sync) or max_lines lines have
 * passed (at most TIA_LINES_MAX). True when a vertical sync ended it. The field drawn is console->tia.field,
 * at rest until the next call. A jammed or runaway processor only makes it return false. */
bool console_run_field(struct console *console, int max_lines);

#endif
