#include "rp2040/rom.h"

/* 2.8.3: 16-bit addresses of the functions' table and of the function that looks a code up in it. */
enum { ROM_TABLE = 0x14, ROM_LOOKUP = 0x18 };

typedef void *(*rom_lookup)(const uint16_t *table, uint32_t code);
typedef void (*rom_usb_boot)(uint32_t activity_pins, uint32_t disabled_interfaces);

/* Through a register, since the compiler takes reads this near to address 0 for mistakes. */
static uint16_t half_at(uint32_t address) {
    uint32_t value;
    __asm volatile("ldrh %0, [%1]" : "=l"(value) : "l"(address));
    return (uint16_t)value;
}

static void *find(char first, char second) {
    rom_lookup lookup = (rom_lookup)(uintptr_t)half_at(ROM_LOOKUP);
    return lookup((const uint16_t *)(uintptr_t)half_at(ROM_TABLE), (uint32_t)second << 8 | (uint8_t)first);
}

bool rom_flash_find(struct rom_flash *flash) {
    flash->connect_internal_flash = (void (*)(void))find('I', 'F');
    flash->exit_xip = (void (*)(void))find('E', 'X');
    flash->range_erase = (void (*)(uint32_t, size_t, uint32_t, uint8_t))find('R', 'E');
    flash->range_program = (void (*)(uint32_t, const uint8_t *, size_t))find('R', 'P');
    flash->flush_cache = (void (*)(void))find('F', 'C');
    flash->enter_cmd_xip = (void (*)(void))find('C', 'X');
    return flash->connect_internal_flash && flash->exit_xip && flash->range_erase && flash->range_program &&
           flash->flush_cache && flash->enter_cmd_xip;
}

void rom_usb_loader(void) {
    rom_usb_boot usb_boot = (rom_usb_boot)find('U', 'B');
    if (usb_boot) {
        usb_boot(0, 0);
    }
}
