/* What is the same for every rig. */
#include "core/cart.h"
#include "link/transports.h"

#include <string.h>

void rig_prepare(struct rig *rig) {
    memset(rig, 0, sizeof *rig);
    virtual_board_defaults(&rig->options);
    memset(rig->flash, 0xFF, sizeof rig->flash);
    rig->options.flash = rig->flash;
    pthread_mutex_init(&rig->lock, NULL);
}

uint8_t rig_slot(struct rig *rig, uint16_t address) {
    pthread_mutex_lock(&rig->lock);
    const uint8_t byte = virtual_board_cycle(rig->board, address, 0xFF);
    pthread_mutex_unlock(&rig->lock);
    return byte;
}

/* Hotspots by scheme, first and count [P]. */
static const struct {
    size_t size;
    uint16_t first;
    int banks;
} banks_of[] = {{2048, 0, 1}, {4096, 0, 1}, {8192, 0x1FF8, 2}, {16384, 0x1FF6, 4}, {32768, 0x1FF4, 8}};

static bool bank_is(struct rig *rig, const uint8_t *bytes, size_t window, uint16_t first, int banks) {
    for (uint16_t at = 0; at < CART_WINDOW; at++) {
        const uint16_t address = CART_A12 | at;
        const bool hotspot = banks > 1 && address >= first && address < first + banks;
        if (!hotspot && rig_slot(rig, address) != bytes[at % window]) {
            return false;
        }
    }
    return true;
}

bool rig_serves(struct rig *rig, const uint8_t *image, size_t size) {
    for (size_t i = 0; i < sizeof banks_of / sizeof banks_of[0]; i++) {
        const int banks = banks_of[i].banks;
        const size_t window = size < CART_WINDOW ? size : CART_WINDOW;
        bool same = banks_of[i].size == size;
        for (int bank = 0; bank < banks && same; bank++) {
            if (banks > 1) {
                rig_slot(rig, (uint16_t)(banks_of[i].first + bank));
            }
            same = bank_is(rig, image + (size_t)bank * CART_WINDOW, window, banks_of[i].first, banks);
        }
        if (same) {
            return true;
        }
    }
    return false;
}
