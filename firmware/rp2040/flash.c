#include "rp2040/flash.h"

#include "core/bytes.h"
#include "rp2040/regs.h"
#include "rp2040/restart.h"
#include "rp2040/rom.h"

#define XIP_UNCACHED 0x13000000u /* 2.6.3.1: neither looks into the cache nor fills it */

enum {
    STORE_AT = FLASH_BYTES - STORE_BYTES,
    BLOCK = 1 << 16, /* for the ROM's larger erase, which a sector never reaches */
    BLOCK_ERASE = 0xD8,
    /* 4Bh, four bytes that mean nothing, eight of the number (W25Q16JV data sheet, 8.2.29) */
    UNIQUE_COMMAND = 0x4B,
    UNIQUE_BEFORE = 1 + 4,
    SSI_TURNS = 100000
};

static struct rom_flash rom;
static bool usable;

bool flash_start(void) {
    usable = rom_flash_find(&rom);
    return usable;
}

static void leave_xip(void) {
    rom.connect_internal_flash();
    rom.exit_xip();
}

/* Flushing comes first: it also lets go of the chip select that exit_xip() forces (2.8.3.1.3). The ROM leaves
 * the divider at 6; 4 is as fast as the boot (boot2.S), and a console that is switched on waits for it. */
static void return_to_xip(void) {
    rom.flush_cache();
    rom.enter_cmd_xip();
    REG(SSI_ENABLE) = 0;
    REG(SSI_DIVIDER) = 4;
    REG(SSI_ENABLE) = 1;
}

static const volatile uint8_t *stored(uint32_t offset) {
    return (const volatile uint8_t *)(uintptr_t)(XIP_UNCACHED + STORE_AT + offset);
}

static bool in_store(uint32_t offset, size_t count) {
    return offset <= STORE_BYTES && count <= STORE_BYTES - offset;
}

/* By words where the flash's address allows: each access costs a whole command. */
static bool store_read_bytes(void *state, uint32_t offset, uint8_t *bytes, size_t count) {
    (void)state;
    if (!in_store(offset, count)) {
        return false;
    }
    size_t i = 0;
    while (i < count && (offset + i) % 4 != 0) {
        bytes[i] = *stored(offset + (uint32_t)i);
        i++;
    }
    for (; count - i >= 4; i += 4) {
        put32(bytes + i, *(const volatile uint32_t *)(const volatile void *)stored(offset + (uint32_t)i));
    }
    for (; i < count; i++) {
        bytes[i] = *stored(offset + (uint32_t)i);
    }
    return true;
}

static bool store_erase(void *state, uint32_t sector) {
    (void)state;
    if (!usable || sector % FLASH_SECTOR != 0 || !in_store(sector, FLASH_SECTOR)) {
        return false;
    }
    watchdog_feed();
    leave_xip();
    rom.range_erase(STORE_AT + sector, FLASH_SECTOR, BLOCK, BLOCK_ERASE);
    return_to_xip();
    for (uint32_t i = 0; i < FLASH_SECTOR; i += 4) {
        if (*(const volatile uint32_t *)(const volatile void *)stored(sector + i) != 0xFFFFFFFFu) {
            return false;
        }
    }
    return true;
}

static bool store_program(void *state, uint32_t page, const uint8_t *bytes) {
    (void)state;
    if (!usable || page % FLASH_PAGE != 0 || !in_store(page, FLASH_PAGE)) {
        return false;
    }
    watchdog_feed();
    leave_xip();
    rom.range_program(STORE_AT + page, bytes, FLASH_PAGE);
    return_to_xip();
    for (uint32_t i = 0; i < FLASH_PAGE; i++) {
        if (*stored(page + i) != bytes[i]) {
            return false;
        }
    }
    return true;
}

struct flash_ops flash_operations(void) {
    return (struct flash_ops){
        .state = NULL, .read = store_read_bytes, .erase = store_erase, .program = store_program};
}

static void chip_select(uint32_t level) {
    uint32_t control = REG(IO_QSPI_SS_CTRL);
    REG(IO_QSPI_SS_CTRL) = (control & ~(uint32_t)QSPI_SS_FORCE) | level;
}

/* exit_xip() has left the SSI in frames of eight bits, both ways. */
static uint8_t exchange(uint8_t byte) {
    REG(SSI_DR0) = byte;
    for (int turn = 0; turn < SSI_TURNS; turn++) {
        if (REG(SSI_SR) & SSI_GOT) {
            return (uint8_t)REG(SSI_DR0);
        }
    }
    return 0xFF;
}

void flash_unique(uint8_t serial[WIRE_SERIAL]) {
    bytes_fill(serial, 0, WIRE_SERIAL);
    if (!usable) {
        return;
    }
    leave_xip();
    chip_select(QSPI_SS_LOW);
    for (int i = 0; i < UNIQUE_BEFORE; i++) {
        exchange(i == 0 ? UNIQUE_COMMAND : 0);
    }
    for (int i = 0; i < WIRE_SERIAL; i++) {
        serial[i] = exchange(0);
    }
    chip_select(QSPI_SS_HIGH);
    return_to_xip();
}
