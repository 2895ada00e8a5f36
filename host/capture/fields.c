#include "capture/video.h"

static struct field whole_field(const struct frame *frame) {
    return (struct field){
        .luma = frame->y.data,
        .stride = frame->y.stride,
        .step = frame->y.step,
        .width = frame->width,
        .height = frame->height,
        .cb = frame->cb,
        .cr = frame->cr,
        .chroma_x = frame->chroma_x,
        .chroma_y = frame->chroma_y,
        .parity = 0,
        .frame_lines = 1,
        .frame_number = frame->number,
    };
}

static void skip_lines(struct plane *plane, int first, int pitch) {
    if (plane->data != NULL) {
        plane->data += first * plane->stride;
        plane->stride *= pitch;
    }
}

static struct field woven_field(const struct frame *frame, int parity) {
    struct field field = whole_field(frame);
    field.luma += parity * frame->y.stride;
    field.stride *= 2;
    skip_lines(&field.cb, parity, 2);
    skip_lines(&field.cr, parity, 2);
    field.height = (frame->height + 1 - parity) / 2;
    field.parity = parity;
    field.frame_lines = 2;
    return field;
}

static struct field half_frame(const struct frame *frame, int parity) {
    struct field field = whole_field(frame);
    int first = parity * (frame->height / 2);
    field.luma += first * frame->y.stride;
    skip_lines(&field.cb, first >> frame->chroma_y, 1);
    skip_lines(&field.cr, first >> frame->chroma_y, 1);
    field.height = frame->height / 2;
    field.parity = parity;
    return field;
}

int frame_split(const struct frame *frame, enum split split, struct field fields[2]) {
    if (split == SPLIT_NONE) {
        fields[0] = whole_field(frame);
        return 1;
    }
    for (int parity = 0; parity < 2; parity++) {
        fields[parity] = split == SPLIT_WOVEN ? woven_field(frame, parity) : half_frame(frame, parity);
    }
    return 2;
}

void video_tell(const struct video_source *source, struct video_about *about, struct video_counts *counts) {
    if (about != NULL) {
        *about = (struct video_about){0};
    }
    if (counts != NULL) {
        *counts = (struct video_counts){0};
    }
    if (source->tell != NULL) {
        source->tell(source->state, about, counts);
    }
}
