#include "commands/slot_report.h"

#include "commands/board_report.h"

#include <string.h>

static void seen_of(const struct link_watch *watch, struct slot_seen *seen) {
    *seen = (struct slot_seen){.supply = watch->supply,
                               .age_ms = watch->age_ms,
                               .cycles = watch->cycles,
                               .resets = watch->resets,
                               .vsyncs = watch->vsyncs,
                               .mailbox = watch->mailbox,
                               .missed = watch->missed,
                               .high = watch->high,
                               .low = watch->low,
                               .echoed_low = watch->echoed_low,
                               .echoed_high = watch->echoed_high,
                               .echoed_step = watch->echoed_step,
                               .vector_low = watch->vector_low,
                               .vector_high = watch->vector_high,
                               .step = watch->step,
                               .traced = watch->traced};
    memcpy(seen->trace, watch->trace, sizeof seen->trace);
}

void slot_look(struct bench_board *board, const struct link_image *image, enum slot_video video,
               struct slot_report *slot) {
    struct problem problem = {0};
    struct slot_image wanted;
    struct slot_seen seen;
    *slot = (struct slot_report){0};
    if (!bench_board_watch(board, &slot->watch, &slot->asked, &problem) || !slot->asked) {
        slot->asked = false;
        return;
    }
    slot_image_of(image->bytes, image->size, (image->flags & WIRE_IMAGE_MAILBOX) != 0, &wanted);
    seen_of(&slot->watch, &seen);
    slot->count = slot_explain(&seen, &wanted, video, slot->findings);
}

void slot_add_findings(const struct slot_report *slot, struct result *result) {
    const size_t count = slot->count;
    size_t kept = result->finding_count;
    if (kept + count > FINDINGS_MAX) {
        kept = FINDINGS_MAX - count;
    }
    const size_t at = result->verdict == VERDICT_FAIL ? kept : 0;
    memmove(&result->findings[at + count], &result->findings[at], (kept - at) * sizeof result->findings[0]);
    memcpy(&result->findings[at], slot->findings, count * sizeof slot->findings[0]);
    result->finding_count = kept + count;
}

json_t *slot_report_json(const struct slot_report *slot) {
    return slot->asked ? slot_json(&slot->watch) : json_null();
}

enum slot_part slot_part_of(enum finding_kind kind) {
    switch (kind) {
    case FINDING_NO_SUPPLY:
        return SLOT_SUPPLY;
    case FINDING_NO_BUS:
    case FINDING_ADDRESS_LINE_STUCK:
        return SLOT_BUS;
    case FINDING_SLOT_DATA_LINE_STUCK:
    case FINDING_RUNS_GARBAGE:
        return SLOT_PROCESSOR;
    case FINDING_OTHER_PROGRAM:
    case FINDING_RUNS_WITHOUT_PICTURE:
        return SLOT_PROGRAM;
    default:
        return SLOT_NO_PART;
    }
}
