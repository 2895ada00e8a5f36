/* Every fault of a cartridge under test, as the texts that ask for it. */
#include "virtual/bench.h"

#include <stdio.h>

enum {
    ADDRESS_LINES = 12, /* A12 apart */
    DATA_LINES = 8,
    ADDRESS_PAIRS = 13 * 12 / 2,
    DATA_PAIRS = 8 * 7 / 2,
    SLOW_NS = 600,    /* later than the console takes its data, and within its cycle */
    LEAST_PLACE = 16, /* of a page's wrong byte: away from the hotspots at the end of a bank's last page */
    PLACES = 192,
    CELL_STEPS = 7 /* address lines of the RAM */
};

struct chosen {
    int scheme;
    bool ram;
};

/* splitmix64: the same place and bits for a page each time */
static uint32_t mixed(uint64_t seed) {
    uint64_t z = (seed + 1) * UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return (uint32_t)(z >> 32);
}

static void pair_of(size_t index, int *one, int *other) {
    *one = 0;
    *other = 1;
    for (; index > 0; index--) {
        *one = *one + 1 < *other ? *one + 1 : 0;
        *other += *one == 0;
    }
}

/* ---- lines ---- */

static size_t count_address(struct chosen of) {
    (void)of;
    return ADDRESS_LINES + 1;
}

static void open_address(struct chosen of, size_t index, char *text, size_t size) {
    (void)of;
    snprintf(text, size, "cart-open=A%zu", index);
}

static size_t count_data(struct chosen of) {
    (void)of;
    return DATA_LINES;
}

static void open_data(struct chosen of, size_t index, char *text, size_t size) {
    (void)of;
    snprintf(text, size, "cart-open=D%zu", index);
}

static size_t count_address_pairs(struct chosen of) {
    (void)of;
    return ADDRESS_PAIRS;
}

static void short_address(struct chosen of, size_t index, char *text, size_t size) {
    int one, other;
    (void)of;
    pair_of(index, &one, &other);
    snprintf(text, size, "cart-short=A%d:A%d", one, other);
}

static size_t count_data_pairs(struct chosen of) {
    (void)of;
    return DATA_PAIRS;
}

static void short_data(struct chosen of, size_t index, char *text, size_t size) {
    int one, other;
    (void)of;
    pair_of(index, &one, &other);
    snprintf(text, size, "cart-short=D%d:D%d", one, other);
}

/* A12 low only: see cart-address. */
static size_t count_stuck_address(struct chosen of) {
    (void)of;
    return 2 * ADDRESS_LINES + 1;
}

static void stuck_address(struct chosen of, size_t index, char *text, size_t size) {
    (void)of;
    snprintf(text, size, "cart-address=%zu:%s", index / 2, index % 2 == 0 ? "low" : "high");
}

static size_t count_levels(struct chosen of) {
    (void)of;
    return 2 * DATA_LINES;
}

static void stuck_data(struct chosen of, size_t index, char *text, size_t size) {
    (void)of;
    snprintf(text, size, "cart-data=%zu:%s", index / 2, index % 2 == 0 ? "low" : "high");
}

static void hold(struct chosen of, size_t index, char *text, size_t size) {
    (void)of;
    snprintf(text, size, "cart-hold=D%zu:%s", index / 2, index % 2 == 0 ? "low" : "high");
}

static size_t count_loose(struct chosen of) {
    (void)of;
    return ADDRESS_LINES + 1 + DATA_LINES;
}

static void loose(struct chosen of, size_t index, char *text, size_t size) {
    (void)of;
    if (index <= ADDRESS_LINES) {
        snprintf(text, size, "cart-loose=A%zu:0.001", index);
    } else {
        snprintf(text, size, "cart-loose=D%zu:0.001", index - ADDRESS_LINES - 1);
    }
}

/* ---- bytes and times ---- */

/* Where there is RAM the first page of a bank is behind it; a bank of 2 KiB shows twice. */
static int hidden(struct chosen of) {
    return of.ram && of.scheme != WIRE_2K ? 1 : 0;
}

static size_t pages_of_bank(struct chosen of) {
    return scheme_bank_bytes(of.scheme) / SCHEME_PAGE;
}

static size_t count_pages(struct chosen of) {
    return (size_t)scheme_banks(of.scheme) * (pages_of_bank(of) - hidden(of));
}

static size_t page_at(struct chosen of, size_t index, size_t *bank) {
    const size_t shown = pages_of_bank(of) - hidden(of);
    *bank = index / shown;
    return index % shown + hidden(of);
}

static void slow(struct chosen of, size_t index, char *text, size_t size) {
    size_t bank;
    const size_t page = page_at(of, index, &bank);
    snprintf(text, size, "cart-slow=%zu.%zu:%d", bank, page, SLOW_NS);
}

static void byte(struct chosen of, size_t index, char *text, size_t size) {
    size_t bank;
    const size_t page = page_at(of, index, &bank);
    const uint32_t any = mixed(index);
    const unsigned at = LEAST_PLACE + any % PLACES, bits = 1u << (any >> 16 & 7);
    const size_t offset = bank * scheme_bank_bytes(of.scheme) + page * SCHEME_PAGE + at;
    snprintf(text, size, "cart-byte=$%zX:$%02X", offset, bits);
}

static size_t count_times(struct chosen of) {
    (void)of;
    return 3;
}

static void times(struct chosen of, size_t index, char *text, size_t size) {
    static const char *const texts[] = {"cart-slow=all:600", "cart-release=600", "cart-late=200"};
    (void)of;
    snprintf(text, size, "%s", texts[index]);
}

/* ---- banks ---- */

static size_t all_banks(struct chosen of) {
    const int banks = scheme_banks(of.scheme);
    return banks > 1 ? (size_t)banks : 1;
}

/* To each other bank, and to none. */
static size_t count_hotspots(struct chosen of) {
    return all_banks(of) > 1 ? all_banks(of) * all_banks(of) : 0;
}

static void hotspot(struct chosen of, size_t index, char *text, size_t size) {
    const size_t banks = all_banks(of), from = index / banks, to = index % banks;
    if (from == to) {
        snprintf(text, size, "cart-hotspot=%zu:none", from);
    } else {
        snprintf(text, size, "cart-hotspot=%zu:%zu", from, to);
    }
}

/* The neighbours of hotspot 0 that are no hotspots, by address line; below the lowest, above the highest. */
static size_t neighbours(struct chosen of, uint16_t list[ADDRESS_LINES + 2]) {
    const uint16_t first = scheme_hotspot(of.scheme, 0);
    size_t count = 0;
    for (int line = 0; line < ADDRESS_LINES + 2 && first != 0; line++) {
        const unsigned at = line < ADDRESS_LINES    ? first ^ 1u << line
                            : line == ADDRESS_LINES ? first - 1u
                                                    : first + (unsigned)scheme_banks(of.scheme);
        bool known = scheme_selects(of.scheme, (uint16_t)at) >= 0;
        for (size_t i = 0; i < count; i++) {
            known = known || list[i] == at;
        }
        if (!known) {
            list[count++] = (uint16_t)at;
        }
    }
    return count;
}

static size_t count_also(struct chosen of) {
    uint16_t list[ADDRESS_LINES + 2];
    return neighbours(of, list);
}

static void also(struct chosen of, size_t index, char *text, size_t size) {
    uint16_t list[ADDRESS_LINES + 2];
    neighbours(of, list);
    snprintf(text, size, "cart-also=$%X:%zu", (unsigned)list[index], index % all_banks(of));
}

/* ---- RAM ---- */

static size_t count_no_ram(struct chosen of) {
    return of.ram;
}

static void no_ram(struct chosen of, size_t index, char *text, size_t size) {
    (void)of;
    (void)index;
    snprintf(text, size, "cart-no-ram");
}

/* Single bits: a seeded cell for each bit, stuck and transition, low and high. */
static size_t count_bits(struct chosen of) {
    return of.ram ? 2 * 2 * 8 : 0;
}

static void bits(struct chosen of, size_t index, char *text, size_t size) {
    (void)of;
    snprintf(text, size, "cart-ram=%s:%u.%zu:%s", index & 1 ? "stuck" : "transition",
             (unsigned)(mixed(index) % SCHEME_RAM), index / 4, index & 2 ? "high" : "low");
}

/* Pairs of cells that differ in one address line, and pairs of bits of one cell: all values. */
enum { INVERSIONS = 2, IDEMPOTENTS = 4, STATES = 4, COUPLINGS = INVERSIONS + IDEMPOTENTS + STATES };

static size_t count_couplings(struct chosen of) {
    return of.ram ? COUPLINGS * (CELL_STEPS + 1) : 0;
}

static void coupling(struct chosen of, size_t index, char *text, size_t size) {
    const size_t kind = index % COUPLINGS, step = index / COUPLINGS;
    const uint32_t any = mixed(index);
    const unsigned cell = any % SCHEME_RAM, bit = any >> 8 & 7;
    const unsigned by_cell = step < CELL_STEPS ? cell ^ 1u << step : cell;
    const unsigned by = step < CELL_STEPS ? any >> 16 & 7 : (bit + 1 + (any >> 16) % 7) & 7;
    const char *const when = kind & 1 ? "high" : "low", *const value = kind & 2 ? "high:" : "low:";
    const char *const name = kind < INVERSIONS                 ? "inversion"
                             : kind < INVERSIONS + IDEMPOTENTS ? "idempotent"
                                                               : "state";
    (void)of;
    snprintf(text, size, "cart-ram=%s:%u.%u:%s%u.%u:%s", name, cell, bit, kind < INVERSIONS ? "" : value,
             by_cell, by, when);
}

static size_t count_decoders(struct chosen of) {
    return of.ram ? 1 + 2 * CELL_STEPS : 0;
}

static void decoder(struct chosen of, size_t index, char *text, size_t size) {
    const unsigned cell = mixed(index) % SCHEME_RAM;
    (void)of;
    if (index == 0) {
        snprintf(text, size, "cart-ram=no-cell:%u", cell);
    } else {
        snprintf(text, size, "cart-ram=%s:%u:%u", index & 1 ? "other-cell" : "both-cells", cell,
                 cell ^ 1u << (index - 1) / 2);
    }
}

bool virtual_cartridge_fault_text(int scheme, bool ram, size_t index, char *text, size_t size) {
    static const struct {
        size_t (*count)(struct chosen of);
        void (*print)(struct chosen of, size_t index, char *text, size_t size);
    } families[] = {{count_address, open_address},
                    {count_address_pairs, short_address},
                    {count_data, open_data},
                    {count_data_pairs, short_data},
                    {count_stuck_address, stuck_address},
                    {count_levels, stuck_data},
                    {count_hotspots, hotspot},
                    {count_also, also},
                    {count_pages, slow},
                    {count_pages, byte},
                    {count_times, times},
                    {count_no_ram, no_ram},
                    {count_bits, bits},
                    {count_couplings, coupling},
                    {count_decoders, decoder},
                    {count_levels, hold},
                    {count_loose, loose}};
    const struct chosen of = {scheme, ram};
    for (size_t i = 0; i < sizeof families / sizeof families[0]; i++) {
        const size_t count = families[i].count(of);
        if (index < count) {
            families[i].print(of, index, text, size);
            return true;
        }
        index -= count;
    }
    return false;
}
