/* What the contacts of a cartridge under test make of levels (cart_model.h). Freestanding. */
#ifndef SLOTJIG_VIRTUAL_CART_LINES_H
#define SLOTJIG_VIRTUAL_CART_LINES_H

#include "virtual/cart_model.h"

/* The address as it arrives inside; loose: lines that happen to be open. */
uint16_t cart_lines_address(const struct cart_faults *faults, uint16_t loose, uint16_t address);

/* Lines driven, and their levels. */
struct cart_drive {
    uint8_t lines, level;
};
struct cart_lines {
    uint8_t outside, inside; /* levels */
};
/* The data lines with the cartridge selected: shorts and stuck lines count. */
struct cart_lines cart_lines_data(const struct cart_faults *faults, uint8_t loose, struct cart_drive outside,
                                  struct cart_drive inside, uint8_t floating);
/* With A12 low: contacts alone. */
uint8_t cart_lines_idle(const struct cart_faults *faults, uint8_t loose, struct cart_drive outside,
                        struct cart_drive inside, uint8_t floating);

#endif
