/* Hotspots and their neighbours, as far as no line and no single fault of the banks explains them. */
#include "verdict/findings.h"
#include "verdict/reader_parts.h"

/* What READ saw of that bank at the address that tells: right or wrong, it is what the bank shows. */
static uint8_t shown_by(const struct reader_seen *seen, int bank) {
    return seen->bytes[scheme_offset(seen->scheme, bank, seen->tells)];
}

/* The bank whose byte that is. -1: none, or several. */
static int bank_of(const struct reader_seen *seen, uint8_t byte) {
    int found = -1;
    for (int bank = 0; bank < scheme_banks(seen->scheme); bank++) {
        if (shown_by(seen, bank) == byte) {
            if (found >= 0) {
                return -1;
            }
            found = bank;
        }
    }
    return found;
}

static void tell_hotspot(struct reader_work *work, int manner, int hotspot) {
    const struct reader_seen *seen = work->seen;
    const int banks = scheme_banks(seen->scheme);
    unsigned wrong = 0;
    int bank = -1;
    for (int from = 0; from < banks; from++) {
        const uint8_t byte = seen->hotspot[manner][from][hotspot];
        if (byte != shown_by(seen, hotspot)) {
            wrong |= 1U << from;
            bank = bank_of(seen, byte);
        }
    }
    if (wrong == 0) {
        return;
    }
    struct finding *finding = reader_add(work, FINDING_CART_HOTSPOT_WRONG, -1, -1);
    finding_say(finding, "A %s of the hotspot of bank %d, $%04X, does not select it from bank",
                manner == 0 ? "read" : "write", hotspot, scheme_hotspot(seen->scheme, hotspot));
    for (int from = 0; from < banks; from++) {
        if (wrong >> from & 1) {
            finding_say(finding, "%s %d", (wrong & ((1U << from) - 1)) != 0 ? "," : "", from);
        }
    }
    if (bank >= 0) {
        finding_say(finding, " (bank %d shows)", bank);
    }
    finding_say(finding, ".");
    if (finding != NULL) {
        finding->explanation = work->explanations;
    }
}

static void tell_neighbour(struct reader_work *work, int place, int hotspot) {
    const struct reader_seen *seen = work->seen;
    const int banks = scheme_banks(seen->scheme);
    for (int from = 0; from < banks; from++) {
        const uint8_t byte = seen->neighbour[place][hotspot][from];
        if (place < ADDRESS_LINES &&
            scheme_selects(seen->scheme, (uint16_t)(scheme_hotspot(seen->scheme, hotspot) ^ 1U << place)) >=
                0) {
            return; /* a hotspot itself */
        }
        /* What the bank shows when its own hotspot was hit: right or not, no neighbour should change it. */
        if (byte != seen->hotspot[0][from][from]) {
            const uint16_t lowest = scheme_hotspot(seen->scheme, 0);
            const unsigned address = place < ADDRESS_LINES
                                         ? scheme_hotspot(seen->scheme, hotspot) ^ 1U << place
                                     : place == ADDRESS_LINES ? lowest - 1U
                                                              : lowest + (unsigned)banks;
            struct finding *finding = reader_add(work, FINDING_CART_SWITCHES_TOO, -1, -1);
            finding_say(finding, "A read of $%04X, which is no hotspot, switches from bank %d", address,
                        from);
            if (bank_of(seen, byte) >= 0) {
                finding_say(finding, " to bank %d", bank_of(seen, byte));
            }
            finding_say(finding, ".");
            if (finding != NULL) {
                finding->explanation = work->explanations;
            }
            return;
        }
    }
}

bool reader_hotspots_tell(const struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    bool tells = seen->has_hotspots && seen->tells != 0 && !work->mask_unsteady && !reader_is_hopeless(seen);
    for (int bank = 0; bank < scheme_banks(seen->scheme) && tells; bank++) {
        tells = !reader_is_late(seen, scheme_offset(seen->scheme, bank, seen->tells));
    }
    return tells;
}

/* Where a few readings may differ, a single odd one among these is as likely one of them: too little for a
 * fault, and for a pass. */
static bool is_doubtful(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    const int banks = scheme_banks(seen->scheme);
    int odd = 0;
    for (int i = 0; i < 17 * banks * banks; i++) {
        const int row = i / banks % banks, column = i % banks;
        const uint8_t byte = i < 2 * banks * banks ? seen->hotspot[i / banks / banks][row][column]
                                                   : seen->neighbour[i / banks / banks - 2][row][column];
        odd += byte != shown_by(seen, column);
    }
    if (!work->allow_unsteady || seen->differing == 0 || odd != 1) {
        return false;
    }
    reader_doubt(work);
    return true;
}

void reader_hotspots(struct reader_work *work) {
    enum { NEIGHBOURS_TOLD = 4 };
    const struct reader_seen *seen = work->seen;
    const int banks = scheme_banks(seen->scheme);
    if (work->banks_told || !reader_hotspots_tell(work) || !seen->has_bytes) {
        return;
    }
    if (is_doubtful(work)) {
        return;
    }
    work->explanations++;
    for (int i = 0; i < 2 * banks; i++) {
        tell_hotspot(work, i / banks, i % banks);
    }
    const size_t before = work->result->finding_count;
    for (int i = 0; i < 15 * banks && work->result->finding_count < before + NEIGHBOURS_TOLD; i++) {
        tell_neighbour(work, i / banks, i % banks);
    }
}
