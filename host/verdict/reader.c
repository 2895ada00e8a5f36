/*
 * What a reader saw to findings, the plainest first: no supply, nothing that answers, a contact that comes
 * and goes, a line or the banks, single bytes; then what stands by itself: A12 low, times, RAM.
 */
#include "verdict/reader.h"

#include "verdict/findings.h"
#include "verdict/reader_parts.h"

#include <stdio.h>
#include <string.h>

void reader_limits_default(struct reader_limits *limits) {
    *limits = (struct reader_limits){
        .access_ns = 410, .margin_ns = 0, .release_ns = 290, .wake_ms = 20, .differing = 0};
}

/* ---- findings ---- */

#define SEAT                                                                                                 \
    "With the supply off: clean the contacts of cartridge and reader, seat it again, and read it again"
static const char *const nexts[FINDING_KINDS] = {
    [FINDING_UNEXPLAINED] = SEAT ". If the same bytes are wrong, write the image again and compare.",
    [FINDING_CART_BYTE_WRONG] =
        "Write the image again and read it back. The same byte wrong again: a cell of "
        "the memory chip is bad; replace it.",
    [FINDING_CART_PAGE_WRONG] =
        "Check that this is the version of the image that was meant; write it again and "
        "read it back. The same pages again: replace the memory chip.",
    [FINDING_CART_HOTSPOT_WRONG] =
        "Check the scheme that the cartridge was set up for, then the equations and "
        "inputs of its bank logic (A12 and the lowest address lines).",
    [FINDING_CART_NOT_SWITCHING] =
        "Check the scheme that the cartridge was set up for; then the bank logic's "
        "supply, and its outputs to the upper address lines of the memory chip.",
    [FINDING_CART_SWITCHES_TOO] = "The bank logic does not look at all address lines: compare its equations "
                                  "and its inputs' solder joints with the circuit diagram.",
    [FINDING_CART_RAM_MISSING] = "Check that this cartridge has RAM (else read it without); then the RAM's "
                                 "supply, its select and its write input.",
    [FINDING_CART_RAM_STUCK] = "Read again to be sure; then replace the RAM chip.",
    [FINDING_CART_RAM_TRANSITION] = "Read again to be sure; then replace the RAM chip.",
    [FINDING_CART_RAM_COUPLED] =
        "Read again to be sure; look for solder between the RAM's pins; then replace it.",
    [FINDING_CART_RAM_DECODER] = SEAT ". The same again: out of the reader, look for shorts and bad joints "
                                      "at the RAM's address pins; then replace it.",
    [FINDING_CART_RAM_FAULTY] =
        "Read again to be sure; look at the RAM's joints and supply; then replace it.",
    [FINDING_CART_BUS_HELD] = SEAT ". The same again: out of the reader, look for shorts of these lines; "
                                   "then check how its output enable is made from A12.",
    [FINDING_CART_ADDRESS_OPEN] = SEAT ". The same line again: measure, with the supply off, from the edge "
                                       "contact to the chip's pin.",
    [FINDING_CART_ADDRESS_SHORTED] =
        SEAT ". The same pair again: look for solder between the two, and measure "
             "with the supply off.",
    [FINDING_CART_ADDRESS_STUCK] = SEAT ". The same line again: look for a short to ground or supply, and "
                                        "measure with the supply off.",
    [FINDING_CART_DATA_STUCK] =
        SEAT ". The same line again: look for a short to ground or supply, and measure "
             "with the supply off; else the chip's output is gone.",
    [FINDING_CART_DATA_OPEN] =
        SEAT ". The same line again: measure, with the supply off, from the edge contact "
             "to the chip's pin.",
    [FINDING_CART_DATA_SHORTED] = SEAT ". The same pair again: look for solder between the two, and measure "
                                       "with the supply off.",
    [FINDING_CART_SLOW] = "Measure again warm and cold. Then use a faster memory chip, or find what is slow "
                          "before it (bank logic, level shifters).",
    [FINDING_CART_RELEASE_SLOW] = "Check how the output enable is made from A12: gates in its way, or a "
                                  "microcontroller that answers late.",
    [FINDING_CART_WAKES_LATE] =
        "Shorten what the cartridge does before it answers; check its supply's rise and "
        "its reset.",
    [FINDING_CART_CONTACT] =
        SEAT ", with many passes. The same line again: bad edge contact or solder joint.",
    [FINDING_CART_DEAD] = "Check that a cartridge is in the reader and seated; with the supply off clean and "
                          "seat it again; then its supply and ground contacts, and A12.",
    [FINDING_CART_OTHER_IMAGE] = "Check which image was meant; write it, and read it back.",
    [FINDING_CART_OVERLOAD] =
        "Do not insert it anywhere: with everything off look for a short from supply to "
        "ground, and for parts the wrong way round.",
};

const char *reader_advice(enum finding_kind kind) {
    return (unsigned)kind < FINDING_KINDS && nexts[kind] != NULL ? nexts[kind] : SEAT ".";
}

void reader_fails(struct reader_work *work) {
    work->result->verdict = VERDICT_FAIL;
}

void reader_doubt(struct reader_work *work) {
    if (work->result->verdict == VERDICT_PASS) {
        work->result->verdict = VERDICT_INCONCLUSIVE;
    }
}

struct finding *reader_add(struct reader_work *work, enum finding_kind kind, int bit, int reg) {
    struct reader_result *result = work->result;
    reader_fails(work);
    if (result->finding_count == FINDINGS_MAX) {
        return NULL;
    }
    struct finding *finding = &result->findings[result->finding_count++];
    *finding =
        (struct finding){.kind = kind, .reg = reg, .bit = bit, .rate = 1, .rate_low = 1, .rate_high = 1};
    snprintf(finding->next, sizeof finding->next, "%s", reader_advice(kind));
    return finding;
}

/* ---- nothing at all ---- */

static void tell_overload(struct reader_work *work) {
    finding_say(
        reader_add(work, FINDING_CART_OVERLOAD, -1, -1),
        "It takes more current than the reader's supply gives: the supply was switched off, and nothing "
        "was read.");
}

static void tell_dead(struct reader_work *work) {
    struct finding *dead = reader_add(work, FINDING_CART_DEAD, -1, -1);
    finding_say(dead,
                "Nothing answers at any address: no cartridge in the reader, or not seated, no supply on it, "
                "or its chip dead. Its A12 stuck low would look the same.");
    dead->explanation = 1;
    dead->alternative = true;
    struct finding *stuck = reader_add(work, FINDING_CART_ADDRESS_STUCK, SELECT_LINE, -1);
    finding_say(stuck,
                "A12 is stuck low, so that the cartridge is never selected. None in the reader, or a dead "
                "one, would look the same.");
    stuck->explanation = 2;
    stuck->alternative = true;
}

/* ---- all of it ---- */

static bool anything(const struct reader_seen *seen) {
    return seen->has_bytes || seen->has_map || seen->has_hotspots || seen->has_release || seen->has_ram ||
           seen->has_wake || seen->has_quiet;
}

/* More than is allowed. */
static bool is_unsteady(const struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    return seen->has_bytes && seen->differing > work->limits->differing;
}

static void judge(struct reader_work *work) {
    reader_compare(work);
    if (work->seen->overload) {
        tell_overload(work);
        return;
    }
    if (reader_is_dead(work)) {
        tell_dead(work);
        return;
    }
    reader_late(work);
    reader_odd_times(work);
    work->allow_unsteady = work->seen->has_bytes && !is_unsteady(work);
    if (work->image != NULL && !work->bytes_told) {
        reader_explain(work);
    }
    if (work->odd_count > 0 || (!work->bytes_told && is_unsteady(work))) {
        reader_contact(work);
        if (!work->contact_told) {
            reader_contact_in_time(work);
        }
        work->mask_unsteady = true;
        if (!work->bytes_told && work->image != NULL) {
            reader_explain(work);
        }
    }
    if (work->seen->has_bytes && work->image == NULL && !work->bytes_told) {
        reader_guess(work);
    }
    reader_bytes(work);
    reader_hotspots(work);
    reader_quiet(work);
    reader_times(work);
    reader_ram(work);
}

void reader_judge(const struct reader_seen *seen, const uint8_t *image, const struct reader_limits *limits,
                  struct reader_result *result) {
    *result = (struct reader_result){.verdict = VERDICT_PASS,
                                     .scheme = seen->scheme,
                                     .ram = seen->ram,
                                     .cycle_ps = seen->cycle_ps,
                                     .own = seen->own,
                                     .passes = seen->passes,
                                     .differing = seen->differing};
    struct reader_work work = {.seen = seen, .image = image, .limits = limits, .result = result};
    if (scheme_bytes(seen->scheme) == 0 || (!anything(seen) && !seen->overload)) {
        result->verdict = VERDICT_INCONCLUSIVE;
        return;
    }
    judge(&work);
}
