#include "video/live.h"

#include <stdio.h>

enum { WHITE_LEAST = 180 };

struct video_request live_request(const struct video_rig *rig) {
    static char where[64];
    snprintf(where, sizeof where, "v4l2:%s", rig->device.node);
    return (struct video_request){.where = where, .standard = rig->options.standard};
}

static bool is_dark(const struct frame *frame) {
    for (int y = 0; y < frame->height; y += 2) {
        for (int x = 0; x < frame->width; x += 4) {
            if (frame->y.data[y * frame->y.stride + x * frame->y.step] >= WHITE_LEAST) {
                return false;
            }
        }
    }
    return true;
}

struct live_tally live_read(const struct video_source *source, int frames, int nothing_most,
                            struct problem *problem) {
    struct live_tally tally = {.last = NEXT_FRAME};
    int in_a_row = 0;
    while (tally.frames < frames && in_a_row < nothing_most) {
        struct frame frame;
        tally.last = source->next(source->state, &frame, problem);
        if (tally.last == NEXT_FRAME) {
            tally.frames++;
            tally.dark += is_dark(&frame);
            in_a_row = 0;
        } else if (tally.last == NEXT_NOTHING) {
            tally.nothing++;
            in_a_row++;
        } else {
            break;
        }
    }
    return tally;
}
