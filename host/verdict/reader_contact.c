/*
 * A contact that comes and goes: bytes that were not the same in all readings. Which line, if it were open at
 * times, could have given just these: of an address line the byte at the address with that line high (and,
 * where that is a hotspot, another bank's bytes from there on), of a data line its own bit.
 */
#include "stats/stats.h"
#include "verdict/findings.h"
#include "verdict/reader_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LINES = ADDRESS_LINES + DATA_LINES };

/* What a line that comes and goes could show. */
struct chance {
    size_t could, did; /* places where it could show, and did */
    size_t unexplained;
    /* Of the places where it is sure which bank is selected, so that each tells of its own access: those
     * where it could show, those that were unsteady, and those whose first reading was wrong. */
    size_t places, unsteady, first_wrong;
};

static unsigned after_access(const struct reader_work *work, uint16_t address, unsigned banks) {
    const int selects = (address & SELECTED) ? scheme_selects(work->seen->scheme, address) : -1;
    return selects >= 0 ? 1U << selects : banks;
}

/* The banks that may be selected after an access whose line may have been open. */
static unsigned banks_after(const struct reader_work *work, uint16_t address, uint16_t line, unsigned banks) {
    return after_access(work, address, banks) | after_access(work, address | line, banks);
}

struct values {
    uint8_t differ; /* bits in which the possible ones are not all the same */
    bool seen;      /* what was read first is one of them */
};

static void add_value(struct values *values, uint8_t value, uint8_t right, uint8_t read) {
    values->differ |= value ^ right;
    values->seen |= value == read;
}

/* What a good one shows there: of another bank's hotspot either bank's byte, and so the one that was read. */
static uint8_t right_byte(const struct reader_work *work, const uint8_t *image, size_t offset) {
    const int scheme = work->seen->scheme;
    const uint8_t byte = work->seen->bytes[offset];
    int bank;
    const uint16_t address = scheme_address(scheme, offset, &bank);
    const int selects = scheme_selects(scheme, address);
    return selects >= 0 && byte == image[scheme_offset(scheme, selects, address)] ? byte : image[offset];
}

static struct values values_at(const struct reader_work *work, const uint8_t *image, uint16_t address,
                               uint16_t line, unsigned banks, size_t offset) {
    const int scheme = work->seen->scheme;
    const uint8_t right = right_byte(work, image, offset);
    struct values values = {0, false};
    for (int bank = 0; bank < scheme_banks(scheme); bank++) {
        for (int open = 0; (banks >> bank & 1) && open < 2; open++) {
            const uint16_t arrives = open ? address | line : address;
            const int selects = scheme_selects(scheme, arrives); /* it may show the new bank's byte already */
            add_value(&values, image[scheme_offset(scheme, bank, arrives)], right, work->seen->bytes[offset]);
            if (selects >= 0) {
                add_value(&values, image[scheme_offset(scheme, selects, arrives)], right,
                          work->seen->bytes[offset]);
            }
        }
    }
    return values;
}

static void count_place(struct chance *chance, const struct values *values, uint8_t unsteady,
                        bool first_wrong, bool sure) {
    if ((unsteady & ~values->differ) != 0 || !values->seen) {
        chance->unexplained++;
    }
    chance->could += values->differ != 0;
    chance->did += values->differ != 0 && (unsteady != 0 || first_wrong);
    if (sure && values->differ != 0) {
        chance->places++;
        chance->unsteady += unsteady != 0;
        chance->first_wrong += first_wrong;
    }
}

static struct chance address_chance(const struct reader_work *work, const uint8_t *image, int number) {
    const struct reader_seen *seen = work->seen;
    const uint16_t line = (uint16_t)(1U << number);
    struct chance chance = {.could = 0};
    unsigned banks = (1U << scheme_banks(seen->scheme)) - 1;
    int last = -1;
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        int bank;
        const uint16_t address = scheme_address(seen->scheme, offset, &bank);
        if (!reader_reads(seen, offset)) {
            continue;
        }
        if (bank != last && scheme_hotspot(seen->scheme, bank) != 0) {
            banks = banks_after(work, scheme_hotspot(seen->scheme, bank), line, banks);
        }
        last = bank;
        const struct values values = values_at(work, image, address, line, banks, offset);
        count_place(&chance, &values, seen->unsteady[offset],
                    seen->bytes[offset] != right_byte(work, image, offset), (banks & (banks - 1)) == 0);
        banks = banks_after(work, address, line, banks);
        const int selects = scheme_selects(seen->scheme, address);
        if (selects >= 0 && selects != bank) {
            banks = banks_after(work, scheme_hotspot(seen->scheme, bank), line, banks);
        }
    }
    return chance;
}

/* Open, a data line shows what it is pulled to (high, after the reader's start), or keeps what was there. */
static struct chance data_chance(const struct reader_work *work, const uint8_t *image, int line,
                                 enum floats floats) {
    const struct reader_seen *seen = work->seen;
    const uint8_t bit = (uint8_t)(1U << line);
    struct chance chance = {.could = 0};
    uint8_t before = 0;
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        if (!reader_reads(seen, offset)) {
            continue;
        }
        const uint8_t whole = right_byte(work, image, offset), right = whole & bit;
        const uint8_t open = floats == FLOATS_HIGH ? bit : floats == FLOATS_LOW ? 0 : before & bit;
        const struct values values = {right ^ open, ((seen->bytes[offset] ^ whole) & ~(right ^ open)) == 0};
        count_place(&chance, &values, seen->unsteady[offset], seen->bytes[offset] != whole, true);
        before = whole;
    }
    return chance;
}

/* ---- the rate ---- */

/* Share of places that are unsteady after so many readings, each open at that rate: all but those always open
 * and those never [A]. */
static double unsteady_share(double rate, double passes) {
    return 1 - pow(rate, passes) - pow(1 - rate, passes);
}

/* Its inverse, below one half. */
static double rate_below_half(double share, double passes) {
    double low = 0, high = 0.5;
    for (int i = 0; i < 60; i++) {
        const double middle = (low + high) / 2;
        *(unsteady_share(middle, passes) < share ? &low : &high) = middle;
    }
    return (low + high) / 2;
}

/* With an image the first readings say whether it is open less than half of the time. */
static void set_rate(struct finding *finding, const struct reader_seen *seen, const struct chance *chance) {
    const double passes = seen->passes, places = (double)chance->places;
    const struct interval interval = wilson_interval((long)chance->unsteady, (long)chance->places);
    double rate = places > 0 ? rate_below_half((double)chance->unsteady / places, passes) : 0;
    double low = rate_below_half(interval.low, passes), high = rate_below_half(interval.high, passes);
    if (2 * (double)chance->first_wrong > places) {
        const double turned = 1 - low;
        rate = 1 - rate;
        low = 1 - high;
        high = turned;
    }
    if (finding != NULL) {
        finding->rate = rate;
        finding->rate_low = low;
        finding->rate_high = high;
    }
    finding_say(finding, " Open in %.2g %% of the accesses (95 %% interval %.2g to %.2g %%).", 100 * rate,
                100 * low, 100 * high);
}

/* ---- telling ---- */

struct contact {
    bool data;
    int line;
    struct chance chance;
};

/* A line that could have shown at many places, and did at few, is less likely than one that could at just
 * these: by how likely the places are that did, at the rate that fits best. */
static double likelihood(const struct chance *chance) {
    const double did = (double)chance->did, all = (double)chance->could, rest = all - did;
    return (did > 0 ? did * log(did / all) : 0) + (rest > 0 ? rest * log(rest / all) : 0);
}

static size_t add_contact(struct contact *list, size_t count, const struct contact *contact) {
    size_t at = count;
    while (at > 0 && likelihood(&contact->chance) > likelihood(&list[at - 1].chance)) {
        list[at] = list[at - 1];
        at--;
    }
    list[at] = *contact;
    return count + 1;
}

static size_t lines_that_explain(const struct reader_work *work, const uint8_t *image, struct contact *list) {
    size_t count = 0;
    for (int line = 0; line < ADDRESS_LINES - 1; line++) {
        const struct contact contact = {false, line, address_chance(work, image, line)};
        if (contact.chance.unexplained == 0 && contact.chance.did > 0) {
            count = add_contact(list, count, &contact);
        }
    }
    for (int line = 0; line < DATA_LINES; line++) {
        for (enum floats floats = FLOATS_HIGH; floats < FLOATS; floats++) {
            const struct contact contact = {true, line, data_chance(work, image, line, floats)};
            if (contact.chance.unexplained == 0 && contact.chance.did > 0) {
                count = add_contact(list, count, &contact);
                break;
            }
        }
    }
    return count;
}

static size_t unsteady_places(const struct reader_seen *seen) {
    size_t count = 0;
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        count += seen->unsteady[offset] != 0;
        count += seen->has_lower && seen->lower_unsteady[offset] != 0;
    }
    return count;
}

static void tell_line(struct reader_work *work, const struct contact *contact, bool alternative,
                      bool compared) {
    struct finding *finding = reader_add(work, FINDING_CART_CONTACT, contact->data ? -1 : contact->line,
                                         contact->data ? contact->line : -1);
    finding_say(
        finding,
        "The contact of %c%d comes and goes: bytes read differently at %zu of the %zu places where %s, and "
        "nowhere else.",
        contact->data ? 'D' : 'A', contact->line, contact->chance.did, contact->chance.could,
        contact->data ? "that line would show it" : "the address with that line high has another byte");
    set_rate(finding, work->seen, &contact->chance);
    finding_say(finding, "%s", compared ? "" : " Without an image this is less sure.");
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
        finding->alternative = alternative;
    }
}

static void tell_none(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    struct finding *finding = reader_add(work, FINDING_CART_CONTACT, -1, -1);
    finding_say(
        finding,
        "Bytes read differently from time to time, at %zu of %zu places in %u readings: no single line "
        "that comes and goes gives just these. Supply, ground, or several contacts.",
        unsteady_places(seen), scheme_bytes(seen->scheme), seen->passes);
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
    }
}

/* Twenty times less likely than the best is not worth naming: ln 20. */
#define LIKELY_ENOUGH 3.0

void reader_contact(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    struct contact list[LINES];
    if (unsteady_places(seen) == 0 && work->odd_count > 0) {
        return;
    }
    const uint8_t *const image = work->image != NULL ? work->image : seen->bytes;
    size_t count = lines_that_explain(work, image, list);
    while (count > 1 && likelihood(&list[count - 1].chance) < likelihood(&list[0].chance) - LIKELY_ENOUGH) {
        count--;
    }
    work->contact_told = true;
    for (size_t i = 0; i < count; i++) {
        tell_line(work, &list[i], count > 1, work->image != NULL);
    }
    if (count == 0) {
        tell_none(work);
    } else {
        work->bytes_told = work->banks_told = true;
    }
}

/* ---- seen while times were measured only ---- */

/* Lines that are low at all of these places, where each open would show: address lines, then data lines. */
static unsigned low_at_all(const struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    unsigned lines = (1U << LINES) - 1;
    for (size_t i = 0; i < work->odd_count && i < sizeof work->odd / sizeof work->odd[0]; i++) {
        const size_t place = work->odd[i];
        int bank;
        const uint16_t address = scheme_address(seen->scheme, place, &bank);
        for (int line = 0; line < ADDRESS_LINES - 1; line++) {
            const size_t other = scheme_offset(seen->scheme, bank, (uint16_t)(address | 1U << line));
            lines &= seen->bytes[other] != seen->bytes[place] ? ~0U : ~(1U << line);
        }
        lines &= ~((unsigned)seen->bytes[place] << ADDRESS_LINES);
    }
    return lines & ~(1U << SELECT_LINE);
}

enum { SURE_PLACES = 12 }; /* by chance a line is low at all of them once in 4096 */

void reader_contact_in_time(struct reader_work *work) {
    const unsigned lines = work->seen->has_bytes && work->odd_count >= SURE_PLACES ? low_at_all(work) : 0;
    const bool one = lines != 0 && (lines & (lines - 1)) == 0;
    int line = 0;
    while (one && !(lines >> line & 1)) {
        line++;
    }
    const bool data = line >= ADDRESS_LINES;
    struct finding *finding = reader_add(work, FINDING_CART_CONTACT, one && !data ? line : -1,
                                         one && data ? line - ADDRESS_LINES : -1);
    char place[READER_PLACE];
    reader_place(work->seen->scheme, work->odd[0], place);
    finding_say(
        finding,
        "While times were measured %zu addresses did not stay right, the first %s, though all were quick "
        "at other times: a contact that comes and goes.",
        work->odd_count, place);
    if (one) {
        finding_say(finding, " All have %c%d low, where it would show if that line opened.", data ? 'D' : 'A',
                    data ? line - ADDRESS_LINES : line);
    }
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
    }
    work->contact_told = true;
}
