/*
 * One fault at a time is what March tests promise to find; several at once act in the order of the list, and
 * a bit that one of them moves moves no other (no linked faults).
 */
#include "virtual/cart_ram.h"

static uint8_t with_bit(uint8_t byte, unsigned bit, bool value) {
    return (uint8_t)((byte & ~(1u << bit)) | (unsigned)value << bit);
}

static bool bit_of(uint8_t byte, unsigned bit) {
    return byte >> bit & 1;
}

/* The cells that an address reaches: none, one or two. */
static int decode(const struct cart_model *model, unsigned address, unsigned cells[2]) {
    for (int i = 0; i < model->faults.ram_faults; i++) {
        const struct cart_ram_fault *fault = &model->faults.ram[i];
        if (fault->kind < CART_RAM_NO_CELL || fault->cell != address) {
            continue;
        }
        cells[0] = fault->kind == CART_RAM_BOTH_CELLS ? address : fault->by_cell;
        cells[1] = fault->by_cell;
        return fault->kind == CART_RAM_NO_CELL ? 0 : fault->kind == CART_RAM_BOTH_CELLS ? 2 : 1;
    }
    cells[0] = address;
    return 1;
}

void cart_ram_settle(struct cart_model *model) {
    for (int i = 0; i < model->faults.ram_faults; i++) {
        const struct cart_ram_fault *fault = &model->faults.ram[i];
        const bool forced = fault->kind == CART_RAM_STATE &&
                            bit_of(model->cells[fault->by_cell], fault->by) == (fault->when != 0);
        if (fault->kind == CART_RAM_STUCK || forced) {
            model->cells[fault->cell] = with_bit(model->cells[fault->cell], fault->bit, fault->value);
        }
    }
}

/* What a cell keeps of a byte that is written to it. */
static uint8_t taken(const struct cart_model *model, unsigned cell, uint8_t value) {
    const uint8_t before = model->cells[cell];
    for (int i = 0; i < model->faults.ram_faults; i++) {
        const struct cart_ram_fault *fault = &model->faults.ram[i];
        const bool changes = bit_of(before, fault->bit) != bit_of(value, fault->bit);
        if (fault->cell == cell && fault->kind == CART_RAM_TRANSITION && changes &&
            bit_of(value, fault->bit) == (fault->value != 0)) {
            value = with_bit(value, fault->bit, bit_of(before, fault->bit));
        } else if (fault->cell == cell && fault->kind == CART_RAM_STUCK) {
            value = with_bit(value, fault->bit, fault->value);
        }
    }
    return value;
}

/* A change of `cell` from `before` moves the bits that are coupled to it. */
static void couple(struct cart_model *model, unsigned cell, uint8_t before, uint8_t after) {
    for (int i = 0; i < model->faults.ram_faults; i++) {
        const struct cart_ram_fault *fault = &model->faults.ram[i];
        uint8_t *const victim = &model->cells[fault->cell];
        const bool acts = fault->by_cell == cell && bit_of(before, fault->by) != bit_of(after, fault->by) &&
                          bit_of(after, fault->by) == (fault->when != 0);
        if (acts && fault->kind == CART_RAM_INVERSION) {
            *victim ^= (uint8_t)(1u << fault->bit);
        } else if (acts && fault->kind == CART_RAM_IDEMPOTENT) {
            *victim = with_bit(*victim, fault->bit, fault->value);
        }
    }
}

void cart_ram_write(struct cart_model *model, unsigned address, uint8_t value) {
    unsigned cells[2];
    const int count = decode(model, address, cells);
    for (int i = 0; i < count; i++) {
        const uint8_t before = model->cells[cells[i]];
        const uint8_t after = taken(model, cells[i], value);
        model->cells[cells[i]] = after;
        couple(model, cells[i], before, after);
    }
    if (model->faults.ram_faults > 0) {
        cart_ram_settle(model);
    }
}

uint8_t cart_ram_read(const struct cart_model *model, unsigned address) {
    unsigned cells[2];
    const int count = decode(model, address, cells);
    uint8_t value = 0xFF;
    for (int i = 0; i < count; i++) {
        value &= model->cells[cells[i]];
    }
    return value;
}
