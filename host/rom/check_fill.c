#include "rom/check_fill.h"

#include <string.h>

enum {
    HOTSPOTS =
        0x1FF4, /* and what lies there reads the same in every bank, whatever bank is selected meanwhile */
    HOTSPOTS_END = 0x1FFC
};

/* Each step can be undone, so no two places of the image begin alike. The factors are those of splitmix64's
 * output (Steele, Lea, Flood). */
uint8_t check_fill_byte(int bank, uint16_t address) {
    uint64_t x = ((uint64_t)bank << 13 | (address & 0x1FFF)) + UINT64_C(0x9E3779B97F4A7C15);
    x = (x ^ x >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    x = (x ^ x >> 27) * UINT64_C(0x94D049BB133111EB);
    return (uint8_t)(x >> 56);
}

static void fill_item(const struct item *item, const struct cart_check *check, int bank, uint8_t *bytes) {
    const size_t start = 0x2000 - scheme_bank_bytes(check->scheme);
    for (size_t i = item->offset; i < (size_t)item->offset + item->size; i++) {
        const uint16_t address = (uint16_t)(start + i);
        bytes[i] = check_fill_byte(address >= HOTSPOTS && address < HOTSPOTS_END ? 0 : bank, address);
    }
}

void check_fill(const struct encoder *encoder, const struct cart_check *check, uint8_t *image) {
    const size_t bank_bytes = scheme_bank_bytes(check->scheme);
    for (int bank = 0; bank < scheme_banks(check->scheme); bank++) {
        uint8_t *const bytes = image + (size_t)bank * bank_bytes;
        memcpy(bytes, encoder->bytes, bank_bytes);
        for (int i = 0; i < encoder->item_count; i++) {
            if (encoder->items[i].kind == ITEM_FILL) {
                fill_item(&encoder->items[i], check, bank, bytes);
            }
        }
        bytes[bank_bytes - (0x2000 - CHECK_BANK_AT)] = (uint8_t)bank;
        for (size_t page = 0; page < bank_bytes / SCHEME_PAGE; page++) {
            check_seal(bytes + page * SCHEME_PAGE, (int)((size_t)bank * bank_bytes / SCHEME_PAGE + page),
                       seal_place(encoder, page * SCHEME_PAGE));
        }
    }
}
