/*
 * The image store: two slots in flash, each a header sector and the image's sectors. The newest whole one is
 * served. A push erases and fills the slot that is not served, header last, so power lost at any moment
 * leaves the old image or the new one. A header counts only with its own CRC, and with the image's CRC
 * checked over the flash.
 */
#ifndef SLOTJIG_CORE_STORE_H
#define SLOTJIG_CORE_STORE_H

#include "slotjig/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    FLASH_SECTOR = 4096,
    FLASH_PAGE = 256,
    STORE_SLOT = FLASH_SECTOR + WIRE_IMAGE_MAX,
    STORE_BYTES = 2 * STORE_SLOT
};

/* Flash of STORE_BYTES, offsets from its start. Erase and program may block (a sector's erase up to 400 ms)
 * while interrupts and the slot's service go on. False: it failed. Programming only clears bits. */
struct flash_ops {
    void *state;
    bool (*read)(void *state, uint32_t offset, uint8_t *bytes, size_t count);
    bool (*erase)(void *state, uint32_t sector /* offset */);
    bool (*program)(void *state, uint32_t page /* offset */, const uint8_t *bytes /* FLASH_PAGE */);
};

struct store_image {
    uint32_t generation, crc; /* generation 0: none */
    uint8_t kib, scheme, flags;
};

struct store {
    struct flash_ops flash;
    int slot; /* of the newest whole image, or -1 */
    struct store_image image;
    /* A push under way. */
    bool filling;
    struct store_image incoming;
    uint32_t keep, have; /* masks of blocks */
    uint16_t erased;     /* mask of the slot's sectors that are erased */
};

/* Takes an image as it is read, a piece after the other from offset 0 on. */
struct store_sink {
    void *state;
    void (*take)(void *state, const struct store_image *image, uint32_t offset, const uint8_t *bytes,
                 size_t count);
};

/* Looks for the newest whole image. The sink (or NULL) gets each image whose CRC is looked at, the newest
 * first, so that a board that starts reads its flash once; what it got last is the store's image, if there is
 * one. False only when the flash cannot be read. */
bool store_start(struct store *store, const struct flash_ops *flash, const struct store_sink *sink);
/* The store's image once more. False: the flash cannot be read. */
bool store_pour(const struct store *store, const struct store_sink *sink);
bool store_read(const struct store *store, uint32_t offset, uint8_t *bytes, size_t count);

/* The same push again (crc, kib, scheme, flags, keep) goes on; another gives the first one up. Values were
 * checked by the caller, except that keep needs an image of the same size. Invalidates the other slot's
 * header first. Kept blocks are copied by the commit. */
enum wire_status store_begin(struct store *store, const struct store_image *incoming, uint32_t keep);
enum wire_status store_block(struct store *store, uint8_t block, const uint8_t *bytes /* WIRE_BLOCK */);
/* Mask of the blocks that need not be sent. */
uint32_t store_have(const struct store *store);
/* Lowest block still missing, or the number of blocks. Kept blocks count as there. */
uint8_t store_next(const struct store *store);
/* WIRE_OK: the incoming image is now the store's image. */
enum wire_status store_commit(struct store *store);
void store_abort(struct store *store);

#endif
