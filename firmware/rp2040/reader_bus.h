/*
 * The cartridge in the reader's socket: its switched supply, its address and data lines by PIO. Pins:
 * boards/reader/pins.h. PIO 0 and the DMA channels of the slot (dma.h) are this part's own.
 */
#ifndef SLOTJIG_RP2040_READER_BUS_H
#define SLOTJIG_RP2040_READER_BUS_H

#include "core/reader.h"

/* Once, when clk_sys runs at 125 MHz. The supply is off. */
void reader_bus_start(void);
/* For reader_config.bus. */
struct reader_bus reader_bus(void);

#endif
