#include "capture/blocks.h"

#include <stdlib.h>
#include <string.h>

enum { BLOCKS_MAX = 3, PROBES = 12, ALIGN = 64 };

/* Lines of bytes that one or more planes share. */
struct block {
    const uint8_t *first;
    ptrdiff_t stride;
    size_t bytes; /* of a line */
    int lines;
};

static struct block block_of(const struct plane *plane, int samples, int lines) {
    return (struct block){.first = plane->data,
                          .stride = plane->stride,
                          .bytes = (size_t)(samples - 1) * (size_t)plane->step + 1,
                          .lines = lines};
}

/* Takes a plane into a block where their bytes lie in one another. */
static bool join(struct block *block, const struct block *other) {
    ptrdiff_t apart = other->first - block->first;
    if (other->stride != block->stride || other->lines != block->lines || apart >= llabs(block->stride) ||
        -apart >= llabs(block->stride)) {
        return false;
    }
    const uint8_t *end = block->first + block->bytes;
    const uint8_t *other_end = other->first + other->bytes;
    bool apart_in_line = end <= other->first || other_end <= block->first;
    if (apart_in_line) {
        return false;
    }
    block->first = apart < 0 ? other->first : block->first;
    block->bytes = (size_t)((other_end > end ? other_end : end) - block->first);
    return true;
}

static int blocks_of(const struct frame *frame, struct block blocks[BLOCKS_MAX]) {
    int count = 1;
    blocks[0] = block_of(&frame->y, frame->width, frame->height);
    const struct plane *planes[] = {&frame->cb, &frame->cr};
    for (int i = 0; i < 2; i++) {
        if (planes[i]->data == NULL) {
            continue;
        }
        struct block block =
            block_of(planes[i], (frame->width + (1 << frame->chroma_x) - 1) >> frame->chroma_x,
                     (frame->height + (1 << frame->chroma_y) - 1) >> frame->chroma_y);
        if (!join(&blocks[count - 1], &block)) {
            blocks[count++] = block;
        }
    }
    return count;
}

static size_t padded(size_t bytes) {
    return (bytes + ALIGN - 1) / ALIGN * ALIGN;
}

size_t frame_bytes(const struct frame *frame) {
    struct block blocks[BLOCKS_MAX];
    int count = blocks_of(frame, blocks);
    size_t size = 0;
    for (int i = 0; i < count; i++) {
        size += padded(blocks[i].bytes) * (size_t)blocks[i].lines;
    }
    return size;
}

/* A plane's place in the copy of its block. */
static void move_plane(struct plane *plane, const struct block *block, const uint8_t *copy) {
    ptrdiff_t at = plane->data == NULL ? -1 : plane->data - block->first;
    if (at >= 0 && at < (ptrdiff_t)block->bytes && plane->stride == block->stride) {
        plane->data = copy + at;
        plane->stride = (ptrdiff_t)padded(block->bytes);
    }
}

void frame_copy(const struct frame *frame, uint8_t *bytes, struct frame *copy) {
    struct block blocks[BLOCKS_MAX];
    int count = blocks_of(frame, blocks);
    const struct plane *from[] = {&frame->y, &frame->cb, &frame->cr};
    *copy = *frame;
    struct plane *to[] = {&copy->y, &copy->cb, &copy->cr};
    for (int i = 0; i < count; i++) {
        for (int line = 0; line < blocks[i].lines; line++) {
            memcpy(bytes + (size_t)line * padded(blocks[i].bytes), blocks[i].first + line * blocks[i].stride,
                   blocks[i].bytes);
        }
        for (int p = 0; p < 3; p++) {
            if (to[p]->data == from[p]->data) { /* not moved yet */
                move_plane(to[p], &blocks[i], bytes);
            }
        }
        bytes += padded(blocks[i].bytes) * (size_t)blocks[i].lines;
    }
}

static bool planes_alike(const struct plane *a, const struct plane *b) {
    return (a->data == NULL) == (b->data == NULL) && a->step == b->step;
}

bool frame_alike(const struct frame *a, const struct frame *b) {
    return a->width == b->width && a->height == b->height && a->chroma_x == b->chroma_x &&
           a->chroma_y == b->chroma_y && planes_alike(&a->y, &b->y) && planes_alike(&a->cb, &b->cb) &&
           planes_alike(&a->cr, &b->cr) && frame_bytes(a) == frame_bytes(b);
}

static bool line_same(const struct block *a, const struct block *b, int line) {
    return memcmp(a->first + line * a->stride, b->first + line * b->stride, a->bytes) == 0;
}

bool frame_same(const struct frame *a, const struct frame *b) {
    struct block first[BLOCKS_MAX], second[BLOCKS_MAX];
    int count = blocks_of(a, first);
    if (!frame_alike(a, b) || blocks_of(b, second) != count) {
        return false;
    }
    for (int i = 0; i < PROBES; i++) {
        if (!line_same(&first[0], &second[0], (int)((long)i * first[0].lines / PROBES))) {
            return false;
        }
    }
    for (int i = 0; i < count; i++) {
        for (int line = 0; line < first[i].lines; line++) {
            if (!line_same(&first[i], &second[i], line)) {
                return false;
            }
        }
    }
    return true;
}
