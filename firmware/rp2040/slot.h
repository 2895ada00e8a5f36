/*
 * The cartridge slot, served by PIO and DMA with no processor in the loop. slot_start() comes first, once
 * clk_sys runs at 125 MHz; what is served is then said through slot_operations(). Until the first serve()
 * nothing is driven. DMA channels: the slot has DMA_SLOT_FIRST to DMA_SLOT_LAST (dma.h), both PIO blocks are
 * its own, and so are all pins of boards/pico/pins.h but the UART's.
 */
#ifndef SLOTJIG_RP2040_SLOT_H
#define SLOTJIG_RP2040_SLOT_H

#include "core/board.h"

#include <stddef.h>
#include <stdint.h>

enum { SLOT_EVENTS = 8192 /* that can wait to be taken */ };

/* Takes the slot's pins, PIO blocks and DMA channels out of reset's state; nothing is driven yet. */
void slot_start(void);
/* For board_config.slot; static. */
const struct slot_ops *slot_operations(void);
/* Steady addresses (13 bits) seen since the last call, in order, each once for each change: at most max.
 * *missed: how many were lost before these. */
size_t slot_events(uint16_t *addresses, size_t max, uint32_t *missed);

#endif
