#include "virtual/faults_cart.h"

#include "virtual/words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NS_MAX = 60000, PULLED_MAX_S = 1000000, MS_MAX = 60000, LAST_ADDRESS_LINE = 12, LAST_DATA_LINE = 7 };

static struct cart_faults *of_cartridge(struct virtual_faults *faults) {
    faults->of_cartridge = true;
    return &faults->cartridge;
}

/* ---- words ---- */

static const char no_line[] = "the line must be A0 to A12 or D0 to D7";
static const char no_level[] = "the level is low or high";

static bool take_contact(const char *text, bool *address, long *line) {
    *address = text != NULL && text[0] == 'A';
    return text != NULL && (text[0] == 'A' || text[0] == 'D') &&
           word_whole(text + 1, 0, *address ? LAST_ADDRESS_LINE : LAST_DATA_LINE, line);
}

static bool take_level(const char *text, bool *high) {
    *high = text != NULL && strcmp(text, "high") == 0;
    return *high || (text != NULL && strcmp(text, "low") == 0);
}

/* $1FF8, or decimal. */
static bool take_count(const char *text, long most, long *value) {
    char *end;
    if (text == NULL || text[0] != '$') {
        return text != NULL && word_whole(text, 0, most, value);
    }
    *value = strtol(text + 1, &end, 16);
    const bool digits = text[1 + strspn(text + 1, "0123456789ABCDEFabcdef")] == '\0';
    return text[1] != '\0' && digits && *value >= 0 && *value <= most;
}

static unsigned shorted(const uint8_t pairs[][2], int count) {
    unsigned mask = 0;
    for (int i = 0; i < count; i++) {
        mask |= 1u << pairs[i][0] | 1u << pairs[i][1];
    }
    return mask;
}

/* Lines that an earlier fault has, apart from shorts. */
static unsigned taken_lines(const struct virtual_faults *faults, bool address) {
    const struct cart_faults *cart = &faults->cartridge;
    return address ? cart->address_open | cart->loose_address | faults->address_low | faults->address_high
                   : (unsigned)(cart->data_open | cart->loose_data | faults->cart_low | faults->cart_high);
}

static unsigned shorted_lines(const struct cart_faults *cart, bool address) {
    return address ? shorted(cart->address_short, cart->address_shorts)
                   : shorted(cart->data_short, cart->data_shorts);
}

static const char twice[] = "an earlier fault has the same line; give one of them";

const char *cart_lines_clash(const struct virtual_faults *faults) {
    const struct cart_faults *cart = &faults->cartridge;
    const unsigned address = cart->address_open | cart->loose_address | shorted_lines(cart, true);
    const unsigned data = cart->data_open | cart->loose_data | shorted_lines(cart, false);
    const bool clash = ((faults->address_low | faults->address_high) & address) != 0 ||
                       ((faults->cart_low | faults->cart_high) & data) != 0;
    return clash ? twice : NULL;
}

/* ---- lines ---- */

const char *take_cart_open(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    bool address;
    long line;
    if (!take_contact(value, &address, &line)) {
        return no_line;
    }
    if ((taken_lines(faults, address) | shorted_lines(cart, address)) >> line & 1) {
        return twice;
    }
    if (address) {
        cart->address_open |= (uint16_t)(1 << line);
    } else {
        cart->data_open |= (uint8_t)(1 << line);
    }
    return NULL;
}

const char *take_cart_short(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    bool address, same;
    long one, other;
    const char *second = word_cut(value, ':');
    if (!take_contact(value, &address, &one) || !take_contact(second, &same, &other) || same != address ||
        one == other) {
        return "it takes two different address lines, such as A3:A4, or two data lines, such as D1:D2";
    }
    if (taken_lines(faults, address) & (1u << one | 1u << other)) {
        return twice;
    }
    uint8_t *const count = address ? &cart->address_shorts : &cart->data_shorts;
    if (*count == CART_SHORTS_MAX) {
        return "that is one too many: a cartridge has at most 4 of a kind";
    }
    uint8_t *const pair = (address ? cart->address_short : cart->data_short)[(*count)++];
    pair[0] = (uint8_t)one;
    pair[1] = (uint8_t)other;
    return NULL;
}

const char *take_cart_hold(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    bool address, high;
    long line;
    const char *level = word_cut(value, ':');
    if (!take_contact(value, &address, &line) || address) {
        return "the line must be D0 to D7";
    }
    if (!take_level(level, &high)) {
        return no_level;
    }
    if ((high ? cart->held_low : cart->held_high) >> line & 1) {
        return "an earlier fault holds the same line at the other level; give one of them";
    }
    *(high ? &cart->held_high : &cart->held_low) |= (uint8_t)(1 << line);
    return NULL;
}

const char *take_cart_loose(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    bool address;
    long line;
    const char *text = word_cut(value, ':');
    if (!take_contact(value, &address, &line)) {
        return no_line;
    }
    char *end;
    const double rate = text == NULL ? 0 : strtod(text, &end);
    if (text == NULL || end == text || *end != '\0' || !(rate > 0 && rate < 1)) {
        return "the fraction of accesses must be more than 0 and less than 1, such as 0.001";
    }
    uint32_t share = (uint32_t)(rate * 4294967296.0);
    share = share == 0 ? 1 : share;
    if (cart->loose_rate != 0 && cart->loose_rate != share) {
        return "loose contacts of one cartridge have one fraction; give all of them the same";
    }
    if ((cart->address_open >> line & 1 & address) || (cart->data_open >> line & 1 & !address)) {
        return twice;
    }
    cart->loose_rate = share;
    if (address) {
        cart->loose_address |= (uint16_t)(1 << line);
    } else {
        cart->loose_data |= (uint8_t)(1 << line);
    }
    return NULL;
}

/* ---- times ---- */

/* BANK.PAGE, or all: then -1. */
static bool take_page(char *text, long *page) {
    long bank, of_bank;
    if (strcmp(text, "all") == 0) {
        *page = -1;
        return true;
    }
    const char *number = word_cut(text, '.');
    if (number == NULL || !word_whole(text, 0, SCHEME_BANKS_MAX - 1, &bank) ||
        !word_whole(number, 0, 15, &of_bank)) {
        return false;
    }
    *page = bank * 16 + of_bank;
    return true;
}

const char *take_cart_slow(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    long page, ns;
    const char *time = word_cut(value, ':');
    if (!take_page(value, &page)) {
        return "it takes a bank 0 to 7, a dot and a page of it 0 to 15; or all";
    }
    if (time == NULL || !word_whole(time, 1, NS_MAX, &ns)) {
        return "after the page goes a colon and 1 to 60000 ns";
    }
    if (page < 0) {
        cart->access_ns = (uint16_t)ns;
        return NULL;
    }
    if (cart->slow_pages == CART_SLOW_MAX) {
        return "that is one too many: a cartridge has at most 8 slow pages";
    }
    cart->slow[cart->slow_pages++] = (struct cart_slow){(uint8_t)page, (uint16_t)ns};
    return NULL;
}

const char *take_cart_release(struct virtual_faults *faults, char *value) {
    long ns;
    if (!word_whole(value, 1, NS_MAX, &ns)) {
        return "it takes 1 to 60000 ns";
    }
    of_cartridge(faults)->release_ns = (uint16_t)ns;
    return NULL;
}

const char *take_cart_late(struct virtual_faults *faults, char *value) {
    long ms;
    if (!word_whole(value, 1, MS_MAX, &ms)) {
        return "it takes 1 to 60000 ms";
    }
    of_cartridge(faults)->late_us = (uint32_t)ms * 1000;
    return NULL;
}

const char *take_cart_pulled(struct virtual_faults *faults, char *value) {
    double seconds;
    if (!word_number(value, &seconds) || !(seconds > 0 && seconds <= PULLED_MAX_S)) {
        return "it takes seconds of the console's time, more than 0, at most 1000000";
    }
    faults->pulled_after_s = seconds;
    return NULL;
}

/* ---- bytes and banks ---- */

const char *take_cart_byte(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    long offset, bits;
    const char *flips = word_cut(value, ':');
    if (!take_count(value, 32767, &offset)) {
        return "the place in the image must be 0 to 32767, or $0 to $7FFF";
    }
    if (!take_count(flips, 255, &bits) || bits == 0) {
        return "after the place goes a colon and the wrong bits, 1 to 255 or $1 to $FF";
    }
    if (cart->bytes == CART_BYTES_MAX) {
        return "that is one too many: a cartridge has at most 8 wrong bytes";
    }
    cart->byte[cart->bytes++] = (struct cart_byte){(uint16_t)offset, (uint8_t)bits};
    return NULL;
}

const char *take_cart_hotspot(struct virtual_faults *faults, char *value) {
    long hotspot, bank = -1;
    const char *to = word_cut(value, ':');
    const bool none = to != NULL && strcmp(to, "none") == 0;
    if (!word_whole(value, 0, SCHEME_BANKS_MAX - 1, &hotspot) ||
        (!none && (to == NULL || !word_whole(to, 0, SCHEME_BANKS_MAX - 1, &bank))) || hotspot == bank) {
        return "it takes the bank that the hotspot should select, 0 to 7, a colon and another one, or none";
    }
    of_cartridge(faults)->selects[hotspot] = (int8_t)bank;
    return NULL;
}

const char *take_cart_also(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    long at, bank;
    const char *to = word_cut(value, ':');
    if (!take_count(value, 0xFFFF, &at) || !(at & 0x1000)) {
        return "the address must be $1000 to $1FFF, or $F000 to $FFFF";
    }
    if (to == NULL || !word_whole(to, 0, SCHEME_BANKS_MAX - 1, &bank)) {
        return "after the address goes a colon and the bank that it selects, 0 to 7";
    }
    if (cart->also_selects >= 0) {
        return "cart-also was given already; a cartridge has one";
    }
    cart->also_at = (uint16_t)(at & 0x1FFF);
    cart->also_selects = (int8_t)bank;
    return NULL;
}

const char *take_cart_first(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    long bank = 0;
    cart->first_bank_random = strcmp(value, "random") == 0;
    if (!cart->first_bank_random && !word_whole(value, 0, SCHEME_BANKS_MAX - 1, &bank)) {
        return "it takes a bank 0 to 7, or random";
    }
    cart->first_bank = (uint8_t)bank;
    return NULL;
}

/* ---- RAM ---- */

const char *take_cart_no_ram(struct virtual_faults *faults, char *value) {
    (void)value;
    if (faults->cartridge.ram_faults > 0) {
        return "cart-ram was given already; a RAM is missing or faulty";
    }
    of_cartridge(faults)->no_ram = true;
    return NULL;
}

static bool take_cell(const char *text, uint8_t *cell) {
    long value;
    if (text == NULL || !word_whole(text, 0, SCHEME_RAM - 1, &value)) {
        return false;
    }
    *cell = (uint8_t)value;
    return true;
}

/* CELL.BIT */
static bool take_cell_bit(char *text, uint8_t *cell, uint8_t *bit) {
    long value;
    const char *number = text == NULL ? NULL : word_cut(text, '.');
    if (number == NULL || !take_cell(text, cell) || !word_whole(number, 0, 7, &value)) {
        return false;
    }
    *bit = (uint8_t)value;
    return true;
}

/* What each kind's text has, in this order: the cell with its bit, what the bit becomes, the other cell with
 * its bit, what that becomes; or cells alone. */
enum { NEEDS_VALUE = 1, NEEDS_BY = 2, NEEDS_CELLS = 4, NEEDS_OTHER = 8 };
static const struct {
    const char *name, *form;
    int needs;
} ram_kinds[CART_RAM_KINDS] = {
    [CART_RAM_STUCK] = {"stuck", "stuck goes like stuck:5.3:low: cell 0-127, its bit, the level",
                        NEEDS_VALUE},
    [CART_RAM_TRANSITION] = {"transition",
                             "transition goes like transition:5.3:high: bit 3 of cell 5 cannot become high",
                             NEEDS_VALUE},
    [CART_RAM_INVERSION] = {"inversion",
                            "inversion goes like inversion:5.3:9.1:high: 5.3 is inverted when another, 9.1, "
                            "becomes high",
                            NEEDS_BY},
    [CART_RAM_IDEMPOTENT] =
        {"idempotent",
         "idempotent goes like idempotent:5.3:low:9.1:high: 5.3 becomes low when another, "
         "9.1, becomes high",
         NEEDS_VALUE | NEEDS_BY},
    [CART_RAM_STATE] = {"state",
                        "state goes like state:5.3:low:9.1:high: 5.3 is low while another, 9.1, is high",
                        NEEDS_VALUE | NEEDS_BY},
    [CART_RAM_NO_CELL] = {"no-cell", "no-cell goes like no-cell:5: a cell 0-127", NEEDS_CELLS},
    [CART_RAM_OTHER_CELL] = {"other-cell", "other-cell goes like other-cell:5:9: two different cells 0-127",
                             NEEDS_CELLS | NEEDS_OTHER},
    [CART_RAM_BOTH_CELLS] = {"both-cells", "both-cells goes like both-cells:5:9: two different cells 0-127",
                             NEEDS_CELLS | NEEDS_OTHER},
};

static int ram_kind(const char *name) {
    int kind = 0;
    while (kind < CART_RAM_KINDS && strcmp(name, ram_kinds[kind].name) != 0) {
        kind++;
    }
    return kind;
}

static char *next_part(char **rest) {
    char *const part = *rest;
    *rest = part == NULL ? NULL : word_cut(part, ':');
    return part;
}

static bool take_flag(const char *text, uint8_t *flag) {
    bool high = false;
    const bool good = take_level(text, &high);
    *flag = high;
    return good;
}

static bool take_cells(char *rest, int needs, struct cart_ram_fault *fault) {
    if (!take_cell(next_part(&rest), &fault->cell)) {
        return false;
    }
    const bool other = !(needs & NEEDS_OTHER) ||
                       (take_cell(next_part(&rest), &fault->by_cell) && fault->by_cell != fault->cell);
    return other && rest == NULL;
}

static bool take_bits(char *rest, int needs, struct cart_ram_fault *fault) {
    bool good = take_cell_bit(next_part(&rest), &fault->cell, &fault->bit);
    if (good && (needs & NEEDS_VALUE)) {
        good = take_flag(next_part(&rest), &fault->value);
    }
    if (good && (needs & NEEDS_BY)) {
        good = take_cell_bit(next_part(&rest), &fault->by_cell, &fault->by) &&
               take_flag(next_part(&rest), &fault->when) &&
               (fault->by_cell != fault->cell || fault->by != fault->bit);
    }
    return good && rest == NULL;
}

static bool decodes(const struct cart_ram_fault *fault) {
    return fault->kind >= CART_RAM_NO_CELL;
}

const char *take_cart_ram(struct virtual_faults *faults, char *value) {
    struct cart_faults *const cart = of_cartridge(faults);
    char *const rest = word_cut(value, ':');
    const int kind = ram_kind(value);
    struct cart_ram_fault fault = {.kind = (uint8_t)kind};
    if (kind == CART_RAM_KINDS) {
        return "it is stuck, transition, inversion, idempotent, state, no-cell, other-cell or both-cells";
    }
    const int needs = ram_kinds[kind].needs;
    if (!(needs & NEEDS_CELLS ? take_cells : take_bits)(rest, needs, &fault)) {
        return ram_kinds[kind].form;
    }
    if (cart->no_ram) {
        return "cart-no-ram was given already; a RAM is missing or faulty";
    }
    if (cart->ram_faults == CART_RAM_FAULTS_MAX) {
        return "that is one too many: a RAM has at most 16";
    }
    for (int i = 0; i < cart->ram_faults; i++) {
        const struct cart_ram_fault *const earlier = &cart->ram[i];
        if (earlier->cell == fault.cell && decodes(earlier) == decodes(&fault) &&
            (decodes(&fault) || earlier->bit == fault.bit)) {
            return "an earlier fault has the same cell; give one of them";
        }
    }
    cart->ram[cart->ram_faults++] = fault;
    return NULL;
}

/* ---- on a cartridge of some scheme ---- */

/* to: -1 for none. */
static bool selects_fit(int hotspot, int to, int banks) {
    return to == hotspot || (banks > 1 && hotspot < banks && to < banks);
}

static bool banks_fit(const struct cart_faults *faults, int scheme, struct problem *problem) {
    const int banks = scheme_banks(scheme);
    bool good = faults->also_selects < banks;
    for (int bank = 0; bank < SCHEME_BANKS_MAX; bank++) {
        good = good && selects_fit(bank, faults->selects[bank], banks);
    }
    return good ||
           problem_set(problem, PROBLEM_INPUT,
                       "fault of a bank that a cartridge of scheme %s does not have: it has %d (from 0 "
                       "on)%s",
                       scheme_name(scheme), banks, banks > 1 ? "" : " and no hotspots");
}

static bool places_fit(const struct cart_faults *faults, int scheme, struct problem *problem) {
    for (int i = 0; i < faults->slow_pages; i++) {
        if (faults->slow[i].page >= scheme_pages(scheme)) {
            return problem_set(problem, PROBLEM_INPUT,
                               "fault cart-slow=%d.%d: a cartridge of scheme %s has %d pages, 16 a bank",
                               faults->slow[i].page / 16, faults->slow[i].page % 16, scheme_name(scheme),
                               scheme_pages(scheme));
        }
    }
    for (int i = 0; i < faults->bytes; i++) {
        if (faults->byte[i].offset >= scheme_bytes(scheme)) {
            return problem_set(problem, PROBLEM_INPUT,
                               "fault cart-byte=$%X: a cartridge of scheme %s has %zu bytes",
                               (unsigned)faults->byte[i].offset, scheme_name(scheme), scheme_bytes(scheme));
        }
    }
    return true;
}

bool cart_faults_fit(const struct cart_faults *faults, int scheme, bool ram, struct problem *problem) {
    if (!ram && (faults->no_ram || faults->ram_faults > 0)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "fault cart-ram or cart-no-ram: this cartridge has no RAM; give --ram");
    }
    return banks_fit(faults, scheme, problem) && places_fit(faults, scheme, problem);
}
