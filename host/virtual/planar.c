#include "virtual/planar.h"

#include <stdlib.h>
#include <turbojpeg.h>

struct planar {
    int width, height, chroma_y, quality;
    uint8_t *plane[3];
    int stride[3];
    tjhandle compress, decompress;
    uint8_t *jpeg;
    unsigned long size;
};

static bool no_memory(struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "virtual grabber: out of memory; close other programs");
}

static int sampling(const struct planar *planar) {
    return planar->chroma_y ? TJSAMP_420 : TJSAMP_422;
}

static bool make_planes(struct planar *planar) {
    for (int i = 0; i < 3; i++) {
        const int width = i == 0 ? planar->width : planar->width / 2;
        const int height = i == 0 ? planar->height : planar->height >> planar->chroma_y;
        planar->stride[i] = width;
        planar->plane[i] = calloc((size_t)width, (size_t)height);
        if (planar->plane[i] == NULL) {
            return false;
        }
    }
    return true;
}

static bool make_codec(struct planar *planar) {
    planar->size = tjBufSize(planar->width, planar->height, sampling(planar));
    planar->jpeg = tjAlloc((int)planar->size);
    planar->compress = tjInitCompress();
    planar->decompress = tjInitDecompress();
    return planar->jpeg != NULL && planar->compress != NULL && planar->decompress != NULL;
}

struct planar *planar_new(int width, int height, bool half_height_chroma, int quality,
                          struct problem *problem) {
    struct planar *planar = calloc(1, sizeof *planar);
    if (planar == NULL) {
        no_memory(problem);
        return NULL;
    }
    planar->width = width;
    planar->height = height;
    planar->chroma_y = half_height_chroma;
    planar->quality = quality;
    if (!make_planes(planar) || (quality > 0 && !make_codec(planar))) {
        planar_free(planar);
        no_memory(problem);
        return NULL;
    }
    return planar;
}

void planar_free(struct planar *planar) {
    if (planar == NULL) {
        return;
    }
    for (int i = 0; i < 3; i++) {
        free(planar->plane[i]);
    }
    tjFree(planar->jpeg);
    if (planar->compress != NULL) {
        tjDestroy(planar->compress);
    }
    if (planar->decompress != NULL) {
        tjDestroy(planar->decompress);
    }
    free(planar);
}

static void unpack_luma(const uint8_t *restrict in, uint8_t *restrict luma, int width) {
    for (int x = 0; x < width; x++) {
        luma[x] = in[2 * x];
    }
}

static void unpack_chroma(const uint8_t *restrict in, uint8_t *restrict cb, uint8_t *restrict cr, int width) {
    for (int x = 0; x < width / 2; x++) {
        cb[x] = in[4 * x + 1];
        cr[x] = in[4 * x + 3];
    }
}

/* Of two lines of the frame the mean, whichever fields they are of. */
static void unpack_two(const uint8_t *restrict in, const uint8_t *restrict next, uint8_t *restrict cb,
                       uint8_t *restrict cr, int width) {
    for (int x = 0; x < width / 2; x++) {
        cb[x] = (uint8_t)((in[4 * x + 1] + next[4 * x + 1] + 1) / 2);
        cr[x] = (uint8_t)((in[4 * x + 3] + next[4 * x + 3] + 1) / 2);
    }
}

static void unpack(struct planar *planar, const uint8_t *yuyv, ptrdiff_t stride) {
    for (int y = 0; y < planar->height; y++) {
        const uint8_t *line = yuyv + y * stride;
        const ptrdiff_t at = (ptrdiff_t)(y >> planar->chroma_y) * planar->stride[1];
        unpack_luma(line, planar->plane[0] + (ptrdiff_t)y * planar->stride[0], planar->width);
        if (!planar->chroma_y) {
            unpack_chroma(line, planar->plane[1] + at, planar->plane[2] + at, planar->width);
        } else if (y % 2 == 0) {
            unpack_two(line, line + stride, planar->plane[1] + at, planar->plane[2] + at, planar->width);
        }
    }
}

static bool through_jpeg(struct planar *planar, struct problem *problem) {
    unsigned long size = planar->size;
    const unsigned char *in[3] = {planar->plane[0], planar->plane[1], planar->plane[2]};
    if (tjCompressFromYUVPlanes(planar->compress, in, planar->width, planar->stride, planar->height,
                                sampling(planar), &planar->jpeg, &size, planar->quality,
                                TJFLAG_NOREALLOC | TJFLAG_ACCURATEDCT) != 0) {
        return problem_set(problem, PROBLEM_BENCH, "virtual grabber: MJPEG: %s; leave mjpeg away",
                           tjGetErrorStr2(planar->compress));
    }
    if (tjDecompressToYUVPlanes(planar->decompress, planar->jpeg, size, planar->plane, planar->width,
                                planar->stride, planar->height, TJFLAG_ACCURATEDCT) != 0) {
        return problem_set(problem, PROBLEM_BENCH, "virtual grabber: MJPEG: %s; leave mjpeg away",
                           tjGetErrorStr2(planar->decompress));
    }
    return true;
}

static struct plane plane_of(const struct planar *planar, int which) {
    return (struct plane){.data = planar->plane[which], .stride = planar->stride[which], .step = 1};
}

bool planar_frame(struct planar *planar, const uint8_t *yuyv, ptrdiff_t stride, struct frame *frame,
                  struct problem *problem) {
    unpack(planar, yuyv, stride);
    if (planar->quality > 0 && !through_jpeg(planar, problem)) {
        return false;
    }
    *frame = (struct frame){
        .width = planar->width,
        .height = planar->height,
        .y = plane_of(planar, 0),
        .cb = plane_of(planar, 1),
        .cr = plane_of(planar, 2),
        .chroma_x = 1,
        .chroma_y = planar->chroma_y,
    };
    return true;
}
