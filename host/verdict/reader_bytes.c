/* Bytes against the image: how many, where, and what they look like as far as no line and no bank explains
 * them. */
#include "verdict/findings.h"
#include "verdict/reader_parts.h"

#include <stdio.h>
#include <string.h>

/* Of another image about one byte in 256 is the same by chance, and more where both have the same filling. */
enum { PAGES_TOLD = 8, OTHER_SHARE = 4, FEW_SHARE = 20 };
enum { TAKES_NS = 380 }; /* READ samples 410 ns after the address; buffers take some of that [P] */

bool reader_reads(const struct reader_seen *seen, size_t offset) {
    int bank;
    return !seen->ram || scheme_address(seen->scheme, offset, &bank) >= SCHEME_RAM_READ + SCHEME_RAM;
}

bool reader_reads_lower(const struct reader_seen *seen, size_t offset) {
    return seen->has_lower && (!seen->ram || offset >= 2 * SCHEME_RAM);
}

bool reader_is_right(const struct reader_work *work, size_t offset, uint8_t bits) {
    const int scheme = work->seen->scheme;
    const uint8_t byte = work->seen->bytes[offset];
    int bank;
    const uint16_t address = scheme_address(scheme, offset, &bank);
    const int selects = scheme_selects(scheme, address);
    if (((byte ^ work->image[offset]) & bits) == 0) {
        return true;
    }
    if (selects < 0) {
        return false;
    }
    const size_t other = scheme_offset(scheme, selects, address);
    return ((byte ^ work->image[other]) & bits) == 0 || ((byte ^ work->seen->bytes[other]) & bits) == 0;
}

bool reader_is_late(const struct reader_seen *seen, size_t offset) {
    bool late = false, ever = false;
    for (int i = 0; i < READER_TIMES && seen->has_map; i++) {
        const uint8_t cycles = seen->map[offset][i];
        late |= cycles != READER_NEVER && reader_ns(seen, cycles) > TAKES_NS;
        ever |= cycles != READER_NEVER && cycles != 0;
    }
    return late ||
           (seen->has_map && !ever && seen->map[offset][0] == READER_NEVER && seen->unsteady[offset] == 0);
}

bool reader_is_wrong(const struct reader_work *work, size_t offset) {
    const uint8_t bits = (uint8_t)~work->seen->unsteady[offset];
    return reader_reads(work->seen, offset) && !reader_is_right(work, offset, bits) &&
           !reader_is_late(work->seen, offset);
}

void reader_place(int scheme, size_t offset, char text[READER_PLACE]) {
    int bank;
    const uint16_t address = scheme_address(scheme, offset, &bank);
    if (scheme_banks(scheme) > 1) {
        snprintf(text, READER_PLACE, "bank %d, $%04X", bank, address);
    } else {
        snprintf(text, READER_PLACE, "$%04X", address);
    }
}

void reader_compare(struct reader_work *work) {
    struct reader_result *result = work->result;
    const struct reader_seen *seen = work->seen;
    const size_t most = sizeof result->wrong / sizeof result->wrong[0];
    result->compared = work->image != NULL && seen->has_bytes;
    for (size_t i = 0; result->compared && seen->has_lower && i < sizeof seen->lower; i++) {
        result->lower_wrong += reader_reads_lower(seen, i) && seen->lower[i] != work->image[i];
    }
    for (size_t offset = 0; result->compared && offset < scheme_bytes(seen->scheme); offset++) {
        if (reader_reads(seen, offset) && !reader_is_right(work, offset, 0xFF)) {
            if (result->wrong_shown < most) {
                result->wrong[result->wrong_shown++] = (uint32_t)offset;
            }
            result->wrong_bytes++;
        }
    }
}

bool reader_is_dead(const struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    if (!seen->has_bytes) {
        return seen->has_wake && seen->wake_us == UINT32_MAX;
    }
    if (seen->floats == 0xFF) {
        return true;
    }
    bool right = work->image != NULL;
    const size_t first = seen->ram ? 2 * SCHEME_RAM : 0;
    for (size_t offset = first; offset < scheme_bytes(seen->scheme); offset++) {
        if (reader_reads(seen, offset) && seen->bytes[offset] != seen->bytes[first]) {
            return false;
        }
        right = right && seen->bytes[offset] == work->image[offset];
    }
    /* All the same: nothing answers, unless that is what should be there. */
    return !right && (seen->bytes[first] == 0xFF || seen->bytes[first] == 0);
}

/* ---- what is wrong ---- */

struct wrongs {
    uint32_t bytes, pages;
    uint16_t page[SCHEME_PAGES_MAX]; /* wrong bytes in each */
};

static struct wrongs count_wrongs(const struct reader_work *work) {
    struct wrongs wrongs = {.bytes = 0};
    for (size_t offset = 0; offset < scheme_bytes(work->seen->scheme); offset++) {
        if (reader_is_wrong(work, offset)) {
            wrongs.bytes++;
            wrongs.pages += wrongs.page[offset / SCHEME_PAGE]++ == 0;
        }
    }
    return wrongs;
}

void reader_tell_misses(struct reader_work *work, const struct misses *misses, int number) {
    if (work->mask_unsteady) {
        return; /* as likely the contact's */
    }
    for (uint32_t i = 0; i < misses->count && i < MISSES_MAX; i++) {
        char place[READER_PLACE];
        struct finding *finding = reader_add(work, FINDING_CART_BYTE_WRONG, -1, -1);
        reader_place(work->seen->scheme, misses->at[i], place);
        finding_say(finding, "One byte is wrong: %s reads $%02X, and should read $%02X.", place,
                    work->seen->bytes[misses->at[i]], misses->right[i]);
        if (finding != NULL) {
            finding->explanation = number;
        }
    }
}

static void tell_bytes(struct reader_work *work) {
    struct misses misses = {.count = 0};
    for (size_t offset = 0; offset < scheme_bytes(work->seen->scheme); offset++) {
        if (reader_is_wrong(work, offset) && misses.count < MISSES_MAX) {
            misses.at[misses.count] = (uint16_t)offset;
            misses.right[misses.count++] = work->image[offset];
        }
    }
    reader_tell_misses(work, &misses, ++work->explanations);
}

static void tell_pages(struct reader_work *work, const struct wrongs *wrongs, bool alternative) {
    struct finding *finding = reader_add(work, FINDING_CART_PAGE_WRONG, -1, -1);
    uint32_t told = 0;
    finding_say(finding, "%u bytes in %u page%s are wrong, and always the same:", wrongs->bytes,
                wrongs->pages, wrongs->pages == 1 ? "" : "s");
    for (size_t page = 0; page < SCHEME_PAGES_MAX && told < PAGES_TOLD; page++) {
        if (wrongs->page[page] > 0) {
            char place[READER_PLACE];
            reader_place(work->seen->scheme, page * SCHEME_PAGE, place);
            finding_say(finding, "%s %s (%u)", told == 0 ? "" : ";", place, wrongs->page[page]);
            told++;
        }
    }
    finding_say(finding, wrongs->pages > told ? " and more." : ".");
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
        finding->alternative = alternative;
    }
}

static void tell_other(struct reader_work *work, const struct wrongs *wrongs) {
    struct finding *finding = reader_add(work, FINDING_CART_OTHER_IMAGE, -1, -1);
    char place[READER_PLACE];
    reader_place(work->seen->scheme, work->result->wrong[0], place);
    finding_say(
        finding,
        "What is on it reads steadily and is not the image that it was compared with: %u of %zu bytes "
        "differ, the first at %s. Another program, most likely.",
        wrongs->bytes, scheme_bytes(work->seen->scheme), place);
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
    }
}

static void tell_unexplained(struct reader_work *work, const struct wrongs *wrongs) {
    struct finding *finding = reader_add(work, FINDING_UNEXPLAINED, -1, -1);
    finding_say(
        finding,
        "%u of %zu bytes are wrong, and no single line, pair of lines or fault of the banks gives just "
        "these: several faults at once, bytes that come microseconds late, or the program of another image.",
        wrongs->bytes + work->result->lower_wrong, scheme_bytes(work->seen->scheme));
    /* What came at hotspots is then as little to be told as what came elsewhere. */
    work->banks_told |= 2 * (size_t)wrongs->bytes > scheme_bytes(work->seen->scheme);
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
    }
}

/* ---- another image ---- */

/* Of a program that is not the image, read through lines that are all there, neither do halves repeat nor do
 * lines stand still. */
static bool looks_whole(const struct reader_seen *seen) {
    uint8_t low = 0xFF, high = 0xFF;
    const size_t size = scheme_bytes(seen->scheme);
    for (size_t offset = 0; offset < size; offset++) {
        if (reader_reads(seen, offset)) {
            low &= (uint8_t)~seen->bytes[offset];
            high &= seen->bytes[offset];
        }
    }
    return (low | high) == 0 && reader_alias(seen) == 0;
}

/* A line that is not there hits hotspots from elsewhere in their page: what follows is of another bank. */
static bool may_switch(const struct reader_seen *seen, size_t offset) {
    const size_t bank = scheme_bank_bytes(seen->scheme);
    return scheme_banks(seen->scheme) > 1 && offset % bank >= bank - SCHEME_PAGE;
}

uint16_t reader_alias(const struct reader_seen *seen) {
    uint16_t lines = 0;
    const size_t size = scheme_bytes(seen->scheme), bank = scheme_bank_bytes(seen->scheme);
    for (unsigned line = 0; 1U << line < bank; line++) {
        size_t differ = 0;
        for (size_t offset = 0; offset < size && differ == 0; offset++) {
            const size_t other = offset ^ (size_t)1 << line;
            differ += reader_reads(seen, offset) && reader_reads(seen, other) && !may_switch(seen, offset) &&
                      !may_switch(seen, other) && seen->bytes[offset] != seen->bytes[other];
        }
        lines |= (uint16_t)(differ == 0 ? 1U << line : 0);
    }
    return lines;
}

/* Bytes that agree although about all differ: chance, and filling. */
static bool is_another(const struct reader_work *work, const struct wrongs *wrongs) {
    const uint32_t all = (uint32_t)scheme_bytes(work->seen->scheme);
    return wrongs->bytes > all - all / OTHER_SHARE && looks_whole(work->seen);
}

void reader_bytes(struct reader_work *work) {
    if (work->bytes_told || !work->result->compared) {
        return;
    }
    const struct wrongs wrongs = count_wrongs(work);
    const uint32_t pages = (uint32_t)scheme_pages(work->seen->scheme);
    if (wrongs.bytes == 0 && work->result->lower_wrong == 0) {
        return;
    }
    if (work->mask_unsteady && wrongs.bytes < scheme_bytes(work->seen->scheme) / FEW_SHARE) {
        return; /* by chance wrong in all readings: the contact's finding stands for them */
    }
    if (wrongs.bytes > 0 && wrongs.bytes <= MISSES_MAX && work->result->lower_wrong <= wrongs.bytes) {
        tell_bytes(work);
    } else if (wrongs.bytes > 0 && (wrongs.pages <= 1 || wrongs.pages <= pages / 4)) {
        tell_pages(work, &wrongs, false);
    } else if (is_another(work, &wrongs)) {
        tell_other(work, &wrongs);
    } else {
        tell_unexplained(work, &wrongs);
    }
}
