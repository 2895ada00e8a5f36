/* What may be supposed of a cartridge: each line open, stuck, shorted to each other one; banks that do not
 * switch, or switch where they should not. */
#include "verdict/reader_parts.h"

#include <stdio.h>

static struct supposition named(int scheme, enum finding_kind kind, int bit, int reg) {
    struct supposition what = supposition_none(scheme);
    what.names[0] = (struct supposed_name){(int16_t)kind, (int8_t)bit, (int8_t)reg, 0, -1};
    what.name_count = 1;
    return what;
}

/* ---- lines ---- */

static size_t address_lines(int scheme, struct supposition *list) {
    size_t count = 0;
    for (int line = 0; line < ADDRESS_LINES; line++) {
        struct supposition *what = &list[count++];
        *what = named(scheme, FINDING_CART_ADDRESS_OPEN, line, -1);
        what->high = (uint16_t)(1U << line);
        what = &list[count++];
        *what = named(scheme, FINDING_CART_ADDRESS_STUCK, line, 0);
        what->low = (uint16_t)(1U << line);
    }
    for (int a = 0; a < ADDRESS_LINES; a++) {
        for (int b = a + 1; b < ADDRESS_LINES; b++) {
            struct supposition *what = &list[count++];
            *what = named(scheme, FINDING_CART_ADDRESS_SHORTED, a, b);
            what->address_short[what->address_shorts++] = (struct line_pair){(uint8_t)a, (uint8_t)b};
        }
    }
    return count;
}

static size_t data_lines(int scheme, struct supposition *list) {
    size_t count = 0;
    for (int line = 0; line < DATA_LINES; line++) {
        const uint8_t mask = (uint8_t)(1U << line);
        struct supposition *what = &list[count++];
        *what = named(scheme, FINDING_CART_DATA_STUCK, line, 0);
        what->data_low = mask;
        what = &list[count++];
        *what = named(scheme, FINDING_CART_DATA_STUCK, line, 1);
        what->data_high = mask;
        what = &list[count++];
        *what = named(scheme, FINDING_CART_DATA_OPEN, line, -1);
        what->data_floats = mask;
    }
    for (int a = 0; a < DATA_LINES; a++) {
        for (int b = a + 1; b < DATA_LINES; b++) {
            struct supposition *what = &list[count++];
            *what = named(scheme, FINDING_CART_DATA_SHORTED, a, b);
            what->data_short[what->data_shorts++] = (struct line_pair){(uint8_t)a, (uint8_t)b};
        }
    }
    return count;
}

size_t reader_line_suppositions(int scheme, struct supposition *list) {
    const size_t count = address_lines(scheme, list);
    return count + data_lines(scheme, list + count);
}

/* ---- banks ---- */

static size_t no_switching(int scheme, struct supposition *list) {
    const int banks = scheme_banks(scheme);
    for (int bank = 0; bank < banks; bank++) {
        list[bank] = named(scheme, FINDING_CART_NOT_SWITCHING, -1, -1);
        list[bank].names[0].bank = (int16_t)bank;
        list[bank].first_bank = (int8_t)bank;
        list[bank].first_sure = true;
        for (int hotspot = 0; hotspot < banks; hotspot++) {
            list[bank].selects[hotspot] = -1;
        }
    }
    return (size_t)banks;
}

static size_t wrong_hotspots(int scheme, struct supposition *list) {
    const int banks = scheme_banks(scheme);
    size_t count = 0;
    for (int i = 0; i < banks * banks; i++) {
        const int hotspot = i / banks, other = i % banks;
        list[count] = named(scheme, FINDING_CART_HOTSPOT_WRONG, -1, -1);
        list[count].names[0].place = (int16_t)hotspot;
        list[count].names[0].bank = (int16_t)(other == hotspot ? -1 : other);
        list[count].selects[hotspot] = (int8_t)(other == hotspot ? -1 : other);
        count++;
    }
    return count;
}

/* ---- an address that switches as well ---- */

static struct supposition also(int scheme, uint16_t address, int bank) {
    struct supposition what = named(scheme, FINDING_CART_SWITCHES_TOO, -1, -1);
    what.names[0].place = (int16_t)address;
    what.names[0].bank = (int16_t)bank;
    what.also_at = address;
    what.also_selects = (int8_t)bank;
    return what;
}

/* The first byte that is not the image's. */
static bool first_wrong(const struct reader_work *work, size_t *offset) {
    const struct reader_seen *seen = work->seen;
    for (*offset = 0; *offset < scheme_bytes(seen->scheme); (*offset)++) {
        if (reader_is_wrong(work, *offset)) {
            return true;
        }
    }
    return false;
}

/* The first wrong byte's address, and those before it, back to one that still showed the right bank's byte
 * and not the other's: one of them switched. */
static size_t also_before(const struct reader_work *work, size_t wrong, int other, struct supposition *list,
                          size_t room) {
    const int scheme = work->seen->scheme;
    const size_t bank_bytes = scheme_bank_bytes(scheme), start = wrong / bank_bytes * bank_bytes;
    size_t count = 0;
    for (size_t offset = wrong + 1; offset-- > start && count < room;) {
        int bank;
        const uint16_t address = scheme_address(scheme, offset, &bank);
        if (scheme_selects(scheme, address) < 0) {
            list[count++] = also(scheme, (uint16_t)address, other);
        }
        if (offset < wrong &&
            work->image[offset] != work->image[(size_t)other * bank_bytes + offset % bank_bytes]) {
            break;
        }
    }
    return count;
}

/* READ accesses nothing with A12 low, and the last byte of a bank shows nothing after it. */
static size_t also_neighbours(int scheme, struct supposition *list, size_t room) {
    const int banks = scheme_banks(scheme);
    size_t count = 0;
    for (int i = 0; i < 15 * banks * banks && count < room; i++) {
        const int place = i / banks / banks, hotspot = i / banks % banks, other = i % banks;
        const uint16_t lowest = scheme_hotspot(scheme, 0);
        const unsigned address = place < 13    ? scheme_hotspot(scheme, hotspot) ^ 1U << place
                                 : place == 13 ? lowest - 1U
                                               : lowest + (unsigned)banks;
        if (scheme_selects(scheme, (uint16_t)address) < 0) {
            list[count++] = also(scheme, (uint16_t)address, other);
        }
    }
    return count;
}

static size_t also_switches(const struct reader_work *work, struct supposition *list, size_t room) {
    const int banks = scheme_banks(work->seen->scheme);
    size_t wrong, count = 0;
    if (!work->seen->has_bytes || !first_wrong(work, &wrong)) {
        return also_neighbours(work->seen->scheme, list, room);
    }
    const int shown = (int)(wrong / scheme_bank_bytes(work->seen->scheme));
    for (int other = 0; other < banks; other++) {
        count += other == shown ? 0 : also_before(work, wrong, other, list + count, room - count);
    }
    return count;
}

/* ---- what the hotspots' own test says ---- */

/* The bank whose byte that is; -1: of none, or of several. */
static int bank_of(const struct reader_work *work, uint8_t byte) {
    const int scheme = work->seen->scheme;
    int found = -1;
    for (int bank = 0; bank < scheme_banks(scheme); bank++) {
        if (work->image[scheme_offset(scheme, bank, work->seen->tells)] == byte) {
            if (found >= 0) {
                return -1;
            }
            found = bank;
        }
    }
    return found;
}

/* The bank that a hit of the hotspot selects, from whatever bank; -1: none; -2: it depends, or cannot be
 * told. */
static int selected_by(const struct reader_work *work, int hotspot) {
    const int banks = scheme_banks(work->seen->scheme);
    bool stays = true, same = true;
    int bank = -2;
    for (int from = 0; from < banks; from++) {
        const int after = bank_of(work, work->seen->hotspot[0][from][hotspot]);
        bank = from == 0 ? after : bank;
        same = same && after >= 0 && after == bank;
        stays = stays && after == from;
    }
    return same ? bank : stays ? -1 : -2;
}

bool reader_hotspots_say(const struct reader_work *work, struct supposition *what) {
    const int scheme = work->seen->scheme, banks = scheme_banks(scheme);
    *what = supposition_none(scheme);
    if (!reader_hotspots_tell(work)) {
        return false;
    }
    for (int hotspot = 0; hotspot < banks; hotspot++) {
        const int bank = selected_by(work, hotspot);
        if (bank == -2) {
            return false;
        }
        what->selects[hotspot] = (int8_t)bank;
        if (bank != hotspot) {
            what->names[what->name_count++] =
                (struct supposed_name){FINDING_CART_HOTSPOT_WRONG, -1, -1, (int16_t)hotspot, (int16_t)bank};
        }
    }
    return what->name_count > 0;
}

size_t reader_bank_suppositions(const struct reader_work *work, struct supposition *list, size_t room) {
    const int scheme = work->seen->scheme;
    const size_t banks = (size_t)scheme_banks(scheme);
    if (banks < 2 || room < banks * (banks + 1)) {
        return 0;
    }
    size_t count = no_switching(scheme, list);
    count += wrong_hotspots(scheme, list + count);
    return count + also_switches(work, list + count, room - count);
}
