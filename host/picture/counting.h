/*
 * What becomes of the console's fields, by the slates' counters, and how the grabber treats them. Private to
 * the stage.
 */
#ifndef SLOTJIG_PICTURE_COUNTING_H
#define SLOTJIG_PICTURE_COUNTING_H

#include "picture/frames.h"

#include <stdbool.h>
#include <stdint.h>

/* Below half of the counter's range, so that a field that comes late is told from one seen before even where
 * every other field is lost. */
enum { COUNTING_RECENT = 24 };

struct counting {
    struct frames_facts facts;
    uint32_t recent[COUNTING_RECENT]; /* value and counter, packed */
    int recent_count, recent_next;
    bool has_last;
    struct slate last; /* the one farthest on */
    bool last_blended;
    uint64_t unread; /* fields since then that could not be read: they were not lost */
    int unsettled;   /* fields still not to be measured */
    uint64_t measured, noise_count;
    double noise_power, mixing, slant; /* sums; noise over black-to-white, squared */
};

void counting_init(struct counting *counting);
/* A field that was read, in the order seen. */
void counting_read(struct counting *counting, const struct reading *reading);
/* The picture was away: what passed meanwhile is not the grabber's loss. */
void counting_away(struct counting *counting);

#endif
