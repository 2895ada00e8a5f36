/* The RAM of a cartridge under test, with its faults (enum cart_ram_kind). Freestanding. */
#ifndef SLOTJIG_VIRTUAL_CART_RAM_H
#define SLOTJIG_VIRTUAL_CART_RAM_H

#include "virtual/cart_model.h"

/* address: 0 to SCHEME_RAM - 1. */
void cart_ram_write(struct cart_model *model, unsigned address, uint8_t value);
uint8_t cart_ram_read(const struct cart_model *model, unsigned address);
/* After the cells were set otherwise: what is stuck or forced shows. */
void cart_ram_settle(struct cart_model *model);

#endif
