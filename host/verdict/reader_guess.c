/* Without an image: what the bytes look like by themselves. A program may well have its halves alike, so this
 * is never more than a doubt. */
#include "verdict/findings.h"
#include "verdict/reader_parts.h"

enum { A11_LINE = 11, A12_LINE = 12 };

static void doubt(struct reader_work *work, struct finding *finding) {
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
        finding->alternative = true;
    }
    reader_doubt(work);
}

static struct finding *add_doubt(struct reader_work *work, enum finding_kind kind, int bit, int reg) {
    const enum verdict before = work->result->verdict;
    struct finding *finding = reader_add(work, kind, bit, reg);
    work->result->verdict = before; /* a doubt does not fail */
    doubt(work, finding);
    return finding;
}

static void address_lines(struct reader_work *work) {
    const uint16_t lines = reader_alias(work->seen);
    for (int line = 0; line < ADDRESS_LINES - 1; line++) {
        if (lines >> line & 1) {
            struct finding *finding = add_doubt(work, FINDING_CART_ADDRESS_OPEN, line, -1);
            finding_say(
                finding,
                "Without and with A%d the same bytes are read throughout: the line is open or stuck, or "
                "what is on it is there twice. Compare with the image to know.",
                line);
        }
    }
}

/* Where one of the two is low, both are: three of four combinations show the same. */
static bool looks_shorted(const struct reader_seen *seen, int a, int b) {
    const size_t mask_a = (size_t)1 << a, mask_b = (size_t)1 << b;
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        const size_t low = offset & ~(mask_a | mask_b);
        if ((offset & mask_a) && (offset & mask_b)) {
            continue;
        }
        if (reader_reads(seen, offset) && reader_reads(seen, low) &&
            seen->bytes[offset] != seen->bytes[low]) {
            return false;
        }
    }
    return true;
}

static void address_shorts(struct reader_work *work) {
    const uint16_t lines = reader_alias(work->seen);
    for (int a = 0; a < ADDRESS_LINES - 1; a++) {
        for (int b = a + 1; (size_t)1 << b < scheme_bank_bytes(work->seen->scheme); b++) {
            if (((lines >> a | lines >> b) & 1) == 0 && looks_shorted(work->seen, a, b)) {
                struct finding *finding = add_doubt(work, FINDING_CART_ADDRESS_SHORTED, a, b);
                finding_say(finding,
                            "Where A%d or A%d is low the bytes are the same throughout: the two lines may be "
                            "shorted. Compare with the image to know.",
                            a, b);
            }
        }
    }
}

/* Where the line is low nothing answers: all reads as the reader pulls it, high. */
static bool looks_unselected(const struct reader_seen *seen, int line) {
    size_t answers = 0;
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        const bool pulled = !reader_reads(seen, offset) || seen->bytes[offset] == 0xFF;
        if (!pulled && !(offset >> line & 1)) {
            return false;
        }
        answers += !pulled;
    }
    return answers > 0;
}

static void shorts_to_a12(struct reader_work *work) {
    for (int line = 0; (size_t)1 << line < scheme_bank_bytes(work->seen->scheme); line++) {
        if (looks_unselected(work->seen, line)) {
            struct finding *finding = add_doubt(work, FINDING_CART_ADDRESS_SHORTED, line, A12_LINE);
            finding_say(finding,
                        "Where A%d is low every byte reads $FF: A%d and A12 may be shorted, so that nothing "
                        "answers there, or it is blank. Compare with the image to know.",
                        line, line);
        }
    }
}

/* 2 KiB show in the window's lower half too, where A11 is low, and with it the line it is shorted to. */
static bool lower_looks_shorted(const struct reader_seen *seen, int line) {
    size_t differ = 0;
    for (size_t i = 0; i < scheme_bytes(seen->scheme); i++) {
        const uint8_t other = line == A12_LINE ? 0xFF : seen->bytes[i & ~((size_t)1 << line)];
        if (seen->lower[i] != other) {
            return false;
        }
        differ += seen->lower[i] != seen->bytes[i];
    }
    return differ > 0;
}

static void shorts_to_a11(struct reader_work *work) {
    for (int line = 0; line <= A12_LINE && work->seen->has_lower; line++) {
        if (line != A11_LINE && lower_looks_shorted(work->seen, line)) {
            struct finding *finding =
                add_doubt(work, FINDING_CART_ADDRESS_SHORTED, line < A11_LINE ? line : A11_LINE,
                          line < A11_LINE ? A11_LINE : A12_LINE);
            finding_say(finding,
                        "$1000-$17FF do not read as $1800-$1FFF, as they should of 2 KiB, but as if A%d were "
                        "low there: A11 may be shorted to it. Compare with the image to know.",
                        line);
        }
    }
}

static void data_lines(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    uint8_t low = 0xFF, high = 0xFF;
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        if (reader_reads(seen, offset)) {
            low &= (uint8_t)~seen->bytes[offset];
            high &= seen->bytes[offset];
        }
    }
    for (int line = 0; line < DATA_LINES; line++) {
        if (seen->floats >> line & 1) {
            finding_say(reader_add(work, FINDING_CART_DATA_OPEN, line, -1),
                        "D%d follows the reader's pulls while the cartridge is selected: nobody drives it.",
                        line);
        } else if ((low | high) >> line & 1) {
            finding_say(
                add_doubt(work, FINDING_CART_DATA_STUCK, line, -1),
                "D%d reads %s at every address: the line is stuck, or no byte needs it. Compare with the "
                "image to know.",
                line, low >> line & 1 ? "low" : "high");
        }
    }
    for (int i = 0; i < DATA_LINES * DATA_LINES; i++) {
        const int a = i / DATA_LINES, b = i % DATA_LINES;
        bool same = a < b && ((low | high) >> a & 1) == 0;
        for (size_t offset = 0; same && offset < scheme_bytes(seen->scheme); offset++) {
            same = !reader_reads(seen, offset) ||
                   (seen->bytes[offset] >> a & 1) == (seen->bytes[offset] >> b & 1);
        }
        if (same) {
            finding_say(
                add_doubt(work, FINDING_CART_DATA_SHORTED, a, b),
                "D%d and D%d read the same at every address: they may be shorted. Compare with the image "
                "to know.",
                a, b);
        }
    }
}

static void banks_alike(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    const size_t bytes = scheme_bank_bytes(seen->scheme);
    for (size_t offset = bytes; offset < scheme_bytes(seen->scheme); offset++) {
        if (reader_reads(seen, offset) && seen->bytes[offset] != seen->bytes[offset % bytes]) {
            return;
        }
    }
    if (scheme_banks(seen->scheme) > 1) {
        finding_say(add_doubt(work, FINDING_CART_NOT_SWITCHING, -1, -1),
                    "All banks read the same: they do not switch, or are the same. Compare with the image to "
                    "know.");
    }
}

void reader_guess(struct reader_work *work) {
    address_lines(work);
    address_shorts(work);
    shorts_to_a12(work);
    shorts_to_a11(work);
    data_lines(work);
    banks_alike(work);
}
