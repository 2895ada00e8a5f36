#include "verdict/slot.h"

#include "slotjig/mailbox.h"
#include "verdict/advice.h"
#include "verdict/slot_lines.h"

#include <stdio.h>

enum {
    /* A second of any standard's fields, some counts lost: a field writes VSYNC on and off, and reads the
     * mailbox once. */
    VSYNCS_LEAST = 40,
    VSYNCS_MOST = 400,
    /* An indexed store in page zero reads its base, VSYNC's address, first [H MCS6500 Programming Manual]:
     * one each other line, as plan moments has them, of 15,734 a second [A: 3579545 / 228 / 2]. */
    VSYNCS_INDEXED_MOST = 8000,
    LOOKS_LEAST = 20,
    LOOKS_MOST = 90,
    TEXT = 320
};

struct account {
    const struct slot_seen *seen;
    const struct slot_image *image;
    struct finding *findings;
    size_t count;
};

static uint16_t word(const uint8_t *at) {
    return (uint16_t)(at[0] | at[1] << 8);
}

void slot_image_of(const uint8_t *bytes, size_t size, bool mailbox, struct slot_image *image) {
    *image = (struct slot_image){.vector = word(bytes + size - 4), .mailbox = mailbox};
    if (mailbox) {
        /* behind the opcode of the jump */
        image->start = word(bytes + size - (0x2000 - MAILBOX_ENTRY) + 1);
    }
}

enum slot_video slot_video_of(const struct result *result) {
    const bool had = result->fields_judged > 0;
    for (size_t i = 0; i < result->finding_count && !result->shown_to_end; i++) {
        switch (result->findings[i].kind) {
        case FINDING_NO_VIDEO:
            return had ? SLOT_VIDEO_LOST : SLOT_VIDEO_NONE;
        case FINDING_NO_SLATE:
        case FINDING_FROZEN_VIDEO:
            return had ? SLOT_VIDEO_LOST : SLOT_VIDEO_OTHER;
        default:
            break;
        }
    }
    return had ? SLOT_VIDEO_FINE : SLOT_VIDEO_UNKNOWN;
}

static struct finding *add(struct account *account, enum finding_kind kind, int bit) {
    static struct finding none;
    if (account->count == SLOT_EXPLAINED_MAX) {
        return &none;
    }
    struct finding *finding = &account->findings[account->count++];
    *finding = (struct finding){.kind = kind, .reg = -1, .bit = bit, .rate = 1};
    snprintf(finding->next, sizeof finding->next, "%s", advice_next(kind));
    return finding;
}

static bool within(uint32_t count, uint32_t least, uint32_t most) {
    return count >= least && count <= most;
}

static bool makes_fields(const struct slot_seen *seen) {
    return within(seen->vsyncs, VSYNCS_LEAST, VSYNCS_MOST);
}

static bool runs(const struct account *account) {
    const struct slot_seen *seen = account->seen;
    return account->image->mailbox ? within(seen->vsyncs, VSYNCS_LEAST, VSYNCS_INDEXED_MOST) &&
                                         within(seen->mailbox, LOOKS_LEAST, LOOKS_MOST)
                                   : makes_fields(seen);
}

/* ---- a program that runs ---- */

/* Bits of the vector that the console read otherwise than the image has them. */
static unsigned wrong_bits(const struct slot_seen *seen, const struct slot_image *image) {
    unsigned wrong = 0;
    if (!image->mailbox) {
        return 0;
    }
    if (seen->echoed_low) {
        wrong |= seen->vector_low ^ (image->vector & 0xFFu);
    }
    if (seen->echoed_high) {
        wrong |= seen->vector_high ^ (unsigned)(image->vector >> 8);
    }
    return wrong;
}

static void add_wrong_echo(struct account *account) {
    const struct slot_seen *seen = account->seen;
    unsigned wrong = wrong_bits(seen, account->image);
    for (int bit = 0; wrong != 0 && bit < 8; bit++) {
        if ((wrong >> bit & 1) != 0) {
            struct finding *finding = add(account, FINDING_SLOT_DATA_LINE_STUCK, bit);
            snprintf(finding->text, sizeof finding->text,
                     "The program runs, but data line D%d is not safe: the console read the vector $%04X as "
                     "$%02X%02X. Contacts that hardly touch, or another driver on the bus, look like that.",
                     bit, account->image->vector, seen->vector_high, seen->vector_low);
            return;
        }
    }
}

static void tell_pace(const struct slot_seen *seen, char *text, size_t size) {
    snprintf(text, size, "%u accesses to VSYNC and %u reads of the mailbox in a second", seen->vsyncs,
             seen->mailbox);
}

static void add_video(struct account *account, enum slot_video video) {
    char pace[100];
    tell_pace(account->seen, pace, sizeof pace);
    if (video == SLOT_VIDEO_NONE || video == SLOT_VIDEO_OTHER) {
        struct finding *finding = add(account, FINDING_RUNS_WITHOUT_PICTURE, -1);
        snprintf(finding->text, sizeof finding->text,
                 "The console's program runs (%s), %s: capture, cable, or the console's video chip and what "
                 "follows it.",
                 pace,
                 video == SLOT_VIDEO_NONE ? "and no picture comes"
                                          : "and the pictures that come are not this image's");
    } else if (video == SLOT_VIDEO_LOST) {
        struct finding *finding = add(account, FINDING_CAPTURE_LOST, -1);
        snprintf(finding->text, sizeof finding->text,
                 "The console's program still runs (%s); its pictures came, and then no more. So the capture "
                 "lost them.",
                 pace);
    }
}

/* ---- a program that does not ---- */

static void tell_trace(const struct slot_seen *seen, char *text, size_t size) {
    int used = snprintf(text, size, "%s", seen->traced == 0 ? "nowhere that was seen" : "to");
    for (int i = 0; i < seen->traced && i < 4 && used < (int)size; i++) {
        used += snprintf(text + used, size - (size_t)used, " $%04X", seen->trace[i]);
    }
}

static void add_line(struct account *account, const struct slot_line *line) {
    char trace[64];
    struct finding *finding =
        add(account, line->address ? FINDING_ADDRESS_LINE_STUCK : FINDING_SLOT_DATA_LINE_STUCK, line->number);
    tell_trace(account->seen, trace, sizeof trace);
    const char *level = line->high ? "high" : "low";
    if (line->address && line->unmoved) {
        snprintf(finding->text, sizeof finding->text,
                 "Address line A%d never went %s while the processor made %u accesses in a second: the "
                 "cartridge sees it stuck %s.",
                 line->number, line->high ? "low" : "high", account->seen->cycles, level);
    } else {
        snprintf(finding->text, sizeof finding->text,
                 "%s line %c%d is stuck %s: after the reset vector, which is $%04X, the processor went %s.",
                 line->address ? "Address" : "Data", line->address ? 'A' : 'D', line->number, level,
                 account->image->vector, trace);
    }
}

static bool add_lines(struct account *account) {
    struct slot_line lines[SLOT_EXPLAINED_MAX];
    const size_t count = slot_lines(account->seen, account->image, lines, SLOT_EXPLAINED_MAX);
    for (size_t i = 0; i < count; i++) {
        add_line(account, &lines[i]);
    }
    for (size_t i = 0; count > 1 && i < count; i++) {
        account->findings[i].alternative = true;
        account->findings[i].explanation = (int)i;
    }
    return count > 0;
}

static void add_still(struct account *account) {
    struct finding *finding;
    if (account->seen->traced == 0) {
        finding = add(account, FINDING_NO_BUS, -1);
        snprintf(finding->text, sizeof finding->text,
                 "The console has its +5 V and no address line moves; no start through the reset vector was "
                 "seen either: a processor without clock or held in reset, a dead one, contacts that do not "
                 "touch, or one that stopped at once.");
        return;
    }
    finding = add(account, FINDING_RUNS_GARBAGE, -1);
    snprintf(
        finding->text, sizeof finding->text,
        "The processor began at the reset vector and then stopped: no address line moves any more. It met "
        "a byte that stops it.");
}

static void add_stray(struct account *account) {
    char pace[100], trace[64];
    tell_pace(account->seen, pace, sizeof pace);
    tell_trace(account->seen, trace, sizeof trace);
    if (account->image->mailbox && makes_fields(account->seen) && account->seen->mailbox == 0) {
        struct finding *finding = add(account, FINDING_OTHER_PROGRAM, -1);
        snprintf(finding->text, sizeof finding->text,
                 "A program makes fields (%s), but not this image's, which looks at its mailbox each field: "
                 "the console still runs what was there before, or another cartridge.",
                 pace);
        return;
    }
    struct finding *finding = add(account, FINDING_RUNS_GARBAGE, -1);
    snprintf(finding->text, sizeof finding->text,
             "The processor runs, but not this program (%s, %u starts through the reset vector; the last one "
             "went %s): bytes arrive wrong, or its RAM is bad.",
             pace, account->seen->resets, trace);
}

static void explain_stopped(struct account *account) {
    if (add_lines(account)) {
        return;
    }
    if (account->seen->cycles == 0) {
        add_still(account);
    } else {
        add_stray(account);
    }
}

size_t slot_explain(const struct slot_seen *seen, const struct slot_image *image, enum slot_video video,
                    struct finding findings[SLOT_EXPLAINED_MAX]) {
    struct account account = {.seen = seen, .image = image, .findings = findings};
    if (!seen->supply) {
        struct finding *finding = add(&account, FINDING_NO_SUPPLY, -1);
        snprintf(
            finding->text, sizeof finding->text,
            "The board sees no +5 V from the console: it is off, or the board is not seated in its slot.");
    } else if (seen->age_ms < 0) {
        return 0;
    } else if (runs(&account)) {
        add_wrong_echo(&account);
        add_video(&account, video);
    } else {
        explain_stopped(&account);
    }
    return account.count;
}
