#include "commands/keeper.h"

#include <stdio.h>
#include <stdlib.h>

static const char recording[] = "failing.mkv";

bool keeper_init(struct keeper *keeper, const char *folder, enum standard standard, struct problem *problem) {
    *keeper = (struct keeper){.standard = standard};
    if (asprintf(&keeper->path, "%s/%s", folder, recording) < 0) {
        keeper->path = NULL;
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", folder);
    }
    return true;
}

static uint8_t sample(const struct plane *plane, int x, int y) {
    return plane->data == NULL ? 128 : plane->data[y * plane->stride + (ptrdiff_t)x * plane->step];
}

static bool copy_frame(struct kept_frame *kept, const struct frame *from, struct problem *problem) {
    int width = from->width & ~1, stride = width * 2;
    if (kept->samples == NULL) {
        kept->samples = malloc((size_t)stride * (size_t)from->height);
    }
    if (kept->samples == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for a frame of %d x %d", from->width,
                           from->height);
    }
    for (int y = 0; y < from->height; y++) {
        uint8_t *out = kept->samples + (ptrdiff_t)y * stride;
        for (int x = 0; x < width; x += 2, out += 4) {
            out[0] = sample(&from->y, x, y);
            out[1] = sample(&from->cb, x >> from->chroma_x, y >> from->chroma_y);
            out[2] = sample(&from->y, x + 1, y);
            out[3] = sample(&from->cr, x >> from->chroma_x, y >> from->chroma_y);
        }
    }
    kept->frame = (struct frame){.width = width,
                                 .height = from->height,
                                 .y = {kept->samples, stride, 2},
                                 .cb = {kept->samples + 1, stride, 4},
                                 .cr = {kept->samples + 3, stride, 4},
                                 .chroma_x = 1,
                                 .number = from->number};
    return true;
}

bool keeper_field(struct keeper *keeper, const struct frame *frame, const struct field *field,
                  const struct reading *reading, bool fails, struct problem *problem) {
    if (keeper->shown_fails || (!fails && keeper->shown.samples != NULL)) {
        return true;
    }
    keeper->shown_fails = fails;
    keeper->shown_field = *field;
    keeper->shown_reading = *reading;
    return copy_frame(&keeper->shown, frame, problem);
}

static bool record(struct keeper *keeper, const struct frame *frame, struct problem *problem) {
    if (keeper->written == KEEPER_FRAMES_MAX) {
        return true;
    }
    if (!keeper->open && !video_create_file(keeper->path, frame->width, frame->height, keeper->standard,
                                            &keeper->sink, problem)) {
        return false;
    }
    keeper->open = true;
    keeper->written++;
    return keeper->sink.write(keeper->sink.state, frame, problem);
}

bool keeper_frame(struct keeper *keeper, const struct frame *frame, bool keep, struct problem *problem) {
    if (keep && keeper->previous.samples != NULL && !keeper->previous_written &&
        !record(keeper, &keeper->previous.frame, problem)) {
        return false;
    }
    if (keep && !record(keeper, frame, problem)) {
        return false;
    }
    keeper->previous_written = keep;
    return copy_frame(&keeper->previous, frame, problem);
}

bool keeper_finish(struct keeper *keeper, struct problem *problem) {
    return !keeper->open || keeper->sink.finish(keeper->sink.state, problem);
}

void keeper_free(struct keeper *keeper) {
    if (keeper->open) {
        keeper->sink.close(keeper->sink.state);
        keeper->open = false;
    }
    free(keeper->previous.samples);
    free(keeper->shown.samples);
    free(keeper->path);
    *keeper = (struct keeper){0};
}
