/* Plan cartridge: an item in words. */
#include "verdict/check_state.h"

#include <stdio.h>

static const char *const manners[CHECK_MANNERS] = {"a read", "a write", "an indexed read",
                                                   "an indexed write"};
static const char *const quiets[CHECK_QUIETS] = {"the console's RAM", "a port", "the timer",
                                                 "the TIA's open inputs"};

/* "page 3 of bank 1 ($F300-$F3FF)". */
static void name_page(const struct cart_check *check, int page, char *text, size_t size) {
    int bank;
    const unsigned from = check_address(scheme_address(check->scheme, (size_t)page * SCHEME_PAGE, &bank));
    snprintf(text, size, "page %d (bank %d, $%04X-$%04X)", page, bank, from, from + SCHEME_PAGE - 1);
}

static void mask_text(unsigned bits, char text[40]) {
    int used = 0;
    text[0] = '\0';
    for (int i = 0; i < 8; i++) {
        if (bits >> i & 1) {
            used += snprintf(text + used, (size_t)(40 - used), "%s%d", used > 0 ? ", " : "", i);
        }
    }
}

static void page_words(const struct cart_check *check, struct check_item item, char *text, size_t size) {
    static const char *const says[] = {"right", "its CRC is wrong", "its sum is wrong",
                                       "its CRC and sum are wrong"};
    char page[64];
    name_page(check, item.place, page, sizeof page);
    switch (item.kind) {
    case CHECK_PAGE:
        if (item.what < 4) {
            snprintf(text, size, "%s: %s", page, says[item.what]);
        } else {
            snprintf(text, size, "%s: it says $%02X, which means nothing", page, item.what);
        }
        break;
    case CHECK_CRC_HIGH:
    case CHECK_CRC_LOW:
        snprintf(text, size, "%s: the CRC's %s byte ends as $%02X (right: $00)", page,
                 item.kind == CHECK_CRC_HIGH ? "high" : "low", item.what);
        break;
    case CHECK_SUM:
        snprintf(text, size, "%s: the sum ends as $%02X (right: $00)", page, item.what);
        break;
    case CHECK_BYTE:
        snprintf(text, size, "%s: one wrong byte at place $%02X of the page would explain it", page,
                 item.what);
        break;
    default:
        if (item.what != 0) {
            snprintf(text, size, "%s: that byte read exclusive-or right: $%02X", page, item.what);
        } else {
            snprintf(text, size, "%s: no one byte explains it", page);
        }
        break;
    }
}

static void hotspot_words(const struct cart_check *check, struct check_item item, char *text, size_t size) {
    const int bank = item.place & 7, manner = item.place >> 3 & 3;
    char from[40];
    mask_text(item.what, from);
    snprintf(text, size, "hotspot $%04X by %s: %s%s", check_address(scheme_hotspot(check->scheme, bank)),
             manners[manner],
             item.what == 0 ? "selects its bank from every bank"
                            : "did not select its bank "
                              "from bank ",
             from);
}

static void neighbour_words(struct check_item item, char *text, size_t size) {
    char where[48], which[40];
    mask_text(item.what, which);
    if (item.place < 13) {
        snprintf(where, sizeof where, "addresses that differ from a hotspot in A%d", item.place);
    } else {
        snprintf(where, sizeof where, "the address %s hotspot",
                 item.place == 13 ? "below the lowest" : "above the highest");
    }
    snprintf(text, size, "%s: %s%s", where, item.what == 0 ? "none switches" : "switched, of hotspot ",
             which);
}

static void ram_words(struct check_item item, char *text, size_t size) {
    char which[40];
    mask_text(item.what, which);
    switch (item.kind) {
    case CHECK_RAM:
        snprintf(text, size, "cartridge RAM with background $%02X: %s%s", check_backgrounds[item.place & 7],
                 item.what == 0 ? "right" : "wrong reads in March element ", which);
        break;
    case CHECK_RAM_CELL:
        snprintf(text, size, "first wrong read: cell %d, read exclusive-or right: $%02X", item.place,
                 item.what);
        break;
    default:
        snprintf(text, size, "it came with background $%02X in March element %d; %s%d wrong reads",
                 check_backgrounds[item.place >> 4 & 7], item.place & 0xF,
                 item.what == 255 ? "at least " : "", item.what);
        break;
    }
}

static void vector_words(struct check_item item, char *text, size_t size) {
    snprintf(text, size, "vectors of bank %d: %s%s%s%s", item.place,
             item.what == 0 ? "right, and a start through them came back" : "wrong at",
             item.what & 1 ? " $FFFC" : "", item.what & 2 ? " $FFFE" : "", item.what & 4 ? " $FFFA" : "");
}

static void quiet_words(struct check_item item, char *text, size_t size) {
    char lines[40];
    mask_text(item.what, lines);
    snprintf(text, size, "with A12 = 0, %s: %s%s", quiets[item.place & 3],
             item.what == 0 ? "right" : "wrong on D", lines);
}

static void start_words(struct check_item item, char *text, size_t size) {
    if (item.place == CHECK_LATE) {
        snprintf(text, size,
                 "work took longer than its field: the check's program does not run as it is written");
    } else {
        snprintf(text, size, "began in bank %d; the image is %s%s", item.place, scheme_name(item.what & 7),
                 item.what & 8 ? " with RAM" : "");
    }
}

static void count_words(struct check_item item, char *text, size_t size) {
    const int count = item.place << 8 | item.what;
    if (item.kind == CHECK_ROUND) {
        snprintf(text, size, "rounds finished: %d", count);
    } else {
        snprintf(text, size, "wrong items so far: %d%s", count, count == UINT16_MAX ? " or more" : "");
    }
}

static bool start_possible(struct check_item item) {
    const int scheme = item.what & 7;
    return item.what < 16 && scheme_bytes(scheme) > 0 &&
           (item.place == CHECK_LATE || item.place < scheme_banks(scheme));
}

static bool page_possible(const struct cart_check *check, int page) {
    return page < scheme_pages(check->scheme) && check_page_shows(check, page);
}

bool check_item_possible(const struct cart_check *check, struct check_item item) {
    const int banks = scheme_banks(check->scheme);
    switch (item.kind) {
    case CHECK_START:
        return start_possible(item);
    case CHECK_PAGE:
        return item.what < 4 && page_possible(check, item.place);
    case CHECK_CRC_HIGH:
    case CHECK_CRC_LOW:
    case CHECK_SUM:
    case CHECK_BYTE:
    case CHECK_XOR:
        return page_possible(check, item.place);
    case CHECK_HOTSPOT:
        return banks > 1 && item.place < 8 * CHECK_MANNERS && (item.place & 7) < banks &&
               item.what < 1 << banks;
    case CHECK_NEIGHBOUR:
        return banks > 1 && item.place < CHECK_NEIGHBOURS && item.what < 1 << banks;
    case CHECK_VECTORS:
        return item.place < banks && item.what < 8;
    case CHECK_RAM:
        return check->ram && item.place < CHECK_BACKGROUNDS && item.what < 1 << CHECK_ELEMENTS;
    case CHECK_RAM_CELL:
        return check->ram && item.place < 128;
    case CHECK_RAM_WHEN:
        return check->ram && item.place >> 4 < CHECK_BACKGROUNDS && (item.place & 0xF) < CHECK_ELEMENTS;
    case CHECK_QUIET:
        return item.place < CHECK_QUIETS;
    default:
        return true;
    }
}

void check_words(const struct cart_check *check, struct check_item item, char *text, size_t size) {
    switch (item.kind) {
    case CHECK_START:
        start_words(item, text, size);
        break;
    case CHECK_PAGE:
    case CHECK_CRC_HIGH:
    case CHECK_CRC_LOW:
    case CHECK_SUM:
    case CHECK_BYTE:
    case CHECK_XOR:
        page_words(check, item, text, size);
        break;
    case CHECK_HOTSPOT:
        hotspot_words(check, item, text, size);
        break;
    case CHECK_NEIGHBOUR:
        neighbour_words(item, text, size);
        break;
    case CHECK_VECTORS:
        vector_words(item, text, size);
        break;
    case CHECK_RAM:
    case CHECK_RAM_CELL:
    case CHECK_RAM_WHEN:
        ram_words(item, text, size);
        break;
    case CHECK_QUIET:
        quiet_words(item, text, size);
        break;
    default:
        count_words(item, text, size);
        break;
    }
}

bool check_from_digits(const char *digits, struct check_item *item) {
    enum { DIGITS = 5 };
    uint32_t value = 0;
    for (int i = 0; i < DIGITS; i++) {
        const char c = digits[i];
        const int digit = c >= '0' && c <= '9'   ? c - '0'
                          : c >= 'A' && c <= 'F' ? c - 'A' + 10
                          : c >= 'a' && c <= 'f' ? c - 'a' + 10
                                                 : -1;
        if (digit < 0) {
            return false;
        }
        value = value << 4 | (uint32_t)digit;
    }
    *item = check_unpack(value);
    return digits[DIGITS] == '\0';
}
