#include "core/cart.h"

#include "core/bytes.h"

enum {
    RAM_WRITE = 0x000,
    RAM_READ = RAM_WRITE + CART_RAM,
    RAM_END = RAM_READ + CART_RAM,
    OFFSET = CART_WINDOW - 1
};

/* [P] for the hotspots: trade practice, no source. */
static const struct {
    uint16_t size;
    uint8_t banks, hotspots;
    uint16_t first_hotspot;
} schemes[WIRE_SCHEMES] = {
    [WIRE_2K] = {2048, 1, 0, 0},       [WIRE_4K] = {4096, 1, 0, 0},       [WIRE_F8] = {8192, 2, 2, 0x1FF8},
    [WIRE_F6] = {16384, 4, 4, 0x1FF6}, [WIRE_F4] = {32768, 8, 8, 0x1FF4},
};

size_t cart_size(uint8_t scheme) {
    return scheme < WIRE_SCHEMES ? schemes[scheme].size : 0;
}

int cart_banks(uint8_t scheme) {
    return scheme < WIRE_SCHEMES ? schemes[scheme].banks : 0;
}

uint8_t cart_first_bank(uint8_t scheme) {
    return scheme < WIRE_SCHEMES ? (uint8_t)(schemes[scheme].banks - 1) : 0;
}

uint8_t cart_hotspot(uint8_t scheme, uint16_t address) {
    if (scheme >= WIRE_SCHEMES || address < schemes[scheme].first_hotspot) {
        return CART_NO_BANK;
    }
    unsigned bank = (unsigned)address - schemes[scheme].first_hotspot;
    return bank < schemes[scheme].hotspots ? (uint8_t)bank : CART_NO_BANK;
}

/* Bytes of one bank into its lanes and those of its copies. A chip that starts waits for this. */
static void lay_run(uint8_t *at, unsigned banks, const uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count; i++) {
        for (unsigned copy = 0; copy < CART_BANKS; copy += banks) {
            at[copy] = bytes[i];
        }
        at += CART_BANKS;
    }
}

static void clear_windows(uint8_t *lanes, size_t address, size_t count) {
    if (address < RAM_END) {
        size_t left = RAM_END - address;
        bytes_fill(lanes + address * CART_BANKS, 0, CART_BANKS * (count < left ? count : left));
    }
}

/* The part of the bytes that lies in the bank where they start; returns its length. */
static size_t lay_in_bank(uint8_t *lanes, size_t offset, const uint8_t *bytes, size_t count, uint8_t scheme,
                          bool ram) {
    size_t size = cart_size(scheme), bank_size = size < CART_WINDOW ? size : CART_WINDOW;
    size_t address = offset & (bank_size - 1), bank = offset / CART_WINDOW;
    size_t left = bank_size - address, taken = count < left ? count : left;
    for (size_t at = address; at < CART_WINDOW; at += bank_size) {
        lay_run(lanes + at * CART_BANKS + bank, (unsigned)cart_banks(scheme), bytes, taken);
    }
    if (ram) {
        clear_windows(lanes, address, taken);
    }
    return taken;
}

void cart_lay(uint8_t *lanes, size_t offset, const uint8_t *bytes, size_t count, uint8_t scheme, bool ram) {
    size_t size = cart_size(scheme);
    while (count > 0 && offset < size) {
        size_t taken = lay_in_bank(lanes, offset, bytes, count, scheme, ram);
        offset += taken;
        bytes += taken;
        count -= taken;
    }
}

void cart_spread(uint8_t *lanes, const uint8_t *image, uint8_t scheme, bool ram) {
    cart_lay(lanes, 0, image, cart_size(scheme), scheme, ram);
}

void cart_poke(uint8_t *lanes, uint16_t address, uint8_t value) {
    bytes_fill(lanes + (size_t)(address & OFFSET) * CART_BANKS, value, CART_BANKS);
}

uint8_t cart_cycle(struct cart *cart, uint16_t address, uint8_t bus) {
    if (!(address & CART_A12)) {
        return bus;
    }
    if (address >= CART_HOTSPOTS) {
        uint8_t bank = cart_hotspot(cart->scheme, address);
        cart->bank = bank == CART_NO_BANK ? cart->bank : bank;
    }
    unsigned offset = address & OFFSET;
    if (cart->ram && offset < RAM_READ) {
        cart_poke(cart->lanes, (uint16_t)(offset + CART_RAM), bus);
        return bus;
    }
    return cart->lanes[offset * CART_BANKS + cart->bank];
}
