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
    uint64_t time_us;       /* when it was taken, by the source's own clock; 0: it does not say */
};

enum next {
    NEXT_FRAME,
    NEXT_NOTHING, /* live sources only: no frame within VIDEO_WAIT_MS; ask again, or give up */
    NEXT_END,     /* the source has no more */
    NEXT_ERROR,   /* problem is filled; ask no more */
    NEXT_GONE     /* live sources only: the device is gone; problem is filled; ask no more */
};
enum { VIDEO_WAIT_MS = 500 };

/* What became of a source's buffers so far. */
struct video_counts {
    uint64_t delivered; /* frames that next() gave */
    uint64_t lost;      /* gaps in the device's own clock, in frames */
    uint64_t empty;     /* buffers with nothing in them */
    uint64_t broken;    /* marked as bad by the device, shorter than a frame, or not decodable */
    uint64_t repeated;  /* the same picture again, sample for sample, or with the same time */
    uint64_t overrun;   /* frames dropped since the judge was slower than the device */
    uint64_t gone;      /* times the device went away and came back */
};

/* What a source says of itself. Texts are cut to fit. */
struct video_about {
    char kind[16];     /* "file", "pipe", "virtual", or the device's kind: "v4l2" */
    char name[256];    /* path, device, or the virtual grabber's set */
    char format[64];   /* codec and kind of pixel, as in "mjpeg yuvj422p" */
    char standard[16]; /* the device's own word: "NTSC"; empty: it does not say */
    char input[64];    /* the device's input in use; empty: it has none, or does not say */
    char signal[32];   /* the device's own word: "locked", "no signal", "no lock"; empty: it does not say */
    char detected[16]; /* the standard the device finds in the signal; empty: it does not say */
    int width, height;
    double rate; /* frames a second as the source tells it; 0: it does not */
    bool live;
    bool untried; /* a kind of device that this program was never run with */
};

struct video_source {
    void *state;
    /* The next frame. Never blocks longer than the source's own bound. */
    enum next (*next)(void *state, struct frame *frame, struct problem *problem);
    void (*close)(void *state); /* frees state */
    /* Either may be NULL where nothing is wanted; the member itself may be NULL: then nothing is known. */
    void (*tell)(void *state, struct video_about *about, struct video_counts *counts);
};

/* tell() of any source; zeroes where it has none. */
void video_tell(const struct video_source *source, struct video_about *about, struct video_counts *counts);

/* Writes frames. Nothing stands under the final name before finish() has returned true; close() without
 * finish() leaves no file. */
struct video_sink {
    void *state;
    bool (*write)(void *state, const struct frame *frame, struct problem *problem);
    bool (*finish)(void *state, struct problem *problem);
    void (*close)(void *state); /* frees state; after a finish() or instead of it */
};

/* One field of a frame: a view into the frame, good as long as the frame is. Of 4:2:0 it is taken that a
 * woven frame was sampled field by field, so that chroma lines belong to the fields in turn, as interlaced
 * video has it [S ITU-T H.262 6.1.1.8]. Where it was sampled as one picture, each chroma line is a mean of
 * both fields: the colours of two pictures mixed, at most two lines off. Nothing in the samples tells which
 * it was; level and place of the luma do not depend on it. */
struct field {
    const uint8_t *luma; /* sample (x, y) is luma[y * stride + x * step] */
    ptrdiff_t stride;
    int step;
    struct plane cb, cr; /* sample (x, y) is data[(y >> chroma_y) * stride + (x >> chroma_x) * step]; data
                            NULL: no colour */
    int chroma_x, chroma_y;
    int width, height; /* height in lines of the field */
    int parity;        /* 0: top lines (or upper half) of the frame, 1: bottom */
    int frame_lines;   /* lines of the frame a line of the field stands for: 2 woven, 1 else */
    uint64_t frame_number;
};

/* Lines of a field of the taller standards [S ITU-R BT.601: 576 a frame]; a higher frame holds more than a
 * field. */
enum { FIELD_LINES_MAX = 288 };

/* How two fields lie in a frame. */
enum split {
    SPLIT_NONE,   /* the frame is one field */
    SPLIT_WOVEN,  /* line by line */
    SPLIT_STACKED /* one above the other */
};
/* Fields by their place in the frame: the top one, or the upper half, is fields[0]. Returns how many. */
int frame_split(const struct frame *frame, enum split split, struct field fields[2]);

/* Where video comes from, and how. Borrowed; nothing is kept. */
struct video_request {
    /* `file:PATH` or a plain path (Matroska, Y4M, anything FFmpeg opens; names ending in .yuv or .raw are
     * packed YUYV of the standard's size); `-` or `pipe:N` (N: an open descriptor); `v4l2:/dev/video0`;
     * `KIND:NAME` for any other device that this FFmpeg's libavdevice knows. */
    const char *where;
    enum standard standard;
    const char *input; /* of a device: its number or name; NULL or "": as it stands */
    int width, height; /* of a device's frames; 0: as it stands */
    const char *pixel; /* of a device: FFmpeg's name of a codec or kind of pixel ("mjpeg", "yuyv422"); NULL or
                          "": as it stands */
    double frequency_mhz; /* of a device with a tuner: the picture carrier; 0: as it stands */
    double wait_s; /* how long a device that went away is waited for; 0: not at all, NEXT_GONE at once. Of a
                      pipe: how long it may be silent; 0: VIDEO_PIPE_SILENT_S */
    int threads;   /* for decoding and reading ahead; 0: as many as help, 1: none beside the caller's */
};
enum { VIDEO_PIPE_SILENT_S = 5 };
/* Opens it. A device gives NEXT_GONE only after it was waited for; coming back is counted, and told as
 * NEXT_NOTHING meanwhile. Frames of a live device are read by a thread of their own into a bounded queue. */
bool video_open(const struct video_request *request, struct video_source *source, struct problem *problem);
/* Whether a text names a live device rather than a file or pipe. */
bool video_is_live(const char *where);

/* Records to a file; its ending chooses: .mkv FFV1 (lossless), .y4m, .yuv or .raw packed YUYV. width, height
 * as of the frames to come. */
bool video_create_file(const char *path, int width, int height, enum standard standard,
                       struct video_sink *sink, struct problem *problem);

#endif
