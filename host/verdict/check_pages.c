/*
 * Plan cartridge: what wrong pages have in common.
 *
 * A page's CRC begins with its number and its sum counts it, so a page of the image that shows in another's
 * place, whole, ends with what the two numbers alone say: which page shows is known then. Where that is so
 * for all pages as one address line would have it, the line is named.
 */
#include "verdict/check_state.h"
#include "verdict/findings.h"

#include <stdio.h>
#include <string.h>

enum { BYTES_TOLD = 8, LINE_FIRST = 8 /* the lowest line that tells pages apart */ };

/* ---- what each page says ---- */

/* What a register that differs by this ends with, a page later: the CRC is linear. */
static uint16_t through_page(uint16_t differs) {
    static const uint8_t zeros[SCHEME_PAGE];
    return check_crc(differs, zeros, sizeof zeros);
}

static int shown_in_place(const struct cart_check *check, int page, const struct page_seen *seen) {
    const int other = (uint8_t)(page - seen->sum);
    const uint16_t differs = (uint16_t)(check_crc_start(page) ^ check_crc_start(other));
    return other != page && other < scheme_pages(check->scheme) && through_page(differs) == seen->crc ? other
                                                                                                      : -1;
}

/* Some byte differs from its right one by `flip` bits, and by `sum` as a number. */
static bool agrees(uint8_t flip, uint8_t sum) {
    for (int byte = 0; byte < 256; byte++) {
        if ((uint8_t)((byte ^ flip) - byte) == sum) {
            return true;
        }
    }
    return false;
}

/* Without the bytes CRC and sum must do, and fit more than one byte now and then. */
static void locate_alone(struct page_seen *seen) {
    uint16_t crc = seen->crc;
    int found = 0;
    for (int at = SCHEME_PAGE - 1; at >= 0 && crc != 0; at--) {
        crc = check_crc_back(crc);
        if ((crc & 0xFF) == 0 && agrees((uint8_t)(crc >> 8), seen->sum)) {
            seen->place = at;
            seen->flipped = (uint8_t)(crc >> 8);
            found++;
        }
    }
    seen->place = found == 1 ? seen->place : -1;
}

void check_locate_pages(struct check_state *state) {
    for (int page = 0; page < SCHEME_PAGES_MAX; page++) {
        const struct page_state *told = &state->page_state[page];
        struct page_seen *seen = &state->seen.pages[page];
        seen->place = seen->shows = -1;
        if (seen->known && !seen->unsteady) {
            seen->shows = shown_in_place(state->seen.check, page, seen);
        }
        if (seen->shows >= 0 || seen->unsteady) {
            continue;
        }
        if (told->byte_turn != 0 && told->has_xor) {
            seen->place = told->flipped != 0 ? told->byte : -1; /* the console's own word */
            seen->flipped = told->flipped;
        } else if (seen->known) {
            locate_alone(seen);
        }
    }
}

/* ---- address lines ---- */

/* The page that shows at each with one thing wrong on the address lines: those in `high` read 1, those in
 * `low` 0, and those in `joined` 0 unless all are 1. */
struct line_fault {
    int high, low, joined;
};

static int page_under(const struct line_fault *fault, int page) {
    const int joined = (page & fault->joined) == fault->joined ? page : page & ~fault->joined;
    return (joined | fault->high) & ~fault->low;
}

/* Every page that was read is as this would have it, and some are not as they should be. */
static bool explains(const struct check_state *state, const struct line_fault *fault) {
    int bad = 0;
    for (int page = 0; page < scheme_pages(state->seen.check->scheme); page++) {
        const struct check_item_seen *item = check_find(state, CHECK_PAGE, page);
        if (item == NULL || item->rounds_read == 0) {
            continue;
        }
        const int shows = item->steady ? state->seen.pages[page].shows : page;
        const int under = page_under(fault, page);
        bad += item->steady;
        if (shows != under) {
            return false;
        }
    }
    return bad > 0;
}

static struct finding *add_line(struct result *result, enum finding_kind kind, int line) {
    struct finding *finding = finding_add(result, kind);
    if (finding != NULL) {
        finding->bit = line;
    }
    return finding;
}

static void set_alternative(struct finding *finding, int explanation) {
    if (finding != NULL) {
        finding->alternative = true;
        finding->explanation = explanation;
    }
}

static bool tell_level(const struct check_state *state, struct result *result, int line) {
    const int bit = 1 << (line - LINE_FIRST);
    const struct line_fault high = {.high = bit}, low = {.low = bit};
    if (explains(state, &high)) {
        struct finding *open = add_line(result, FINDING_CART_ADDRESS_OPEN, line);
        finding_say(open,
                    "Pages with A%d = 0 show what belongs where A%d = 1: the line reads high. Its contact "
                    "does not reach the memory.",
                    line, line);
        set_alternative(open, 1);
        struct finding *stuck = add_line(result, FINDING_CART_ADDRESS_STUCK, line);
        finding_say(stuck, "The same, A%d being held high: shorted to +5 V, or its input is broken.", line);
        set_alternative(stuck, 2);
        return true;
    }
    if (explains(state, &low)) {
        finding_say(add_line(result, FINDING_CART_ADDRESS_STUCK, line),
                    "Pages with A%d = 1 show what belongs where A%d = 0: the line is held low.", line, line);
        return true;
    }
    return false;
}

static bool tell_short(const struct check_state *state, struct result *result, int line, int other) {
    const struct line_fault joined = {.joined = 1 << (line - LINE_FIRST) | 1 << (other - LINE_FIRST)};
    if (!explains(state, &joined)) {
        return false;
    }
    struct finding *finding = add_line(result, FINDING_CART_ADDRESS_SHORTED, line);
    if (finding != NULL) {
        finding->reg = other;
    }
    finding_say(finding,
                "Pages show as if A%d and A%d were both 0 where only one of them is 1: the two lines "
                "are joined.",
                line, other);
    return true;
}

static bool tell_lines(const struct check_state *state, struct result *result) {
    int lines = LINE_FIRST;
    while (1 << (lines - LINE_FIRST) < (int)(scheme_bank_bytes(state->seen.check->scheme) / SCHEME_PAGE)) {
        lines++;
    }
    for (int line = LINE_FIRST; line < lines; line++) {
        if (tell_level(state, result, line)) {
            return true;
        }
        for (int other = line + 1; other < lines; other++) {
            if (tell_short(state, result, line, other)) {
                return true;
            }
        }
    }
    return false;
}

/* ---- the rest ---- */

static bool is_left(const struct check_state *state, int page, const bool told[]) {
    return check_is_steady(state, CHECK_PAGE, page) && !told[page];
}

static int count_left(const struct check_state *state, const bool told[], bool located) {
    int count = 0;
    for (int page = 0; page < SCHEME_PAGES_MAX; page++) {
        count += is_left(state, page, told) && (!located || state->seen.pages[page].place >= 0);
    }
    return count;
}

static void tell_byte(const struct check_state *state, struct result *result, int page) {
    const struct page_seen *seen = &state->seen.pages[page];
    const size_t offset = (size_t)page * SCHEME_PAGE + (size_t)seen->place;
    int bank;
    const uint16_t address = scheme_address(state->seen.check->scheme, offset, &bank);
    finding_say(finding_add(result, FINDING_CART_BYTE_WRONG),
                "Bank %d, $%04X (byte $%04zX of the image): read exclusive-or right is $%02X. CRC and sum of "
                "its page fit this one wrong byte; of several at once they could be fitted by chance.",
                bank, check_address(address), offset, seen->flipped);
}

/* "bank 1 $F300, $F500-$F6FF; bank 2 all". */
static void list_pages(const struct check_state *state, const bool told[], char *text, size_t size) {
    const struct cart_check *check = state->seen.check;
    const int of_bank = (int)(scheme_bank_bytes(check->scheme) / SCHEME_PAGE);
    size_t used = 0;
    text[0] = '\0';
    for (int page = 0, last_bank = -1; page < scheme_pages(check->scheme) && used < size - 48; page++) {
        int to = page, bank;
        if (!is_left(state, page, told)) {
            continue;
        }
        while ((to + 1) % of_bank != 0 && is_left(state, to + 1, told)) {
            to++;
        }
        const unsigned from = check_address(scheme_address(check->scheme, (size_t)page * SCHEME_PAGE, &bank));
        const char *const joint = bank != last_bank ? (used > 0 ? "; " : "") : ", ";
        used += (size_t)snprintf(text + used, size - used, "%s", joint);
        if (bank != last_bank) {
            used += (size_t)snprintf(text + used, size - used, "bank %d ", bank);
        }
        used += (size_t)snprintf(text + used, size - used, "$%04X-$%04X", from,
                                 from + (unsigned)(to - page + 1) * SCHEME_PAGE - 1);
        last_bank = bank;
        page = to;
    }
    if (used >= size - 48) {
        snprintf(text + used, size - used, " and more");
    }
}

/* The same page of every bank but one: something in it switches to that one. */
static int page_that_switches(const struct check_state *state, const bool told[], int *bank) {
    const int banks = scheme_banks(state->seen.check->scheme),
              of_bank = (int)(scheme_bank_bytes(state->seen.check->scheme) / SCHEME_PAGE);
    int where = -1;
    for (int page = 0; page < of_bank; page++) {
        int bad = 0, good = -1;
        for (int i = 0; i < banks; i++) {
            const bool left = is_left(state, i * of_bank + page, told);
            bad += left;
            good = left ? good : i;
        }
        if (bad > 0 && (bad != banks - 1 || where >= 0)) {
            return -1;
        }
        if (bad > 0) {
            where = page;
            *bank = good;
        }
    }
    return banks > 2 ? where : -1; /* of two banks one wrong page is just that */
}

static void tell_switching_page(const struct check_state *state, struct result *result, int page, int to) {
    int bank;
    const unsigned from =
        check_address(scheme_address(state->seen.check->scheme, (size_t)page * SCHEME_PAGE, &bank));
    struct finding *finding = finding_add(result, FINDING_CART_SWITCHES_TOO);
    finding_say(finding,
                "$%04X-$%04X is wrong in every bank but %d: some address in it may switch to bank %d while "
                "it is read.",
                from, from + SCHEME_PAGE - 1, to, to);
    set_alternative(finding, 1);
}

static void tell_left(const struct check_state *state, struct result *result, const bool told[]) {
    char pages[200];
    int bank = 0;
    const int page = page_that_switches(state, told, &bank);
    if (page >= 0) {
        tell_switching_page(state, result, page, bank);
    }
    list_pages(state, told, pages, sizeof pages);
    struct finding *wrong = finding_add(result, FINDING_CART_PAGE_WRONG);
    finding_say(wrong, "CRC and sum are wrong, by more than a byte: %s.", pages);
    set_alternative(wrong, 2);
    struct finding *slow = finding_add(result, FINDING_CART_SLOW);
    finding_say(slow,
                "Or the bytes are right and come too late for the console there; a reader tells the two "
                "apart.");
    set_alternative(slow, 3);
}

void check_tell_pages(const struct check_state *state, struct result *result, bool told[SCHEME_PAGES_MAX]) {
    if (count_left(state, told, false) == 0 || tell_lines(state, result)) {
        return;
    }
    if (count_left(state, told, true) <= BYTES_TOLD) {
        for (int page = 0; page < SCHEME_PAGES_MAX; page++) {
            if (is_left(state, page, told) && state->seen.pages[page].place >= 0) {
                tell_byte(state, result, page);
                told[page] = true;
            }
        }
    }
    if (count_left(state, told, false) > 0) {
        tell_left(state, result, told);
    }
}
