/* The stage's grabber read by the program's own code, in the test's process. */
#ifndef TESTS_VIDEO_LIVE_H
#define TESTS_VIDEO_LIVE_H

#include "video/rig.h"

struct live_tally {
    int frames, nothing; /* what next() gave */
    enum next last;
    int dark; /* of the frames: without any white in them */
};

/* A request for the rig's grabber: its node, standard, nothing else. */
struct video_request live_request(const struct video_rig *rig);
/* Asks until there were that many frames, or the source ended, or `nothing` came that often in a row. */
struct live_tally live_read(const struct video_source *source, int frames, int nothing_most,
                            struct problem *problem);

#endif
