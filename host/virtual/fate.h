/* What becomes of a field on its way through the grabber: it is kept, lost, given twice, or put off. */
#ifndef SLOTJIG_VIRTUAL_FATE_H
#define SLOTJIG_VIRTUAL_FATE_H

#include "base/standard.h"
#include "virtual/bench.h"

#include <stdint.h>

enum { FATE_COPIES_MAX = 3 };

struct fates {
    enum standard standard;
    double drop, twice, swap;
    uint64_t burst_at, burst_end, taken; /* fields of the console */
    bool slip;
    double due; /* fields that the grabber's clock is ahead of those it gave */
    uint64_t random;
};

struct fate {
    int copies; /* 0..FATE_COPIES_MAX */
    bool late;  /* changes places with the field after it */
};

void fates_init(struct fates *fates, enum standard standard, const struct grabber_options *options,
                uint64_t seed);
/* Of the next field, so many lines long. */
struct fate fate_of_next(struct fates *fates, int lines);

#endif
