#include "capture/blocks.h"
#include "capture/inside.h"

#include <stdlib.h>

struct counted {
    struct video_source inner;
    struct frame last;
    uint64_t delivered, repeated;
};

static enum next counted_next(void *state, struct frame *frame, struct problem *problem) {
    struct counted *counted = state;
    enum next next = counted->inner.next(counted->inner.state, frame, problem);
    if (next != NEXT_FRAME) {
        return next;
    }
    bool same_time = frame->time_us != 0 && frame->time_us == counted->last.time_us;
    if (counted->delivered > 0 && (same_time || frame_same(&counted->last, frame))) {
        counted->repeated++;
    }
    counted->delivered++;
    counted->last = *frame;
    return next;
}

static void counted_tell(void *state, struct video_about *about, struct video_counts *counts) {
    struct counted *counted = state;
    video_tell(&counted->inner, about, counts);
    if (counts != NULL) {
        counts->delivered = counted->delivered;
        counts->repeated = counted->repeated;
    }
}

static void counted_close(void *state) {
    struct counted *counted = state;
    counted->inner.close(counted->inner.state);
    free(counted);
}

struct counted *counted_new(void) {
    return calloc(1, sizeof(struct counted));
}

void counted_wrap(struct counted *counted, struct video_source *source) {
    counted->inner = *source;
    *source = (struct video_source){
        .state = counted, .next = counted_next, .close = counted_close, .tell = counted_tell};
}
