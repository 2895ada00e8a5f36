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

/* Made once: under umockdev the sanitizer sees streams opened and not closed, and stops at the first that
 * comes to lie where another did. */
static bool build(enum standard standard, const struct image **image, struct problem *problem) {
    static struct image *images[STANDARD_COUNT];
    const struct rom_options rom = {.hold = VIDEO_RIG_HOLD};
    if (images[standard] == NULL) {
        struct plan *plan = NULL;
        if (!plan_open("bits", standard, &plan, problem)) {
            return false;
        }
        const bool good = rom_build(plan, &rom, &images[standard], problem);
        plan_free(plan);
        if (!good) {
            images[standard] = NULL;
            return false;
        }
    }
    *image = images[standard];
    return true;
}

bool video_rig_start(struct video_rig *rig, const char *fault) {
    if (fault != NULL && !virtual_add_fault(&rig->options, fault, &rig->problem)) {
        return false;
    }
    if (!build(rig->options.standard, &rig->image, &rig->problem) ||
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
    rig->source = (struct video_source){0};
}
