#include "commands/watch_trouble.h"

struct frames_facts watch_facts_between(const struct frames_facts *from, const struct frames_facts *to) {
    struct frames_facts facts = *to;
    facts.changes -= from->changes;
    facts.frames -= from->frames;
    facts.read -= from->read;
    facts.fresh -= from->fresh;
    facts.lost -= from->lost;
    facts.doubled -= from->doubled;
    facts.swapped -= from->swapped;
    facts.blended -= from->blended;
    facts.half_black -= from->half_black;
    facts.frames_repeated -= from->frames_repeated;
    facts.relocks -= from->relocks;
    facts.clipped -= from->clipped;
    return facts;
}

struct video_counts watch_counts_between(const struct video_counts *from, const struct video_counts *to) {
    return (struct video_counts){.delivered = to->delivered - from->delivered,
                                 .lost = to->lost - from->lost,
                                 .empty = to->empty - from->empty,
                                 .broken = to->broken - from->broken,
                                 .repeated = to->repeated - from->repeated,
                                 .overrun = to->overrun - from->overrun,
                                 .gone = to->gone - from->gone};
}

const char *watch_trouble_name(enum finding_kind kind) {
    static const char *const names[FINDING_KINDS] = {[FINDING_DEVICE_LOST] = "Device went away",
                                                     [FINDING_FIELDS_LOST] = "Fields lost",
                                                     [FINDING_FIELDS_SWAPPED] = "Fields swapped",
                                                     [FINDING_FIELDS_BLENDED] = "Fields blended",
                                                     [FINDING_HALF_BLACK] = "Half black",
                                                     [FINDING_BROKEN_BUFFERS] = "Broken buffers",
                                                     [FINDING_COMB_FILTER] = "Lines mixed",
                                                     [FINDING_CLIPPING] = "Levels cut off",
                                                     [FINDING_GAIN_HUNTING] = "Levels hunt",
                                                     [FINDING_NOISY] = "Noisy",
                                                     [FINDING_NO_COLOUR] = "No colour"};
    return (unsigned)kind < FINDING_KINDS && names[kind] != NULL ? names[kind] : "Capture uneven";
}
