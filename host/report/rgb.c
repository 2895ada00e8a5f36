#include "report/rgb.h"

static int sample(const struct plane *plane, int x, int y) {
    return plane->data[(ptrdiff_t)y * plane->stride + (ptrdiff_t)x * plane->step];
}

/* From a fixed-point value of 16 fraction bits. */
static uint8_t clip(int value) {
    int whole = (value + (1 << 15)) >> 16;
    return (uint8_t)(whole < 0 ? 0 : whole > 255 ? 255 : whole);
}

/* Kr = 0.299, Kb = 0.114; 255/219 for luma, 255/224 for colour differences [S ITU-R BT.601], times 65536. */
static void pixel(int y, int cb, int cr, uint8_t *rgb) {
    int level = 76309 * (y - 16);
    int blue = cb - 128;
    int red = cr - 128;
    rgb[0] = clip(level + 104597 * red);
    rgb[1] = clip(level - 25675 * blue - 53279 * red);
    rgb[2] = clip(level + 132201 * blue);
}

static void row(const struct frame *frame, int y, uint8_t *rgb) {
    bool colour = frame->cb.data != NULL && frame->cr.data != NULL;
    int chroma_y = y >> frame->chroma_y;
    for (int x = 0; x < frame->width; x++) {
        int chroma_x = x >> frame->chroma_x;
        int cb = colour ? sample(&frame->cb, chroma_x, chroma_y) : 128;
        int cr = colour ? sample(&frame->cr, chroma_x, chroma_y) : 128;
        pixel(sample(&frame->y, x, y), cb, cr, rgb + (ptrdiff_t)3 * x);
    }
}

void rgb_from_frame(const struct frame *frame, uint8_t *rgb) {
    for (int y = 0; y < frame->height; y++) {
        row(frame, y, rgb + (ptrdiff_t)3 * frame->width * y);
    }
}

void rgb_from_field(const struct frame *frame, int parity, uint8_t *rgb) {
    if (!frame_is_woven(frame)) {
        rgb_from_frame(frame, rgb);
        return;
    }
    for (int y = 0; y < frame->height; y++) {
        int source = (y & ~1) + parity;
        if (source >= frame->height) {
            source -= 2; /* an odd height: the last line has no partner */
        }
        row(frame, source, rgb + (ptrdiff_t)3 * frame->width * y);
    }
}
