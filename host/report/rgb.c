#include "report/rgb.h"

#include <string.h>

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

static void row(const struct field *field, int y, uint8_t *rgb) {
    const struct plane luma = {field->luma, field->stride, field->step};
    bool colour = field->cb.data != NULL && field->cr.data != NULL;
    int chroma_y = y >> field->chroma_y;
    for (int x = 0; x < field->width; x++) {
        int chroma_x = x >> field->chroma_x;
        int cb = colour ? sample(&field->cb, chroma_x, chroma_y) : 128;
        int cr = colour ? sample(&field->cr, chroma_x, chroma_y) : 128;
        pixel(sample(&luma, x, y), cb, cr, rgb + (ptrdiff_t)3 * x);
    }
}

void rgb_from_field(const struct field *field, int rows, uint8_t *rgb) {
    const size_t stride = (size_t)3 * (size_t)field->width;
    for (int y = 0; y < field->height; y++) {
        uint8_t *first = rgb;
        row(field, y, first);
        rgb += stride;
        for (int i = 1; i < rows; i++, rgb += stride) {
            memcpy(rgb, first, stride);
        }
    }
}

void rgb_from_frame(const struct frame *frame, uint8_t *rgb) {
    struct field whole[2];
    frame_split(frame, SPLIT_NONE, whole);
    rgb_from_field(&whole[0], 1, rgb);
}
