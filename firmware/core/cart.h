/*
 * What the slot serves: an image spread over lanes, its bank scheme, its RAM.
 *
 * Lanes: CART_TABLE bytes; the byte that bank b shows at window address a (12 bits) lies at a * CART_BANKS +
 * b. An image with fewer banks fills all eight lanes with copies, a 2 KiB image shows twice. So a chip's read
 * path is one lookup whatever the scheme, and a byte of RAM is eight neighbours.
 *
 * cart_cycle() is the slot as a chip's PIO and DMA must serve it; the virtual bench uses it as its cartridge.
 */
#ifndef SLOTJIG_CORE_CART_H
#define SLOTJIG_CORE_CART_H

#include "slotjig/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    CART_BANKS = 8,
    CART_WINDOW = 4096,
    CART_TABLE = CART_BANKS * CART_WINDOW,
    CART_RAM = 128, /* written at $1000-$107F, read at $1080-$10FF */
    CART_NO_BANK = 0xFF,
    CART_A12 = 0x1000,
    CART_HOTSPOTS = 0x1FF4 /* none of any scheme lies below */
};

/* Bytes of an image of that scheme; 0 for no scheme. */
size_t cart_size(uint8_t scheme);
int cart_banks(uint8_t scheme);
/* The bank in which the board starts: the last one [P: images have vectors in every bank]. */
uint8_t cart_first_bank(uint8_t scheme);
/* The bank that an access to this address (13 bits) selects, or CART_NO_BANK. F8: $1FF8, $1FF9; F6:
 * $1FF6-$1FF9; F4: $1FF4-$1FFB [P]. Reads and writes alike, since the slot cannot tell them apart. */
uint8_t cart_hotspot(uint8_t scheme, uint16_t address);
/* The image over the lanes (CART_TABLE bytes). The RAM's windows, where there is RAM, become 0. image:
 * cart_size() bytes. */
void cart_spread(uint8_t *lanes, const uint8_t *image, uint8_t scheme, bool ram);
/* The same for a piece of the image, count bytes from offset on. */
void cart_lay(uint8_t *lanes, size_t offset, const uint8_t *bytes, size_t count, uint8_t scheme, bool ram);
/* One byte of the window (address 13 bits) in every bank: the mailbox, the RAM. */
void cart_poke(uint8_t *lanes, uint16_t address, uint8_t value);

struct cart {
    uint8_t *lanes; /* not owned */
    uint8_t scheme, bank;
    bool ram;
};

/* One bus cycle with that address; bus: what is on the data lines if the cartridge does not drive them.
 * Returns what is on the data lines in the end. A hotspot switches first, so the byte that is read there is
 * the new bank's. An access to the RAM's write window drives nothing and stores the bus, be it a write or a
 * read. A12 = 0: nothing. */
uint8_t cart_cycle(struct cart *cart, uint16_t address, uint8_t bus);

#endif
