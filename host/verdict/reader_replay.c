/*
 * A reader's tasks, done over again on a cartridge of which something is supposed: in the very order of
 * accesses in which the reader does them (slotjig/wire.h), since a broken line also hits hotspots that nobody
 * meant. Each stops at the first byte that does not agree.
 */
#include "verdict/march.h"
#include "verdict/reader_parts.h"

/* ---- READ ---- */

static void select_bank(struct supposed *cartridge, int bank) {
    const uint16_t hotspot = scheme_hotspot(cartridge->scheme, bank);
    if (hotspot != 0) {
        supposed_access(cartridge, hotspot, -1);
    }
}

static bool read_agrees(const struct reader_work *work, struct supposed *cartridge, uint32_t most,
                        uint32_t *wrong) {
    const struct reader_seen *seen = work->seen;
    const size_t size = scheme_bytes(seen->scheme);
    int last = -1;
    for (size_t offset = 0; offset < size; offset++) {
        int bank;
        const uint16_t address = scheme_address(seen->scheme, offset, &bank);
        if (!reader_reads(seen, offset)) {
            continue;
        }
        if (bank != last) {
            select_bank(cartridge, bank);
            last = bank;
        }
        const struct answer answer = supposed_access(cartridge, address, -1);
        if (!answer_is(answer, seen->bytes[offset], (uint8_t)~seen->unsteady[offset]) && ++*wrong > most) {
            return false;
        }
        cartridge->bus = seen->bytes[offset];
        const int selects = scheme_selects(seen->scheme, address);
        if (selects >= 0 && selects != bank) {
            select_bank(cartridge, bank);
        }
    }
    return true;
}

/* ---- HOTSPOTS ---- */

static bool tells(const struct reader_seen *seen, struct supposed *cartridge, uint8_t byte) {
    const struct answer answer = supposed_access(cartridge, seen->tells, -1);
    cartridge->bus = byte;
    return answer_is(answer, byte, 0xFF);
}

static bool is_written(int manner) {
    return manner == 1;
}

static bool hotspots_agree(const struct reader_seen *seen, struct supposed *cartridge) {
    const int banks = scheme_banks(seen->scheme);
    for (int i = 0; i < 2 * banks * banks; i++) {
        const int manner = i / banks / banks, from = i / banks % banks, to = i % banks;
        select_bank(cartridge, from);
        supposed_access(cartridge, scheme_hotspot(seen->scheme, to), is_written(manner) ? 0 : -1);
        if (!tells(seen, cartridge, seen->hotspot[manner][from][to])) {
            return false;
        }
    }
    return true;
}

/* The address that the reader tries at that place; 0 where it tries none. */
static uint16_t neighbour_of(int scheme, int place, int hotspot) {
    const uint16_t lowest = scheme_hotspot(scheme, 0);
    const int banks = scheme_banks(scheme);
    uint16_t address;
    if (place >= ADDRESS_LINES) {
        address = (uint16_t)(place == ADDRESS_LINES ? lowest - 1 : lowest + banks);
        return hotspot == 0 ? address : 0;
    }
    address = (uint16_t)(scheme_hotspot(scheme, hotspot) ^ 1U << place);
    return scheme_selects(scheme, address) >= 0 ? 0 : address;
}

static bool neighbours_agree(const struct reader_seen *seen, struct supposed *cartridge) {
    const int banks = scheme_banks(seen->scheme);
    for (int i = 0; i < 15 * banks * banks; i++) {
        const int place = i / banks / banks, hotspot = i / banks % banks, bank = i % banks;
        const uint16_t address = neighbour_of(seen->scheme, place, hotspot);
        if (address == 0) {
            continue; /* nothing was tried: the reader repeats the bank's own byte */
        }
        select_bank(cartridge, bank);
        supposed_access(cartridge, address, -1);
        if (!tells(seen, cartridge, seen->neighbour[place][hotspot][bank])) {
            return false;
        }
    }
    return true;
}

/* ---- QUIET ---- */

/* Whether what was held with A12 = 0 is what a cartridge that is selected all the time would show: each line
 * both high and low somewhere, and nearly everywhere. */
static bool held_as_selected(const struct reader_seen *seen, struct supposed *cartridge) {
    uint8_t low = 0, high = 0;
    for (uint16_t address = 0; address < READER_ADDRESSES; address++) {
        const struct answer answer = supposed_access(cartridge, address, -1);
        low |= (uint8_t)(~answer.value & answer.driven);
        high |= (uint8_t)(answer.value & answer.driven);
    }
    return (seen->held_low & ~low) == 0 && (seen->held_high & ~high) == 0 && seen->held_low != 0 &&
           seen->held_high != 0 && seen->held_count > READER_ADDRESSES * 3 / 4;
}

static bool quiet_agrees(const struct reader_seen *seen, const struct supposition *what,
                         struct supposed *cartridge) {
    if (supposed_address(what, 0) & SELECTED) {
        return held_as_selected(seen, cartridge);
    }
    /* A line that is stuck may be so all the time, or only while the cartridge drives. */
    return (seen->held_low & ~(what->held_low | what->data_low)) == 0 &&
           (seen->held_high & ~(what->held_high | what->data_high)) == 0 &&
           (what->held_low & ~seen->held_low) == 0 && (what->held_high & ~seen->held_high) == 0;
}

/* ---- all of them ---- */

bool reader_agrees(const struct reader_work *work, const struct supposition *what, enum floats floats,
                   uint32_t wrong_most, uint32_t *wrong) {
    const struct reader_seen *seen = work->seen;
    struct supposed cartridge;
    supposed_start(&cartridge, what, work->image, seen->scheme, seen->ram, floats);
    *wrong = 0;
    if (seen->has_bytes &&
        (seen->floats != what->data_floats || !read_agrees(work, &cartridge, wrong_most, wrong))) {
        return false;
    }
    if (seen->has_hotspots && seen->tells != 0 &&
        (!hotspots_agree(seen, &cartridge) || !neighbours_agree(seen, &cartridge))) {
        return false;
    }
    return !seen->has_quiet || work->no_quiet || quiet_agrees(seen, what, &cartridge);
}

/* ---- RAM ---- */

static uint8_t ram_access(void *state, uint8_t cell, int written) {
    struct supposed *cartridge = state;
    const uint16_t address = (uint16_t)((written >= 0 ? SCHEME_RAM_WRITE : SCHEME_RAM_READ) + cell);
    return supposed_access(cartridge, address, written).value;
}

static bool same_error(const struct march_error *error, const struct reader_ram_error *seen) {
    return error->background == seen->background && error->element == seen->element &&
           error->cell == seen->cell && error->read == seen->read && error->right == seen->right;
}

bool reader_ram_agrees(const struct reader_work *work, const struct supposition *what, enum floats floats) {
    const struct reader_seen *seen = work->seen;
    struct supposed cartridge;
    struct march_error log[WIRE_RAM_LOG];
    uint8_t cells[SCHEME_RAM];
    for (int i = 0; i < SCHEME_RAM; i++) {
        cells[i] = (uint8_t)i;
    }
    supposed_start(&cartridge, what, work->image, seen->scheme, seen->ram, floats);
    if (march_over(ram_access, &cartridge, cells, SCHEME_RAM, log, WIRE_RAM_LOG) != seen->ram_wrong) {
        return false;
    }
    for (size_t i = 0; i < seen->ram_logged; i++) {
        if (!same_error(&log[i], &seen->ram_error[i])) {
            return false;
        }
    }
    return true;
}
