#include "virtual/fate.h"

#include "virtual/noise.h"

void fates_init(struct fates *fates, enum standard standard, const struct grabber_options *options,
                uint64_t seed) {
    static const uint64_t apart = UINT64_C(0x6661746573);
    *fates = (struct fates){.standard = standard,
                            .drop = options->drop,
                            .twice = options->twice,
                            .swap = options->swap,
                            .burst_at = (uint64_t)options->burst_at,
                            .burst_end = (uint64_t)options->burst_at + (uint64_t)options->burst_fields,
                            .slip = options->slip,
                            .due = 0.5,
                            .random = seed ^ apart};
}

/* The grabber gives fields by a clock of its own, the standard's. The console's are a little longer (or, with
 * lines left out, shorter), so that now and then one is there when two are due, or the other way round. */
static int fields_due(struct fates *fates, int lines) {
    const struct standard_facts *facts = &standard_table[fates->standard];
    const double rate = 2.0 * facts->frame_rate_num / facts->frame_rate_den;
    fates->due += lines * (LINE_CLOCKS / facts->clock_hz) * rate;
    int due = (int)fates->due;
    due = due < FATE_COPIES_MAX ? due : FATE_COPIES_MAX;
    fates->due -= due;
    return due;
}

/* A number is drawn for each question, asked or not, so that one answer does not change the others. */
static bool happens(struct fates *fates, double share) {
    return noise_uniform(&fates->random) <= share;
}

static bool in_burst(struct fates *fates) {
    const uint64_t number = fates->taken++;
    return number >= fates->burst_at && number < fates->burst_end;
}

struct fate fate_of_next(struct fates *fates, int lines) {
    int copies = fates->slip ? fields_due(fates, lines) : 1;
    bool lost = happens(fates, fates->drop), twice = happens(fates, fates->twice);
    bool late = happens(fates, fates->swap);
    copies += twice && copies < FATE_COPIES_MAX ? 1 : 0;
    lost = in_burst(fates) || lost;
    return (struct fate){.copies = lost ? 0 : copies, .late = late};
}
