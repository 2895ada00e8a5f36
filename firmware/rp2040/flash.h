/* The image store's part of the flash, and the flash's unique number. Everything here runs from RAM: while
 * the flash erases, programs or answers a command it cannot be read. */
#ifndef SLOTJIG_RP2040_FLASH_H
#define SLOTJIG_RP2040_FLASH_H

#include "core/store.h"

#include <stdbool.h>
#include <stdint.h>

enum { FLASH_BYTES = 2 * 1024 * 1024 };

/* False: the boot ROM lacks what is needed; then every erase and program fails. */
bool flash_start(void);
/* For board_config.flash: the last STORE_BYTES of the flash. Erase and program read back what they did. */
struct flash_ops flash_operations(void);
/* Eight bytes that differ from flash to flash (command 4Bh). */
void flash_unique(uint8_t serial[WIRE_SERIAL]);

#endif
