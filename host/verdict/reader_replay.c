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

/* One reading of everything against what was read: the first (pass 0), or those after it, which differ from
 * it in the unsteady bits. */
struct pass_over {
    const struct reader_work *work;
    int pass;
    uint32_t most;
    struct misses *misses;
};

static bool miss(const struct pass_over *reading, size_t offset, struct answer answer) {
    struct misses *misses = reading->misses;
    if (misses->count < MISSES_MAX) {
        misses->at[misses->count] = (uint16_t)offset;
        misses->right[misses->count] = answer.value;
    }
    return ++misses->count <= reading->most;
}

static bool is_masked(const struct reader_work *work) {
    return work->mask_unsteady || work->allow_unsteady;
}

static bool byte_agrees(const struct pass_over *reading, struct answer answer, size_t offset) {
    const struct reader_seen *seen = reading->work->seen;
    const uint8_t unsteady = seen->unsteady[offset];
    if (reader_is_late(seen, offset)) {
        return true;
    }
    if (is_masked(reading->work)) {
        return answer_is(answer, seen->bytes[offset], (uint8_t)~unsteady);
    }
    return answer_is(answer, reading->pass == 0 ? seen->bytes[offset] : seen->bytes[offset] ^ unsteady, 0xFF);
}

/* The bytes of 2 KiB show in the lower half too. Not among the places that may be missed. */
static bool lower_agrees(const struct pass_over *reading, struct supposed *cartridge) {
    const struct reader_seen *seen = reading->work->seen;
    for (size_t i = 0; seen->has_lower && i < sizeof seen->lower; i++) {
        if (!reader_reads_lower(seen, i)) {
            continue;
        }
        const uint8_t unsteady = seen->lower_unsteady[i];
        const struct answer answer = supposed_access(cartridge, (uint16_t)(SELECTED + i), -1);
        const bool masked = is_masked(reading->work);
        const uint8_t byte = reading->pass == 0 || masked ? seen->lower[i] : seen->lower[i] ^ unsteady;
        /* A byte that is wrong here as in the upper half is missed there. */
        if (!answer_is(answer, byte, masked ? (uint8_t)~unsteady : 0xFF) && !reader_is_late(seen, i) &&
            (reading->most == 0 || seen->bytes[i] != seen->lower[i])) {
            return false;
        }
        cartridge->bus = byte;
    }
    return true;
}

static bool read_once(struct pass_over *reading, struct supposed *cartridge) {
    const struct reader_seen *seen = reading->work->seen;
    if (!lower_agrees(reading, cartridge)) {
        return false;
    }
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
        if (!byte_agrees(reading, answer, offset) && !miss(reading, offset, answer)) {
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

/* A byte that is wrong is wrong in all readings. */
static bool read_agrees(const struct reader_work *work, struct supposed *cartridge, uint32_t most,
                        struct misses *misses) {
    struct misses again = {.count = 0};
    struct pass_over first = {work, 0, most, misses}, second = {work, 1, 0, &again};
    if (!read_once(&first, cartridge)) {
        return false;
    }
    second.most = misses->count;
    return work->seen->passes < 2 || is_masked(work) || read_once(&second, cartridge);
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
    for (int address = 0; address < READER_ADDRESSES; address++) {
        const struct answer answer = supposed_access(cartridge, (uint16_t)address, -1);
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

static bool hotspots_and_neighbours(const struct reader_work *work, struct supposed *cartridge) {
    const struct reader_seen *seen = work->seen;
    const struct supposed before = *cartridge;
    if (!reader_hotspots_tell(work)) {
        return true;
    }
    /* What was done in between may have left any bank. */
    for (int bank = 0; bank < scheme_banks(seen->scheme); bank++) {
        *cartridge = before;
        cartridge->bank = before.what->first_sure ? before.bank : bank;
        if (hotspots_agree(seen, cartridge) && neighbours_agree(seen, cartridge)) {
            return true;
        }
    }
    return false;
}

static bool agrees_from(const struct reader_work *work, struct supposed *cartridge, uint32_t most,
                        struct misses *misses) {
    const struct reader_seen *seen = work->seen;
    misses->count = 0;
    return (!seen->has_bytes || read_agrees(work, cartridge, most, misses)) &&
           hotspots_and_neighbours(work, cartridge) &&
           (!seen->has_quiet || work->no_quiet || quiet_agrees(seen, cartridge->what, cartridge));
}

/* Whether the first access of all decides which bank there is. */
static bool first_decides(const struct supposed *cartridge) {
    struct supposed one = *cartridge, other = *cartridge;
    one.bank = 0;
    other.bank = scheme_banks(cartridge->scheme) - 1;
    select_bank(&one, 0);
    select_bank(&other, 0);
    return one.bank == other.bank;
}

bool reader_agrees(const struct reader_work *work, const struct supposition *what, enum floats floats,
                   uint32_t most, struct misses *misses) {
    const struct reader_seen *seen = work->seen;
    struct supposed cartridge, fresh;
    if (seen->has_bytes && seen->floats != what->data_floats) {
        return false;
    }
    supposed_start(&fresh, what, work->image, seen->scheme, seen->ram, floats);
    const bool once = what->first_sure || scheme_banks(seen->scheme) < 2 || first_decides(&fresh);
    for (int i = 0; i < (once ? 1 : scheme_banks(seen->scheme)); i++) {
        cartridge = fresh;
        cartridge.bank = once ? fresh.bank : i;
        if (agrees_from(work, &cartridge, most, misses)) {
            return true;
        }
    }
    return false;
}

/* ---- RAM ---- */

struct ram_replay {
    struct supposed cartridge;
    bool unknown; /* cells were read that nothing had been written to */
};

static uint8_t ram_access(void *state, uint8_t cell, int written) {
    struct ram_replay *replay = state;
    const uint16_t address = (uint16_t)((written >= 0 ? SCHEME_RAM_WRITE : SCHEME_RAM_READ) + cell);
    const struct answer answer = supposed_access(&replay->cartridge, address, written);
    replay->unknown |= written < 0 && answer.known != 0xFF;
    return answer.value;
}

static bool same_error(const struct march_error *error, const struct reader_ram_error *seen) {
    return error->background == seen->background && error->element == seen->element &&
           error->cell == seen->cell && error->read == seen->read && error->right == seen->right;
}

/* bank: that was selected when the march began, for lines that reach the image instead. */
static bool march_agrees(const struct reader_work *work, const struct supposition *what, enum floats floats,
                         int bank) {
    const struct reader_seen *seen = work->seen;
    struct ram_replay replay = {.unknown = false};
    struct march_error log[WIRE_RAM_LOG];
    uint8_t cells[SCHEME_RAM];
    for (int i = 0; i < SCHEME_RAM; i++) {
        cells[i] = (uint8_t)i;
    }
    supposed_start(&replay.cartridge, what, work->image, seen->scheme, seen->ram, floats);
    replay.cartridge.bank = bank;
    const size_t wrong = march_over(ram_access, &replay, cells, SCHEME_RAM, log, WIRE_RAM_LOG);
    if (replay.unknown) { /* no write arrives: whatever the cells came up with is read */
        return true;
    }
    for (size_t i = 0; i < seen->ram_logged && wrong == seen->ram_wrong; i++) {
        if (!same_error(&log[i], &seen->ram_error[i])) {
            return false;
        }
    }
    return wrong == seen->ram_wrong;
}

bool reader_ram_agrees(const struct reader_work *work, const struct supposition *what, enum floats floats) {
    for (int bank = 0; bank < scheme_banks(work->seen->scheme); bank++) {
        if (march_agrees(work, what, floats, bank)) {
            return true;
        }
    }
    return false;
}
