/* What the slot's files share: its memory, and the DMA channels between its PIO programs. */
#ifndef SLOTJIG_RP2040_SLOT_PARTS_H
#define SLOTJIG_RP2040_SLOT_PARTS_H

#include "core/cart.h"
#include "rp2040/slot.h"

#include <stdint.h>

enum { SLOT_HOTSPOTS = 8192 /* addresses, 13 bits */ };

/* At the start of RAM (the linker script sees to it): `steady` makes the table's address out of constants,
 * and every part is aligned to its size, as rings and tables need. */
struct slot_memory {
    uint16_t hotspots[SLOT_HOTSPOTS]; /* an instruction for `read` at each address */
    uint16_t events[SLOT_EVENTS];     /* a ring: steady addresses, shifted left by one */
    uint8_t lanes[2][CART_TABLE];
};
extern struct slot_memory slot_memory;

void slot_dma_start(void);
/* `write` gives its words in pairs: the next one is the first of a pair. */
void slot_dma_first_word(void);
/* Steady addresses ever (modulo 2^32), and where the ring is written next. */
uint32_t slot_dma_events(void);
uint32_t slot_dma_place(void);

#endif
