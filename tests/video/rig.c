#include "video/rig.h"

#include <string.h>

enum { WARM_UP = 5 /* frames; the grabber is dark until it has locked */ };

void video_rig_prepare(struct video_rig *rig, enum standard standard) {
    memset(rig, 0, sizeof *rig);
    virtual_defaults(standard, &rig->options);
    rig->device =
        (struct grabber_device){.feed = {.standard = standard, .speed = 2},
                                .stands_at = standard == STANDARD_NTSC ? STANDARD_PAL : STANDARD_NTSC,
                                .stands_on = INPUT_COMPOSITE,
                                .cable = INPUT_COMPOSITE};
}

bool video_rig_start(struct video_rig *rig, const char *plan, const char *fault) {
    const struct rom_options rom = {.hold = VIDEO_RIG_HOLD};
    if (fault != NULL && !virtual_add_fault(&rig->options, fault, &rig->problem)) {
        return false;
    }
    if (!plan_open(plan, rig->options.standard, &rig->plan, &rig->problem) ||
        !rom_build(rig->plan, &rom, &rig->image, &rig->problem) ||
        !virtual_open(&rig->options, rig->image->bytes, rig->image->size, &rig->source, &rig->problem)) {
        return false;
    }
    for (int i = 0; i < WARM_UP; i++) {
        struct frame frame;
        rig->source.next(rig->source.state, &frame, &rig->problem);
    }
    rig->device.source = rig->source;
    return grabber_plug(&rig->device);
}

void video_rig_end(struct video_rig *rig) {
    grabber_end(&rig->device);
    if (rig->source.close != NULL) {
        rig->source.close(rig->source.state);
    }
    if (rig->image != NULL) {
        rom_free(rig->image);
    }
    if (rig->plan != NULL) {
        plan_free(rig->plan);
    }
    rig->source = (struct video_source){0};
    rig->image = NULL;
    rig->plan = NULL;
}
