/*
 * Video as plain data: frames from a source, frames to a sink, and the fields inside a frame.
 * A source or sink is a small struct of functions; the real ones (FFmpeg) live in a module that is opened
 * when first needed, the virtual bench makes another. Nothing after capture/ can tell them apart.
 */
#ifndef SLOTJIG_CAPTURE_VIDEO_H
#define SLOTJIG_CAPTURE_VIDEO_H

#include "base/problem.h"
#include "base/standard.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* One component of a frame: sample (x, y) is data[y * stride + x * step]. */
struct plane {
    const uint8_t *data;
    ptrdiff_t stride;
    int step;
};

/* A captured frame, 8 bits a sample, Y'CbCr. Owned by its source and good until the next call of next() or
 * close(). */
struct frame {
    int width, height;
    struct plane y, cb, cr; /* cb.data and cr.data are NULL where there is no colour */
    int chroma_x, chroma_y; /* log2 of how much coarser cb and cr are: 4:2:2 is 1, 0 */
    uint64_t number;        /* counts from 0 as delivered */
};

enum next { NEXT_FRAME, NEXT_END, NEXT_ERROR };

struct video_source {
    void *state;
    /* The next frame. NEXT_END: the source has no more. NEXT_ERROR: problem is filled. Never blocks longer
     * than the source's own bound. */
    enum next (*next)(void *state, struct frame *frame, struct problem *problem);
    void (*close)(void *state); /* frees state */
};

/* Writes frames. Nothing stands under the final name before finish() has returned true; close() without
 * finish() leaves no file. */
struct video_sink {
    void *state;
    bool (*write)(void *state, const struct frame *frame, struct problem *problem);
    bool (*finish)(void *state, struct problem *problem);
    void (*close)(void *state); /* frees state; after a finish() or instead of it */
};

/* One field of a frame: a view into the frame's luma, good as long as the frame is. */
struct field {
    const uint8_t *luma; /* sample (x, y) is luma[y * stride + x * step] */
    ptrdiff_t stride;
    int step;
    int width, height; /* height in lines of the field */
    int parity;        /* 0: top lines of the frame, 1: bottom lines */
    int frame_lines;   /* lines of the frame a line of the field stands for: 2 woven, 1 else */
    uint64_t frame_number;
};

/* Whether a frame is two fields woven: higher than FIELD_LINES_MAX, the lines of a field of the taller
 * standards [S ITU-R BT.601: 576 a frame]. */
enum { FIELD_LINES_MAX = 288 };
bool frame_is_woven(const struct frame *frame);

/* Splits a frame into its fields in the order they were seen by the grabber: frames higher than 288 lines are
 * two fields woven, the standard says which is older; others are one field. Returns how many (1 or 2). */
int frame_fields(const struct frame *frame, enum standard standard, struct field fields[2]);

/* A file (Matroska, Y4M, anything FFmpeg opens; names ending in .yuv or .raw are packed YUYV of the
 * standard's size). Loads the video module. */
bool video_open_file(const char *path, enum standard standard, struct video_source *source,
                     struct problem *problem);
/* Records to a file; its ending chooses: .mkv FFV1 (lossless), .y4m, .yuv or .raw packed YUYV. width, height
 * as of the frames to come. */
bool video_create_file(const char *path, int width, int height, enum standard standard,
                       struct video_sink *sink, struct problem *problem);

#endif
