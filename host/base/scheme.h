/*
 * Bank schemes as the host knows them: sizes, banks, hotspots. Freestanding, and apart from the board's own
 * table (firmware/core/cart.c), so that each can be held against the other.
 */
#ifndef SLOTJIG_BASE_SCHEME_H
#define SLOTJIG_BASE_SCHEME_H

#include "slotjig/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    SCHEME_PAGE = 256,
    SCHEME_BANKS_MAX = 8,
    SCHEME_PAGES_MAX = 128, /* of an image */
    SCHEME_RAM = 128,       /* cartridge RAM: written at $1000-$107F, read at $1080-$10FF [P] */
    SCHEME_RAM_WRITE = 0x1000,
    SCHEME_RAM_READ = 0x1080
};

/* scheme: enum wire_scheme. */
size_t scheme_bytes(int scheme);      /* 2048 ... 32768; 0 for no scheme */
int scheme_banks(int scheme);         /* 1, 1, 2, 4, 8 */
size_t scheme_bank_bytes(int scheme); /* 2048 or 4096 */
int scheme_pages(int scheme);         /* of 256 bytes, in the image */
/* The address (13 bits, A12 set) that selects this bank, 0 where the scheme has none. [P] */
uint16_t scheme_hotspot(int scheme, int bank);
/* The bank that an access to this address selects, or -1. */
int scheme_selects(int scheme, uint16_t address);
const char *scheme_name(int scheme);                  /* "2K" ... "F4"; "?" for none */
bool scheme_from_name(const char *name, int *scheme); /* any case */
/* Where a byte of the image stands in the window (13 bits, A12 set; of 2 KiB the upper half), and its bank;
 * 0 and 0 for no scheme. */
uint16_t scheme_address(int scheme, size_t offset, int *bank);
/* The image's byte that a good cartridge shows at this address (13 bits, A12 set) with that bank. */
size_t scheme_offset(int scheme, int bank, uint16_t address);

#endif
