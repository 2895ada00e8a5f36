/* Plan cartridge: hotspots, their neighbours, banks that show another's bytes, vectors. */
#include "verdict/check_state.h"
#include "verdict/findings.h"

#include <stdio.h>
#include <string.h>

static const char *const manner_names[CHECK_MANNERS] = {"read", "write", "indexed read", "indexed write"};

/* Banks from which a hotspot does not select its bank, by manner; steady ones only. */
struct hotspots {
    int banks;
    uint8_t fails[CHECK_MANNERS][SCHEME_BANKS_MAX];
    bool any;
};

static void gather(const struct check_state *state, struct hotspots *hotspots) {
    *hotspots = (struct hotspots){.banks = scheme_banks(state->seen.check->scheme)};
    for (int manner = 0; manner < CHECK_MANNERS; manner++) {
        for (int bank = 0; bank < hotspots->banks; bank++) {
            const struct check_item_seen *item = check_find(state, CHECK_HOTSPOT, manner * 8 + bank);
            const bool fails = item != NULL && item->steady;
            hotspots->fails[manner][bank] = fails ? item->item.what : 0;
            hotspots->any |= fails;
        }
    }
}

static unsigned manners_of(const struct hotspots *hotspots, int bank) {
    unsigned manners = 0;
    for (int manner = 0; manner < CHECK_MANNERS; manner++) {
        manners |= hotspots->fails[manner][bank] != 0 ? 1u << manner : 0;
    }
    return manners;
}

static unsigned froms_of(const struct hotspots *hotspots, int bank) {
    unsigned froms = 0;
    for (int manner = 0; manner < CHECK_MANNERS; manner++) {
        froms |= hotspots->fails[manner][bank];
    }
    return froms;
}

/* The bank whose pages all show in place of this one's; -1: they do not, or it cannot be told. */
static int bank_shown(const struct check_state *state, int bank, bool told[SCHEME_PAGES_MAX]) {
    const int of_bank = (int)(scheme_bank_bytes(state->seen.check->scheme) / SCHEME_PAGE);
    int shown = -1;
    for (int i = 0; i < of_bank; i++) {
        const int page = bank * of_bank + i;
        const int shows = state->seen.pages[page].shows;
        if (check_find(state, CHECK_PAGE, page) == NULL) {
            continue;
        }
        if (!check_is_steady(state, CHECK_PAGE, page) || shows < 0 || shows % of_bank != i ||
            (shown >= 0 && shows / of_bank != shown)) {
            return -1;
        }
        shown = shows / of_bank;
    }
    for (int i = 0; i < of_bank && shown >= 0; i++) {
        told[bank * of_bank + i] = true;
    }
    return shown;
}

/* All banks but one cannot be had in any manner; -1: not so. */
static int only_bank(const struct hotspots *hotspots) {
    const unsigned all = (1u << CHECK_MANNERS) - 1;
    int only = -1;
    for (int bank = 0; bank < hotspots->banks; bank++) {
        const unsigned manners = manners_of(hotspots, bank);
        if (manners == 0 && only < 0) {
            only = bank;
        } else if (manners != all) {
            return -1;
        }
    }
    return only;
}

/* Of two banks the other one's hotspot alone may be wrong: what the one that came up's own does, nobody can
 * tell from there. */
static void tell_other_bank(const struct check_state *state, struct result *result, int other) {
    struct finding *finding = finding_add(result, FINDING_CART_HOTSPOT_WRONG);
    finding_say(finding, "Or $%04X alone selects bank %d, or nothing.",
                check_address(scheme_hotspot(state->seen.check->scheme, other)), 1 - other);
    if (finding != NULL) {
        finding->alternative = true;
        finding->explanation = 2;
    }
}

static void tell_no_switching(const struct check_state *state, struct result *result, int only,
                              bool told[SCHEME_PAGES_MAX]) {
    for (int bank = 0; bank < scheme_banks(state->seen.check->scheme); bank++) {
        bank_shown(state, bank, told);
    }
    struct finding *finding = finding_add(result, FINDING_CART_NOT_SWITCHING);
    finding_say(finding,
                "No hotspot does anything, in any manner: bank %d, which came up, stays. Its image may have "
                "been put on as another scheme than %s, or the switching logic is dead.",
                only, scheme_name(state->seen.check->scheme));
    if (finding != NULL && scheme_banks(state->seen.check->scheme) == 2) {
        tell_other_bank(state, result, 1 - only);
        finding->alternative = true;
        finding->explanation = 1;
    }
}

static void list_bits(unsigned bits, int count, const char *const *names, char *text, size_t size) {
    size_t used = 0;
    text[0] = '\0';
    for (int i = 0; i < count && used < size; i++) {
        if (bits >> i & 1) {
            used += names != NULL
                        ? (size_t)snprintf(text + used, size - used, "%s%s", used > 0 ? ", " : "", names[i])
                        : (size_t)snprintf(text + used, size - used, "%s%d", used > 0 ? ", " : "", i);
        }
    }
}

/* Which bank it gives instead. Where that is the one that came up it may as well do nothing: from the other
 * ones nobody could tell before. */
static void say_instead(const struct check_state *state, const struct hotspots *hotspots, int bank, int shown,
                        struct finding *finding) {
    const unsigned others = ((1u << hotspots->banks) - 1) & ~(1u << bank);
    if (shown < 0) {
        finding_say(finding, " What it selects instead does not show: nothing, or not always the same.");
    } else if (shown == state->seen.started_in) {
        finding_say(finding, " Bank %d shows in its place: it selects that one, or nothing.", shown);
    } else if ((froms_of(hotspots, bank) & others) == others) {
        finding_say(finding, " It selects bank %d.", shown);
    } else {
        finding_say(finding, " Bank %d shows in its place.", shown);
    }
}

static void tell_hotspot(const struct check_state *state, struct result *result,
                         const struct hotspots *hotspots, int bank, bool told[SCHEME_PAGES_MAX]) {
    const unsigned manners = manners_of(hotspots, bank), froms = froms_of(hotspots, bank);
    const unsigned all_manners = (1u << CHECK_MANNERS) - 1, all = (1u << hotspots->banks) - 1;
    char in[64], from[32];
    list_bits(manners, CHECK_MANNERS, manner_names, in, sizeof in);
    list_bits(froms, hotspots->banks, NULL, from, sizeof from);
    struct finding *finding = finding_add(result, FINDING_CART_HOTSPOT_WRONG);
    finding_say(finding, "$%04X does not select bank %d %s%s, from %s%s.",
                check_address(scheme_hotspot(state->seen.check->scheme, bank)), bank,
                manners == all_manners ? "in any manner" : "by ", manners == all_manners ? "" : in,
                (froms | 1u << bank) == all ? "any other bank" : "bank ",
                (froms | 1u << bank) == all ? "" : from);
    say_instead(state, hotspots, bank, bank_shown(state, bank, told), finding);
}

/* ---- neighbours ---- */

static unsigned neighbour_of(const struct cart_check *check, int place, int hotspot) {
    return place == 13   ? scheme_hotspot(check->scheme, 0) - 1u
           : place == 14 ? scheme_hotspot(check->scheme, scheme_banks(check->scheme) - 1) + 1u
                         : scheme_hotspot(check->scheme, hotspot) ^ (1u << place);
}

static void name_neighbours(const struct cart_check *check, int place, unsigned hotspots, char *text,
                            size_t size, size_t *used) {
    const int banks = scheme_banks(check->scheme);
    for (int i = 0; i < banks && *used < size - 12; i++) {
        const unsigned address = neighbour_of(check, place, i);
        if (hotspots >> i & 1) {
            *used += (size_t)snprintf(text + *used, size - *used, "%s$%04X", *used > 0 ? ", " : "",
                                      address & 0x1000 ? check_address((uint16_t)address) : address);
        }
    }
}

/* A page with such an address reads as another bank's from there on, in every bank. */
static void mark_pages(const struct cart_check *check, int place, unsigned hotspots, bool told[]) {
    const int banks = scheme_banks(check->scheme),
              of_bank = (int)(scheme_bank_bytes(check->scheme) / SCHEME_PAGE);
    for (int i = 0; i < banks; i++) {
        const unsigned address = neighbour_of(check, place, i);
        for (int bank = 0; bank < banks && (hotspots >> i & 1) != 0 && (address & 0x1000) != 0; bank++) {
            told[bank * of_bank + (int)(address >> 8 & 0xF)] = true;
        }
    }
}

static void tell_neighbours(const struct check_state *state, struct result *result, bool told[]) {
    char text[180] = "";
    size_t used = 0;
    int places = 0, line = -1;
    for (int place = 0; place < CHECK_NEIGHBOURS; place++) {
        const struct check_item_seen *item = check_find(state, CHECK_NEIGHBOUR, place);
        if (item != NULL && item->steady) {
            name_neighbours(state->seen.check, place, item->item.what, text, sizeof text, &used);
            mark_pages(state->seen.check, place, item->item.what, told);
            places++;
            line = place < 13 ? place : line;
        }
    }
    if (places == 0) {
        return;
    }
    struct finding *finding = finding_add(result, FINDING_CART_SWITCHES_TOO);
    finding_say(finding, "A read of %s%s switches banks, and is no hotspot.", text,
                used >= sizeof text - 12 ? " and more" : "");
    if (finding != NULL && places == 1 && line >= 0) {
        finding->bit = line;
        finding_say(finding, " The logic does not look at A%d.", line);
    }
}

/* ---- vectors ---- */

/* A wrong byte or page that has been told says the same. */
static bool is_told(const struct check_state *state, int bank) {
    const int of_bank = (int)(scheme_bank_bytes(state->seen.check->scheme) / SCHEME_PAGE);
    return check_is_steady(state, CHECK_PAGE, (bank + 1) * of_bank - 1);
}

void check_tell_vectors(const struct check_state *state, struct result *result) {
    static const char *const words[] = {"$FFFC", "$FFFE", "$FFFA"};
    char banks[32], which[32];
    unsigned wrong = 0, any = 0;
    for (int bank = 0; bank < scheme_banks(state->seen.check->scheme); bank++) {
        const struct check_item_seen *item = check_find(state, CHECK_VECTORS, bank);
        if (item != NULL && item->steady && !is_told(state, bank)) {
            wrong |= 1u << bank;
            any |= item->item.what;
        }
    }
    if (wrong == 0) {
        return;
    }
    list_bits(wrong, SCHEME_BANKS_MAX, NULL, banks, sizeof banks);
    list_bits(any, 3, words, which, sizeof which);
    finding_say(finding_add(result, FINDING_CART_VECTOR_WRONG),
                "The word at %s is wrong in bank %s, though its page's CRC is right: it reads so only when "
                "the processor fetches it, or at times. A console that begins in that bank may not start.",
                any == 0 ? "$FFFC" : which, banks);
}

void check_tell_banks(const struct check_state *state, struct result *result, bool told[SCHEME_PAGES_MAX]) {
    struct hotspots hotspots;
    gather(state, &hotspots);
    const int only = hotspots.any ? only_bank(&hotspots) : -1;
    if (only >= 0 && only == state->seen.started_in) {
        tell_no_switching(state, result, only, told);
    } else {
        for (int bank = 0; bank < hotspots.banks; bank++) {
            if (manners_of(&hotspots, bank) != 0) {
                tell_hotspot(state, result, &hotspots, bank, told);
            }
        }
    }
    tell_neighbours(state, result, told);
}
