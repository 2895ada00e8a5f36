#include "commands/keeper.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char recording[] = "failing.mkv";

bool keeper_init(struct keeper *keeper, const char *folder, const struct plan *plan,
                 struct problem *problem) {
    *keeper = (struct keeper){.standard = plan->standard,
                              .most = plan->kind == PLAN_EVERY ? KEEPER_FRAMES_EVERY : KEEPER_FRAMES_MAX};
    if (folder != NULL && asprintf(&keeper->path, "%s/%s", folder, recording) < 0) {
        keeper->path = NULL;
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory", folder);
    }
    return true;
}

/* What is copied: a frame or a field of one. */
struct view {
    struct plane y, cb, cr;
    int chroma_x, chroma_y, width, height;
};

static struct view frame_view(const struct frame *frame) {
    return (struct view){frame->y,        frame->cb,         frame->cr,    frame->chroma_x,
                         frame->chroma_y, frame->width & ~1, frame->height};
}

static struct view field_view(const struct field *field) {
    return (struct view){{field->luma, field->stride, field->step},
                         field->cb,
                         field->cr,
                         field->chroma_x,
                         field->chroma_y,
                         field->width & ~1,
                         field->height};
}

static uint8_t sample(const struct plane *plane, int x, int y) {
    return plane->data == NULL ? 128 : plane->data[y * plane->stride + (ptrdiff_t)x * plane->step];
}

static bool make_room(struct kept *kept, size_t bytes, struct problem *problem) {
    if (kept->samples != NULL && kept->room >= bytes) {
        return true;
    }
    free(kept->samples);
    kept->samples = malloc(bytes);
    kept->room = kept->samples != NULL ? bytes : 0;
    return kept->samples != NULL ||
           problem_set(problem, PROBLEM_BENCH, "out of memory for a picture of %zu bytes", bytes);
}

/* Whether it is laid out as the copy will be. */
static bool is_packed(const struct view *from) {
    const struct plane *y = &from->y, *cb = &from->cb, *cr = &from->cr;
    return y->step == 2 && cb->data == y->data + 1 && cb->step == 4 && cb->stride == y->stride &&
           cr->data == y->data + 3 && cr->step == 4 && cr->stride == y->stride && from->chroma_x == 1 &&
           from->chroma_y == 0;
}

static void copy_samples(const struct view *from, int y, uint8_t *out) {
    for (int x = 0; x < from->width; x += 2, out += 4) {
        out[0] = sample(&from->y, x, y);
        out[1] = sample(&from->cb, x >> from->chroma_x, y >> from->chroma_y);
        out[2] = sample(&from->y, x + 1, y);
        out[3] = sample(&from->cr, x >> from->chroma_x, y >> from->chroma_y);
    }
}

static bool copy(struct kept *kept, const struct view *from, struct problem *problem) {
    const int stride = from->width * 2;
    if (!make_room(kept, (size_t)stride * (size_t)from->height, problem)) {
        return false;
    }
    kept->width = from->width;
    kept->height = from->height;
    const bool packed = is_packed(from);
    for (int y = 0; y < from->height; y++) {
        uint8_t *out = kept->samples + (ptrdiff_t)y * stride;
        if (packed) {
            memcpy(out, from->y.data + y * from->y.stride, (size_t)stride);
        } else {
            copy_samples(from, y, out);
        }
    }
    return true;
}

bool keeper_field(struct keeper *keeper, const struct field *field, const struct reading *reading, bool fails,
                  struct problem *problem) {
    struct kept *shown = &keeper->shown;
    const struct view view = field_view(field);
    if (keeper->shown_fails || (!fails && shown->samples != NULL)) {
        return true;
    }
    if (!copy(shown, &view, problem)) {
        return false;
    }
    const ptrdiff_t stride = (ptrdiff_t)shown->width * 2;
    keeper->shown_fails = fails;
    keeper->shown_reading = *reading;
    keeper->shown_field = *field;
    keeper->shown_field.luma = shown->samples;
    keeper->shown_field.stride = stride;
    keeper->shown_field.step = 2;
    keeper->shown_field.width = shown->width;
    keeper->shown_field.cb = (struct plane){shown->samples + 1, stride, 4};
    keeper->shown_field.cr = (struct plane){shown->samples + 3, stride, 4};
    keeper->shown_field.chroma_x = 1;
    keeper->shown_field.chroma_y = 0;
    return true;
}

static bool record(struct keeper *keeper, const struct frame *frame, struct problem *problem) {
    if (keeper->written >= keeper->most ||
        (keeper->open && (frame->width != keeper->width || frame->height != keeper->height))) {
        return true;
    }
    if (!keeper->open && !video_create_file(keeper->path, frame->width, frame->height, keeper->standard,
                                            &keeper->sink, problem)) {
        return false;
    }
    keeper->open = true;
    keeper->width = frame->width;
    keeper->height = frame->height;
    keeper->written++;
    return keeper->sink.write(keeper->sink.state, frame, problem);
}

static struct frame kept_frame(const struct kept *kept) {
    const ptrdiff_t stride = (ptrdiff_t)kept->width * 2;
    return (struct frame){.width = kept->width,
                          .height = kept->height,
                          .y = {kept->samples, stride, 2},
                          .cb = {kept->samples + 1, stride, 4},
                          .cr = {kept->samples + 3, stride, 4},
                          .chroma_x = 1};
}

bool keeper_frame(struct keeper *keeper, const struct frame *frame, bool keep, struct problem *problem) {
    const struct view view = frame_view(frame);
    if (keeper->path == NULL) {
        return true;
    }
    if (keep && keeper->previous.samples != NULL && !keeper->previous_written) {
        const struct frame previous = kept_frame(&keeper->previous);
        if (!record(keeper, &previous, problem)) {
            return false;
        }
    }
    /* The copy, not the frame: a kept frame has an even width, and all of a file's have one kind of pixel. */
    if (!copy(&keeper->previous, &view, problem)) {
        return false;
    }
    keeper->previous_written = keep;
    const struct frame now = kept_frame(&keeper->previous);
    return !keep || record(keeper, &now, problem);
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
