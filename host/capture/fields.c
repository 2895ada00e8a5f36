#include "capture/video.h"

bool frame_is_woven(const struct frame *frame) {
    return frame->height > FIELD_LINES_MAX;
}

static struct field whole_field(const struct frame *frame) {
    return (struct field){
        .luma = frame->y.data,
        .stride = frame->y.stride,
        .step = frame->y.step,
        .width = frame->width,
        .height = frame->height,
        .parity = 0,
        .frame_lines = 1,
        .frame_number = frame->number,
    };
}

static struct field woven_field(const struct frame *frame, int parity) {
    struct field field = whole_field(frame);
    field.luma += parity * frame->y.stride;
    field.stride *= 2;
    field.height = (frame->height + 1 - parity) / 2;
    field.parity = parity;
    field.frame_lines = 2;
    return field;
}

int frame_fields(const struct frame *frame, enum standard standard, struct field fields[2]) {
    if (!frame_is_woven(frame)) {
        fields[0] = whole_field(frame);
        return 1;
    }
    int older = standard_table[standard].top_first ? 0 : 1;
    fields[0] = woven_field(frame, older);
    fields[1] = woven_field(frame, 1 - older);
    return 2;
}
