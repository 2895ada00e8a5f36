/* What the capture chain does to the video just now, told from what was counted in the last seconds. */
#ifndef SLOTJIG_COMMANDS_WATCH_TROUBLE_H
#define SLOTJIG_COMMANDS_WATCH_TROUBLE_H

#include "picture/frames.h"

#include <stddef.h>

struct watch_trouble {
    const char *headline, *next;
    char text[200];
};

enum { WATCH_TROUBLES_MAX = 8 };

/* Counts of a stretch of time: later ones less earlier ones. noise_db: 0 when not known. */
struct watch_stretch {
    struct frames_facts facts;
    struct video_counts counts;
    double noise_db, mixing;
};
struct watch_stretch watch_stretch_of(const struct frames_facts *from, const struct frames_facts *to,
                                      const struct video_counts *counts_from,
                                      const struct video_counts *counts_to);

/* Gravest first. Returns how many. */
size_t watch_troubles(const struct watch_stretch *stretch, struct watch_trouble troubles[WATCH_TROUBLES_MAX]);

#endif
