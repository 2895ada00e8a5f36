#include "verdict/supposed.h"

#include <string.h>

struct supposition supposition_none(int scheme) {
    struct supposition none = {.also_selects = -1};
    for (int bank = 0; bank < SCHEME_BANKS_MAX; bank++) {
        none.selects[bank] = (int8_t)bank;
    }
    none.first_bank = (int8_t)(scheme_banks(scheme) > 0 ? scheme_banks(scheme) - 1 : 0);
    return none;
}

/* ---- two at once ---- */

static bool join_pairs(struct line_pair *pairs, int *count, const struct line_pair *more, int more_count) {
    for (int i = 0; i < more_count; i++) {
        if (*count == SUPPOSED_SHORTS) {
            return false;
        }
        pairs[(*count)++] = more[i];
    }
    return true;
}

static bool same_banks(const struct supposition *a, const struct supposition *b) {
    return memcmp(a->selects, b->selects, sizeof a->selects) == 0 && a->also_selects == b->also_selects;
}

bool supposition_join(const struct supposition *a, const struct supposition *b, int scheme,
                      struct supposition *both) {
    const struct supposition none = supposition_none(scheme);
    if (a->name_count + b->name_count > SCHEME_BANKS_MAX || ((a->high & b->low) | (a->low & b->high)) != 0 ||
        ((a->data_high & b->data_low) | (a->data_low & b->data_high)) != 0 ||
        (!same_banks(a, &none) && !same_banks(b, &none))) {
        return false;
    }
    *both = same_banks(a, &none) ? *b : *a;
    both->name_count = 0;
    for (int i = 0; i < a->name_count; i++) {
        both->names[both->name_count++] = a->names[i];
    }
    for (int i = 0; i < b->name_count; i++) {
        both->names[both->name_count++] = b->names[i];
    }
    const struct supposition *rest = same_banks(a, &none) ? a : b;
    both->high |= rest->high;
    both->low |= rest->low;
    both->data_low |= rest->data_low;
    both->data_high |= rest->data_high;
    both->data_floats |= rest->data_floats;
    both->held_low |= rest->held_low;
    both->held_high |= rest->held_high;
    both->no_ram |= rest->no_ram;
    return join_pairs(both->address_short, &both->address_shorts, rest->address_short,
                      rest->address_shorts) &&
           join_pairs(both->data_short, &both->data_shorts, rest->data_short, rest->data_shorts);
}

/* ---- lines ---- */

static unsigned shorted(unsigned levels, const struct line_pair *pairs, int count) {
    for (int turn = 0; turn < count;
         turn++) { /* as often as there are pairs: they may have a line in common */
        for (int i = 0; i < count; i++) {
            const unsigned both = 1U << pairs[i].a | 1U << pairs[i].b;
            levels = (levels & both) == both ? levels : levels & ~both;
        }
    }
    return levels;
}

uint16_t supposed_address(const struct supposition *what, uint16_t address) {
    const unsigned levels = shorted(address, what->address_short, what->address_shorts);
    return (uint16_t)((levels | what->high) & ~(unsigned)what->low);
}

static uint8_t data_lines(const struct supposition *what, uint8_t data) {
    const unsigned levels = shorted(data, what->data_short, what->data_shorts);
    return (uint8_t)((levels | what->data_high) & ~(unsigned)what->data_low);
}

static uint8_t floating(const struct supposed *cartridge) {
    return cartridge->floats == FLOATS_HIGH ? 0xFF : cartridge->floats == FLOATS_LOW ? 0 : cartridge->bus;
}

/* What shows of what it drives: lines that float do not follow. */
static uint8_t shown(const struct supposed *cartridge, uint8_t value) {
    const uint8_t floats = cartridge->what->data_floats;
    return (uint8_t)((data_lines(cartridge->what, value) & ~floats) | (floating(cartridge) & floats));
}

/* ---- the cartridge ---- */

void supposed_start(struct supposed *cartridge, const struct supposition *what, const uint8_t *image,
                    int scheme, bool ram, enum floats floats) {
    *cartridge = (struct supposed){.what = what,
                                   .image = image,
                                   .scheme = scheme,
                                   .ram = ram && !what->no_ram,
                                   .floats = floats,
                                   .bank = what->first_bank};
}

static int bank_after(const struct supposed *cartridge, uint16_t address) {
    const int hotspot = scheme_selects(cartridge->scheme, address);
    if (hotspot >= 0 && cartridge->what->selects[hotspot] >= 0) {
        return cartridge->what->selects[hotspot];
    }
    return cartridge->what->also_at != 0 && address == cartridge->what->also_at
               ? cartridge->what->also_selects
               : cartridge->bank;
}

static struct answer nothing_drives(const struct supposed *cartridge, int written) {
    const uint8_t level = written >= 0 ? (uint8_t)written : floating(cartridge);
    const uint8_t value = data_lines(cartridge->what, level);
    return (struct answer){value, value, 0xFF, 0};
}

/* The cells of a RAM that was never written hold anything. */
static struct answer ram_read(const struct supposed *cartridge, unsigned cell) {
    const uint8_t value = shown(cartridge, cartridge->cells[cell]);
    const uint8_t known = cartridge->cells_known[cell] ? 0xFF : 0;
    return (struct answer){value, value, known, 0xFF};
}

static struct answer ram_write(struct supposed *cartridge, unsigned cell, int written) {
    const struct answer answer = nothing_drives(cartridge, written);
    /* What floats there for a whole cycle is taken in, and nobody can tell what that is. */
    cartridge->cells[cell] = (uint8_t)((answer.value & ~cartridge->what->data_floats) |
                                       cartridge->what->data_floats); /* an open input reads high [P] */
    cartridge->cells_known[cell] = written >= 0;
    return answer;
}

struct answer supposed_access(struct supposed *cartridge, uint16_t address, int written) {
    const uint16_t arrives = supposed_address(cartridge->what, address);
    const unsigned at = arrives & 0xFFF;
    struct answer answer;
    if (!(arrives & SELECTED)) {
        answer = nothing_drives(cartridge, written);
        cartridge->bank = bank_after(cartridge, arrives); /* where its logic does not look at A12 */
    } else if (cartridge->ram && at < SCHEME_RAM) {
        answer = ram_write(cartridge, at, written);
    } else if (cartridge->ram && at < 2 * SCHEME_RAM) {
        answer = ram_read(cartridge, at - SCHEME_RAM);
    } else {
        const int after = bank_after(cartridge, arrives);
        answer = (struct answer){
            shown(cartridge, cartridge->image[scheme_offset(cartridge->scheme, cartridge->bank, arrives)]),
            shown(cartridge, cartridge->image[scheme_offset(cartridge->scheme, after, arrives)]), 0xFF, 0xFF};
        cartridge->bank = after;
    }
    cartridge->bus = answer.value;
    return answer;
}

bool answer_is(struct answer answer, uint8_t byte, uint8_t bits) {
    bits &= answer.known;
    return ((byte ^ answer.value) & bits) == 0 || ((byte ^ answer.other) & bits) == 0;
}
