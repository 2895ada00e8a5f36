/*
 * The slot's PIO programs. Who does what:
 *
 *   read    (PIO1)  for ever: where the byte of this address lies -> DMA -> the byte -> put
 *   put     (PIO0)  the byte on the data pins' output registers
 *   drive   (PIO0)  data pins are outputs while A12 = 1, but not in the RAM's write window; PIN_DIRECTION
 *   steady  (PIO0)  an address seen the same in three samples, once for each change -> DMA -> an instruction
 *                   for `read` out of a table: SET X, bank at a hotspot, IRQ 0 in the write window
 *   cycle   (PIO1)  IRQ 1 for each bus cycle that stays at an address of the write window
 *   write   (PIO1)  on IRQ 1 samples the data lines late in the cycle -> DMA -> the RAM's eight lanes
 *
 * boards/pico/timing.md counts the cycles.
 */
#ifndef SLOTJIG_RP2040_SLOT_PROGRAMS_H
#define SLOTJIG_RP2040_SLOT_PROGRAMS_H

#include "rp2040/pio.h"

struct slot_machine {
    uint32_t pio;
    uint8_t machine, start, wrap_bottom, wrap_top;
    uint32_t exec, shift, pins; /* registers, wrap apart */
};

enum slot_part { SLOT_PUT, SLOT_DRIVE, SLOT_STEADY, SLOT_READ, SLOT_CYCLE, SLOT_WRITE, SLOT_PARTS };
extern const struct slot_machine slot_machines[SLOT_PARTS];

extern const uint16_t slot_program0[PIO_INSTRUCTIONS], slot_program1[PIO_INSTRUCTIONS];

/* In PIO0: where `drive` looks for the write window; a NOP there with the same side-set makes it one like
 * any other. */
enum { DRIVE_LEAVES = 7, DRIVE_STAYS = 14 };
extern const uint16_t slot_drive_nop[2]; /* for these two places */

enum {
    FLAG_WINDOW = 0, /* PIO1: an address of the write window is steady */
    FLAG_CYCLE = 1   /* PIO1: sample the data lines in this bus cycle */
};

#endif
