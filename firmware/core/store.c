#include "core/store.h"

#include "core/bytes.h"
#include "core/cart.h"
#include "core/frame.h"

enum {
    MAGIC = 0x474A5453, /* "STJG" */
    LAYOUT = 1,
    /* The header, at the start of its sector. */
    AT_MAGIC = 0,
    AT_LAYOUT = 4,
    AT_KIB = 5,
    AT_SCHEME = 6,
    AT_FLAGS = 7,
    AT_GENERATION = 8,
    AT_CRC = 12,
    AT_CHECK = 16, /* CRC-32 of all before it */
    HEADER = 20,
    SECTOR_BLOCKS = FLASH_SECTOR / WIRE_BLOCK,
    ERASED = 0xFF,
    KIB = 1024
};

static uint32_t header_at(int slot) {
    return (uint32_t)slot * STORE_SLOT;
}

static uint32_t image_at(int slot) {
    return header_at(slot) + FLASH_SECTOR;
}

static int other_slot(const struct store *store) {
    return store->slot == 0 ? 1 : 0;
}

static uint8_t block_count(const struct store_image *image) {
    return (uint8_t)((size_t)image->kib * KIB / WIRE_BLOCK);
}

static uint32_t block_mask(const struct store_image *image) {
    return UINT32_MAX >> (WIRE_BLOCKS_MAX - block_count(image));
}

static void put_header(const struct store_image *image, uint8_t *page) {
    bytes_fill(page, ERASED, FLASH_PAGE);
    put32(page + AT_MAGIC, MAGIC);
    page[AT_LAYOUT] = LAYOUT;
    page[AT_KIB] = image->kib;
    page[AT_SCHEME] = image->scheme;
    page[AT_FLAGS] = image->flags;
    put32(page + AT_GENERATION, image->generation);
    put32(page + AT_CRC, image->crc);
    put32(page + AT_CHECK, frame_crc(0, page, AT_CHECK));
}

static bool get_header(const uint8_t *page, struct store_image *image) {
    *image = (struct store_image){
        .generation = get32(page + AT_GENERATION),
        .crc = get32(page + AT_CRC),
        .kib = page[AT_KIB],
        .scheme = page[AT_SCHEME],
        .flags = page[AT_FLAGS],
    };
    return get32(page + AT_MAGIC) == MAGIC && page[AT_LAYOUT] == LAYOUT &&
           get32(page + AT_CHECK) == frame_crc(0, page, AT_CHECK) && image->generation != 0 &&
           cart_size(image->scheme) != 0 && cart_size(image->scheme) == (size_t)image->kib * KIB;
}

/* Generations wrap, so the newer one is that which is less than half of them ahead. 0 means none. */
static bool newer(uint32_t a, uint32_t b) {
    return a - b - 1 < UINT32_MAX / 2;
}

static uint32_t next_generation(uint32_t generation) {
    return generation == UINT32_MAX ? 1 : generation + 1;
}

/* Reads a slot's image through, for its CRC and for a sink. False: the flash cannot be read. */
static bool pour(const struct flash_ops *flash, int slot, const struct store_image *image,
                 const struct store_sink *sink, uint32_t *crc) {
    uint8_t piece[FLASH_PAGE];
    *crc = 0;
    for (uint32_t offset = 0; offset < (uint32_t)image->kib * KIB; offset += sizeof piece) {
        if (!flash->read(flash->state, image_at(slot) + offset, piece, sizeof piece)) {
            return false;
        }
        *crc = frame_crc(*crc, piece, sizeof piece);
        if (sink) {
            sink->take(sink->state, image, offset, piece, sizeof piece);
        }
    }
    return true;
}

/* *whole: the slot's image is what its header says. */
static bool check_slot(struct store *store, int slot, const struct store_image *image,
                       const struct store_sink *sink, bool *whole) {
    uint32_t crc = 0;
    if (!pour(&store->flash, slot, image, sink, &crc)) {
        return false;
    }
    *whole = crc == image->crc;
    if (*whole) {
        store->slot = slot;
        store->image = *image;
    }
    return true;
}

static bool read_header(const struct store *store, int slot, struct store_image *image, bool *good) {
    uint8_t header[HEADER];
    if (!store->flash.read(store->flash.state, header_at(slot), header, sizeof header)) {
        return false;
    }
    *good = get_header(header, image);
    return true;
}

bool store_start(struct store *store, const struct flash_ops *flash, const struct store_sink *sink) {
    *store = (struct store){.flash = *flash, .slot = -1};
    struct store_image images[2];
    bool good[2], whole = false;
    if (!read_header(store, 0, &images[0], &good[0]) || !read_header(store, 1, &images[1], &good[1])) {
        return false;
    }
    int first = good[0] && good[1] && newer(images[1].generation, images[0].generation) ? 1 : 0;
    for (int i = 0; i < 2 && !whole; i++) {
        int slot = i == 0 ? first : 1 - first;
        if (good[slot] && !check_slot(store, slot, &images[slot], sink, &whole)) {
            return false;
        }
    }
    return true;
}

bool store_pour(const struct store *store, const struct store_sink *sink) {
    uint32_t crc;
    return store->slot >= 0 && pour(&store->flash, store->slot, &store->image, sink, &crc);
}

bool store_read(const struct store *store, uint32_t offset, uint8_t *bytes, size_t count) {
    size_t size = store->slot < 0 ? 0 : (size_t)store->image.kib * KIB;
    if (offset > size || count > size - offset) {
        return false;
    }
    return store->flash.read(store->flash.state, image_at(store->slot) + offset, bytes, count);
}

static bool same_push(const struct store *store, const struct store_image *incoming, uint32_t keep) {
    return store->filling && store->incoming.crc == incoming->crc && store->incoming.kib == incoming->kib &&
           store->incoming.scheme == incoming->scheme && store->incoming.flags == incoming->flags &&
           store->keep == keep;
}

enum wire_status store_begin(struct store *store, const struct store_image *incoming, uint32_t keep) {
    if (same_push(store, incoming, keep)) {
        return WIRE_OK;
    }
    if (keep != 0 && (store->slot < 0 || store->image.kib != incoming->kib)) {
        return WIRE_BAD_VALUE;
    }
    store_abort(store);
    if (!store->flash.erase(store->flash.state, header_at(other_slot(store)))) {
        return WIRE_FLASH_FAILED;
    }
    store->filling = true;
    store->incoming = *incoming;
    store->incoming.generation = next_generation(store->image.generation);
    store->keep = keep;
    store->have = 0;
    store->erased = 0;
    return WIRE_OK;
}

static bool blank(const uint8_t *bytes, size_t count) {
    for (size_t i = 0; i < count; i++) {
        if (bytes[i] != ERASED) {
            return false;
        }
    }
    return true;
}

/* Programs a page and reads it back. */
static bool fill_page(const struct flash_ops *flash, uint32_t at, const uint8_t *bytes) {
    uint8_t back[FLASH_PAGE];
    if (!blank(bytes, FLASH_PAGE) && !flash->program(flash->state, at, bytes)) {
        return false;
    }
    return flash->read(flash->state, at, back, sizeof back) && bytes_equal(back, bytes, sizeof back);
}

/* A sector is erased just before its first block, so that a push is never stalled by all of them at once. */
static bool erase_for(struct store *store, uint8_t block) {
    unsigned sector = block / SECTOR_BLOCKS;
    if (store->erased >> sector & 1) {
        return true;
    }
    uint32_t at = image_at(other_slot(store)) + sector * FLASH_SECTOR;
    if (!store->flash.erase(store->flash.state, at)) {
        return false;
    }
    store->erased |= (uint16_t)(1U << sector);
    return true;
}

/* What a failed operation leaves may be mended by an erase only: the sector counts as not erased, and its
 * blocks as not there. Returns false. */
static bool spoil_sector(struct store *store, uint8_t block) {
    unsigned sector = block / SECTOR_BLOCKS;
    uint32_t blocks = (((uint32_t)1 << SECTOR_BLOCKS) - 1) << sector * SECTOR_BLOCKS;
    store->erased &= (uint16_t) ~(1U << sector);
    store->have &= ~blocks;
    return false;
}

static bool fill_block(struct store *store, uint8_t block, const uint8_t *bytes) {
    if (!erase_for(store, block)) {
        return false;
    }
    uint32_t at = image_at(other_slot(store)) + (uint32_t)block * WIRE_BLOCK;
    for (uint32_t done = 0; done < WIRE_BLOCK; done += FLASH_PAGE) {
        if (!fill_page(&store->flash, at + done, bytes + done)) {
            return spoil_sector(store, block);
        }
    }
    store->have |= (uint32_t)1 << block;
    return true;
}

enum wire_status store_block(struct store *store, uint8_t block, const uint8_t *bytes) {
    if (!store->filling) {
        return WIRE_NOT_BEGUN;
    }
    if (block >= block_count(&store->incoming)) {
        return WIRE_BAD_VALUE;
    }
    if (store_have(store) >> block & 1) {
        return WIRE_OK;
    }
    return fill_block(store, block, bytes) ? WIRE_OK : WIRE_FLASH_FAILED;
}

uint32_t store_have(const struct store *store) {
    return store->filling ? (store->have | store->keep) : 0;
}

uint8_t store_next(const struct store *store) {
    if (!store->filling) {
        return 0;
    }
    uint8_t block = 0;
    while (block < block_count(&store->incoming) && (store_have(store) >> block & 1)) {
        block++;
    }
    return block;
}

/* A page of the image served into the incoming one. */
static bool copy_page(struct store *store, uint32_t offset) {
    uint8_t page[FLASH_PAGE];
    const struct flash_ops *flash = &store->flash;
    return flash->read(flash->state, image_at(store->slot) + offset, page, sizeof page) &&
           fill_page(flash, image_at(other_slot(store)) + offset, page);
}

static bool copy_kept(struct store *store) {
    for (uint8_t block = 0; block < block_count(&store->incoming); block++) {
        uint32_t bit = (uint32_t)1 << block;
        if (!(store->keep & ~store->have & bit)) {
            continue;
        }
        if (!erase_for(store, block)) {
            return false;
        }
        for (uint32_t done = 0; done < WIRE_BLOCK; done += FLASH_PAGE) {
            if (!copy_page(store, (uint32_t)block * WIRE_BLOCK + done)) {
                return spoil_sector(store, block);
            }
        }
        store->have |= bit;
    }
    return true;
}

/* What a header that failed has left is erased first. */
static bool clean_header(struct store *store) {
    uint8_t page[FLASH_PAGE];
    uint32_t at = header_at(other_slot(store));
    const struct flash_ops *flash = &store->flash;
    return flash->read(flash->state, at, page, sizeof page) &&
           (blank(page, sizeof page) || flash->erase(flash->state, at));
}

static bool write_header(struct store *store) {
    uint8_t page[FLASH_PAGE];
    put_header(&store->incoming, page);
    return clean_header(store) && fill_page(&store->flash, header_at(other_slot(store)), page);
}

enum wire_status store_commit(struct store *store) {
    if (!store->filling) {
        return WIRE_NOT_BEGUN;
    }
    if (store_have(store) != block_mask(&store->incoming)) {
        return WIRE_MISSING;
    }
    uint32_t crc;
    if (!copy_kept(store) || !pour(&store->flash, other_slot(store), &store->incoming, NULL, &crc)) {
        return WIRE_FLASH_FAILED;
    }
    if (crc != store->incoming.crc) {
        store_abort(store);
        return WIRE_BAD_CRC;
    }
    if (!write_header(store)) {
        return WIRE_FLASH_FAILED;
    }
    store->slot = other_slot(store);
    store->image = store->incoming;
    store->filling = false;
    return WIRE_OK;
}

void store_abort(struct store *store) {
    store->filling = false;
    store->keep = 0;
    store->have = 0;
    store->erased = 0;
}
