/* The boot ROM's functions (RP2040 data sheet 2.8.3). They block; interrupts go on, if what they need is in
 * RAM. */
#ifndef SLOTJIG_RP2040_ROM_H
#define SLOTJIG_RP2040_ROM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct rom_flash {
    void (*connect_internal_flash)(void);
    void (*exit_xip)(void);
    void (*range_erase)(uint32_t offset, size_t count, uint32_t block_size, uint8_t block_command);
    void (*range_program)(uint32_t offset, const uint8_t *bytes, size_t count);
    void (*flush_cache)(void);
    void (*enter_cmd_xip)(void);
};

/* False: a ROM that lacks one of them. */
bool rom_flash_find(struct rom_flash *flash);
/* Into the ROM's own USB loader; returns only if the ROM has none. */
void rom_usb_loader(void);

#endif
