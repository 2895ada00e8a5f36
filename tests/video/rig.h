/* A virtual console with the plan `bits` in its slot, and its video in a grabber on the stage. */
#ifndef TESTS_VIDEO_RIG_H
#define TESTS_VIDEO_RIG_H

#include "plan/plan.h"
#include "rom/rom.h"
#include "video/stage.h"
#include "virtual/bench.h"

enum { VIDEO_RIG_HOLD = 4 };

struct video_rig {
    /* Set by video_rig_prepare(), then by the test. */
    struct virtual_options options;
    struct grabber_device device;
    /* Filled. */
    const struct image *image; /* of the plan `bits` */
    struct video_source source;
    struct problem problem;
};

/* An analog grabber that stands as one is found: at the other standard, on its first input, where the
 * console's cable is. Twice as fast as real ones. */
void video_rig_prepare(struct video_rig *rig, enum standard standard);
/* fault: a --fault TEXT or NULL. False: rig->problem, or the stage. */
bool video_rig_start(struct video_rig *rig, const char *fault);
/* In any case. */
void video_rig_end(struct video_rig *rig);

#endif
