/* The vector table in RAM. */
#ifndef SLOTJIG_RP2040_VECTORS_H
#define SLOTJIG_RP2040_VECTORS_H

#include "rp2040/regs.h"

extern void *const vectors[16 + IRQ_COUNT];

void usb_interrupt(void);
void tick_interrupt(void);

#endif
