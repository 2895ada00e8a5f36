/*
 * The board's side of the slot, a bus cycle at a time: what a chip does by PIO and DMA. Inlined where the
 * console's bus cycles are, for there are a million of them a second. Inside virtual/ only.
 */
#ifndef SLOTJIG_VIRTUAL_SLOT_SIDE_H
#define SLOTJIG_VIRTUAL_SLOT_SIDE_H

#include "core/cart.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    SLOT_BATCH = 1024, /* bus cycles between two turns of the board's main loop: 0.86 ms */
    SLOT_NO_ADDRESS = 0xFFFF
};

struct slot_side {
    struct cart cart;
    const bool *dead;      /* then nothing is served */
    uint16_t last_address; /* only a change of address is seen */
    uint32_t cycles;       /* since the board's last turn */
    uint16_t batch[SLOT_BATCH];
    size_t batched;
    uint32_t missed;
};

/* True: the board's turn is due. */
static inline bool slot_side_see(struct slot_side *side, uint16_t address) {
    if (address != side->last_address) {
        side->last_address = address;
        if (side->batched < SLOT_BATCH) {
            side->batch[side->batched++] = address;
        } else {
            side->missed++;
        }
    }
    return ++side->cycles >= SLOT_BATCH;
}

/* What is on the data lines; as cart_cycle(), which has all but the plainest case. */
static inline uint8_t slot_side_byte(struct slot_side *side, uint16_t address, uint8_t bus) {
    struct cart *cart = &side->cart;
    if (*side->dead || !(address & CART_A12)) {
        return bus;
    }
    if (address >= CART_HOTSPOTS || cart->ram) {
        return cart_cycle(cart, address, bus);
    }
    return cart->lanes[(address & (CART_WINDOW - 1)) * CART_BANKS + cart->bank];
}

#endif
