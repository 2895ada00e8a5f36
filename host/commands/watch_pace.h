/* Frames at the rate at which they were taken: for sources that give them as fast as they are asked for. */
#ifndef SLOTJIG_COMMANDS_WATCH_PACE_H
#define SLOTJIG_COMMANDS_WATCH_PACE_H

#include "capture/video.h"

#include <stdbool.h>
#include <stdint.h>

struct pace {
    double period_us;  /* where frames carry no time of their own */
    uint64_t frames;   /* since the start of this round */
    uint64_t first_us; /* of the source's clock */
    uint64_t start_us; /* of ours: when the first frame of this round was due */
};

uint64_t pace_now_us(void);
/* rate: frames a second; 0: what a grabber delivers for the standard. */
void pace_start(struct pace *pace, double rate, enum standard standard);
/* Waits until the frame is due; not at all when it is late, and from there on by the new time. Cut short when
 * a person wants to stop. */
void pace_wait(struct pace *pace, const struct frame *frame);

#endif
