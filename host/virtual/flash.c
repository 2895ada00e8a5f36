#include "virtual/flash.h"

#include <string.h>

enum { ERASED = 0xFF };

/* splitmix64 (Steele, Lea and Flood 2014, public domain). */
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += 0x9E3779B97F4A7C15U;
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9U;
    z = (z ^ z >> 27) * 0x94D049BB133111EBU;
    return z ^ z >> 31;
}

/* What an interrupted operation leaves: nothing done, all done, some bits of each byte, or a part of the
 * bytes. Bits only move the way the operation moves them: to 1 by an erase, to 0 by programming. */
static void tear(struct virtual_flash *flash, uint8_t *at, const uint8_t *wanted, size_t count) {
    uint64_t how = next_random(&flash->random);
    size_t part = how >> 8 & 1 ? (size_t)(next_random(&flash->random) % (count + 1)) : count;
    for (size_t i = 0; i < part; i++) {
        uint8_t done = how & 1 ? (uint8_t)next_random(&flash->random) : ERASED;
        at[i] = (uint8_t)((at[i] & ~done) | (wanted[i] & done));
    }
}

/* False: power went, or the operation failed; torn either way. */
static bool operate(struct virtual_flash *flash, uint8_t *at, const uint8_t *wanted, size_t count) {
    if (flash->dead) {
        return false;
    }
    bool cut = flash->cut_after >= 0 && flash->cut_after <= 1;
    bool fails = flash->fault_one_in > 0 && next_random(&flash->random) % flash->fault_one_in == 0;
    if (flash->cut_after == 0) {
        flash->dead = true;
        return false;
    }
    if (flash->cut_after > 0) {
        flash->cut_after--;
    }
    if (cut || fails) {
        tear(flash, at, wanted, count);
        flash->dead = cut;
        return false;
    }
    memcpy(at, wanted, count);
    return true;
}

static bool inside(uint32_t offset, size_t count) {
    return offset <= STORE_BYTES && count <= STORE_BYTES - offset;
}

static bool read_bytes(void *state, uint32_t offset, uint8_t *bytes, size_t count) {
    struct virtual_flash *flash = state;
    if (flash->dead || !inside(offset, count)) {
        return false;
    }
    memcpy(bytes, flash->bytes + offset, count);
    return true;
}

static bool erase(void *state, uint32_t sector) {
    struct virtual_flash *flash = state;
    uint8_t wanted[FLASH_SECTOR];
    if (sector % FLASH_SECTOR != 0 || !inside(sector, FLASH_SECTOR)) {
        return false;
    }
    memset(wanted, ERASED, sizeof wanted);
    flash->spent_us += flash->erase_us;
    return operate(flash, flash->bytes + sector, wanted, sizeof wanted);
}

static bool program(void *state, uint32_t page, const uint8_t *bytes) {
    struct virtual_flash *flash = state;
    uint8_t wanted[FLASH_PAGE];
    if (page % FLASH_PAGE != 0 || !inside(page, FLASH_PAGE)) {
        return false;
    }
    for (size_t i = 0; i < sizeof wanted; i++) {
        wanted[i] = flash->bytes[page + i] & bytes[i];
    }
    flash->spent_us += flash->program_us;
    return operate(flash, flash->bytes + page, wanted, sizeof wanted);
}

struct flash_ops virtual_flash_ops(struct virtual_flash *flash) {
    return (struct flash_ops){.state = flash, .read = read_bytes, .erase = erase, .program = program};
}
