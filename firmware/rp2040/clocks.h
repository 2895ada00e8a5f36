/* Crystal, PLLs and clocks: clk_sys 125 MHz (peripherals too), clk_usb 48 MHz, a tick each microsecond. */
#ifndef SLOTJIG_RP2040_CLOCKS_H
#define SLOTJIG_RP2040_CLOCKS_H

#include <stdbool.h>

enum { CLK_SYS_HZ = 125000000 };

/* Lifts the blocks that the firmware uses out of reset, and starts their clocks. Runs from flash, once.
 * False: the crystal or a PLL did not come up in time; everything still runs from the ring oscillator. */
bool clocks_start(void);

#endif
