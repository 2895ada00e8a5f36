/*
 * What becomes of the console's fields, by the slates' counters, and how the grabber treats them. Private to
 * the stage.
 */
#ifndef SLOTJIG_PICTURE_TALLY_H
#define SLOTJIG_PICTURE_TALLY_H

#include "picture/frames.h"

#include <stdbool.h>
#include <stdint.h>

/* Below half of the counter's range, so that a field that comes late is told from one seen before even where
 * every other field is lost. */
enum { TALLY_RECENT = 24 };

struct tally {
    struct frames_facts facts;
    uint32_t recent[TALLY_RECENT]; /* value and counter, packed */
    int recent_count, recent_next;
    bool has_last;
    struct slate last; /* the one farthest on */
    bool last_blended;
    uint64_t unread; /* fields since then that could not be read: they were not lost */
    int unsettled;   /* fields still not to be measured */
    uint64_t measured, noise_count;
    double noise_power, mixing, slant; /* sums; noise over black-to-white, squared */
};

void tally_init(struct tally *tally);
/* A field that was read, in the order seen. */
void tally_read(struct tally *tally, const struct reading *reading);
/* The picture was away: what passed meanwhile is not the grabber's loss. */
void tally_away(struct tally *tally);

#endif
