/*
 * What was seen to causes. Everything is held against suppositions, those that assume least first: nothing is
 * wrong; one line, or one fault of the banks; one and a few wrong bytes; two lines. The first kind of which
 * some predict every wrong byte and no right one is told, all of them if there are several.
 */
#include "verdict/reader_parts.h"

#include <stdio.h>
#include <stdlib.h>

enum { ALTERNATIVES_MAX = 6, FEW_BYTES = MISSES_MAX };

struct explanations {
    struct supposition list[ALTERNATIVES_MAX];
    size_t count, more;   /* more: that there was no room for */
    struct misses misses; /* of the best */
};

static bool agrees(const struct reader_work *work, const struct supposition *what, uint32_t most,
                   struct misses *misses) {
    for (enum floats floats = FLOATS_HIGH; floats < FLOATS; floats++) {
        if (reader_agrees(work, what, floats, most, misses)) {
            return true;
        }
        if (what->data_floats == 0 && (supposed_address(what, SELECTED) & SELECTED) != 0 &&
            what->address_shorts == 0) {
            return false; /* nothing floats: the others would give the same */
        }
    }
    return false;
}

/* An address that switches too is one of several next to each other: one explanation. */
static bool told_already(const struct explanations *found, const struct supposition *what) {
    for (size_t i = 0; i < found->count; i++) {
        const struct supposed_name *a = &found->list[i].names[0], *b = &what->names[0];
        if (what->name_count == 1 && a->kind == b->kind && a->bit == b->bit && a->reg == b->reg &&
            (a->kind == FINDING_CART_NOT_SWITCHING || (a->place == b->place && a->bank == b->bank))) {
            return true;
        }
    }
    return false;
}

static void try(const struct reader_work *work, const struct supposition *what, uint32_t most,
                struct explanations *found) {
    struct misses misses;
    if (!agrees(work, what, most, &misses) || told_already(found, what)) {
        return;
    }
    if (misses.count < found->misses.count || found->count == 0) {
        found->count = 0;
        found->more = 0;
        found->misses = misses;
    }
    if (misses.count == found->misses.count && found->count < ALTERNATIVES_MAX) {
        found->list[found->count++] = *what;
    } else {
        found->more += misses.count == found->misses.count;
    }
}

/* ---- kinds of suppositions ---- */

static size_t singles(const struct reader_work *work, struct supposition *list) {
    const size_t count = reader_line_suppositions(work->seen->scheme, list);
    return count + reader_bank_suppositions(work, list + count, SUPPOSITIONS_MAX - count);
}

static void find_singles(const struct reader_work *work, const struct supposition *list, size_t count,
                         uint32_t most, struct explanations *found) {
    for (size_t i = 0; i < count; i++) {
        try(work, &list[i], most, found);
    }
}

/* Both true at once, and neither without the other. */
static void find_pairs(const struct reader_work *work, const struct supposition *list, size_t count,
                       struct explanations *found) {
    for (size_t a = 0; a < count; a++) {
        for (size_t b = a + 1; b < count; b++) {
            struct supposition both;
            if (supposition_join(&list[a], &list[b], work->seen->scheme, &both)) {
                try(work, &both, 0, found);
            }
        }
    }
}

/* ---- telling ---- */

static void line_pair_text(const struct supposed_name *name, char letter, char *text, size_t size) {
    snprintf(text, size, "%c%d and %c%d are shorted to each other", letter, name->bit, letter, name->reg);
}

void reader_name(const struct reader_work *work, const struct supposed_name *name, char *text, size_t size) {
    const int scheme = work->seen->scheme;
    switch (name->kind) {
    case FINDING_CART_ADDRESS_OPEN:
        snprintf(text, size, "A%d does not reach the cartridge (open: read as high)", name->bit);
        break;
    case FINDING_CART_ADDRESS_STUCK:
        snprintf(text, size, "A%d is stuck %s", name->bit, name->reg ? "high" : "low");
        break;
    case FINDING_CART_ADDRESS_SHORTED:
        line_pair_text(name, 'A', text, size);
        break;
    case FINDING_CART_DATA_STUCK:
        snprintf(text, size, "D%d is stuck %s", name->bit, name->reg ? "high" : "low");
        break;
    case FINDING_CART_DATA_OPEN:
        snprintf(text, size, "D%d is open: nobody drives it", name->bit);
        break;
    case FINDING_CART_DATA_SHORTED:
        line_pair_text(name, 'D', text, size);
        break;
    case FINDING_CART_NOT_SWITCHING:
        snprintf(text, size, "No hotspot switches banks: bank %d shows always", name->bank);
        break;
    case FINDING_CART_HOTSPOT_WRONG:
        if (name->bank < 0) {
            snprintf(text, size, "The hotspot of bank %d, $%04X, selects nothing", name->place,
                     scheme_hotspot(scheme, name->place));
        } else {
            snprintf(text, size, "The hotspot of bank %d, $%04X, selects bank %d", name->place,
                     scheme_hotspot(scheme, name->place), name->bank);
        }
        break;
    case FINDING_CART_SWITCHES_TOO:
        snprintf(text, size, "An access to $%04X, which is no hotspot, selects bank %d",
                 (unsigned)name->place, name->bank);
        break;
    default:
        snprintf(text, size, "%s", finding_name(name->kind));
        break;
    }
}

/* An open line and one that is stuck high read the same. */
static struct supposed_name stuck_high(const struct supposed_name *open) {
    struct supposed_name name = *open;
    name.kind = FINDING_CART_ADDRESS_STUCK;
    name.reg = 1;
    return name;
}

static void tell_name(struct reader_work *work, const struct supposed_name *name, int number,
                      bool alternative, const struct explanations *found) {
    const bool pair = name->kind == FINDING_CART_ADDRESS_SHORTED || name->kind == FINDING_CART_DATA_SHORTED;
    struct finding *finding = reader_add(work, name->kind, name->bit, pair ? name->reg : -1);
    if (finding == NULL) {
        return;
    }
    char text[160];
    reader_name(work, name, text, sizeof text);
    finding->alternative = alternative;
    finding->explanation = number;
    snprintf(finding->text, sizeof finding->text, "%s. That predicts %s.%s", text,
             found->misses.count == 0   ? "every byte that was read, wrong and right"
             : found->misses.count == 1 ? "all that was read but one byte"
                                        : "all that was read but a few bytes",
             alternative ? " Others predict the same: see the other findings." : "");
}

static void tell(struct reader_work *work, const struct explanations *found) {
    const struct supposition *first = &found->list[0];
    const bool several = found->count > 1 || first->names[0].kind == FINDING_CART_ADDRESS_OPEN ||
                         (first->name_count > 1 && first->names[1].kind == FINDING_CART_ADDRESS_OPEN);
    for (size_t i = 0; i < found->count; i++) {
        const struct supposition *what = &found->list[i];
        const int number = ++work->explanations;
        bool open = false;
        for (int part = 0; part < what->name_count; part++) {
            tell_name(work, &what->names[part], number, several, found);
            open |= what->names[part].kind == FINDING_CART_ADDRESS_OPEN;
        }
        if (open) { /* the same, with each open line stuck instead */
            const int other = ++work->explanations;
            for (int part = 0; part < what->name_count; part++) {
                const struct supposed_name *name = &what->names[part];
                const struct supposed_name stuck =
                    name->kind == FINDING_CART_ADDRESS_OPEN ? stuck_high(name) : *name;
                tell_name(work, &stuck, other, several, found);
            }
        }
    }
}

/* What follows from a cause that was told needs no finding of its own. */
static void consequences(struct reader_work *work, const struct supposition *what) {
    work->bytes_told = work->banks_told = work->quiet_told = true;
    for (enum floats floats = FLOATS_HIGH; floats < FLOATS && !work->ram_told && work->seen->has_ram;
         floats++) {
        work->ram_told = reader_ram_agrees(work, what, floats);
    }
}

static bool told(struct reader_work *work, const struct explanations *found) {
    if (found->count == 0) {
        return false;
    }
    tell(work, found);
    reader_tell_misses(work, &found->misses, work->explanations);
    consequences(work, &found->list[0]);
    return true;
}

static bool find_and_tell(struct reader_work *work, const struct supposition *list, size_t count,
                          uint32_t most) {
    struct explanations found = {.count = 0};
    find_singles(work, list, count, most, &found);
    return told(work, &found);
}

static bool nothing_wrong(struct reader_work *work, uint32_t most) {
    const struct supposition none = supposition_none(work->seen->scheme);
    struct misses misses;
    if (!agrees(work, &none, most, &misses)) {
        return false;
    }
    reader_tell_misses(work, &misses, ++work->explanations);
    work->bytes_told = work->banks_told = true;
    return true;
}

static bool hotspots_say(struct reader_work *work) {
    struct explanations found = {.count = 0};
    struct supposition what;
    if (reader_hotspots_say(work, &what)) {
        for (int first = 0; first < scheme_banks(work->seen->scheme) && found.count == 0; first++) {
            what.first_bank = (int8_t)first;
            try(work, &what, 0, &found);
        }
    }
    return told(work, &found);
}

static bool pairs(struct reader_work *work, const struct supposition *list, size_t count) {
    struct explanations found = {.count = 0};
    find_pairs(work, list, count, &found);
    return told(work, &found);
}

/* With A12 low something is held: by a line (A12's, or a data line's), or by the cartridge, which is another
 * matter. */
static void explain(struct reader_work *work, const struct supposition *list, size_t count, bool held) {
    if (held && find_and_tell(work, list, count, 0)) {
        return;
    }
    /* Where a contact comes and goes a few wrong bytes are as likely its doing. */
    const bool contact = work->odd_count > 0 || work->seen->differing > work->limits->differing;
    const uint32_t few = contact && !work->mask_unsteady ? 0 : FEW_BYTES;
    work->no_quiet = held;
    if (!nothing_wrong(work, 0) && !find_and_tell(work, list, count, 0) && !hotspots_say(work) &&
        !nothing_wrong(work, few) && !find_and_tell(work, list, count, few)) {
        pairs(work, list, count);
    }
    work->quiet_told = !held;
}

void reader_explain(struct reader_work *work) {
    const bool held = work->seen->has_quiet && (work->seen->held_low | work->seen->held_high) != 0;
    if (!held && nothing_wrong(work, 0)) {
        return;
    }
    struct supposition *list = calloc(SUPPOSITIONS_MAX, sizeof *list);
    if (list == NULL) {
        reader_doubt(work);
        return;
    }
    explain(work, list, singles(work, list), held);
    free(list);
}
