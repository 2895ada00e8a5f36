/* What is set on a V4L2 device before FFmpeg opens it, and what it says of itself meanwhile: plain ioctls. */
#ifndef SLOTJIG_CAPTURE_FFMPEG_V4L2_H
#define SLOTJIG_CAPTURE_FFMPEG_V4L2_H

#include "capture/video.h"

#pragma GCC visibility push(hidden)

struct v4l2_found {
    char standard[16], detected[16], input[64];
    int width, height; /* 0: not known */
    char pixel[16];    /* FFmpeg's name; empty: none that has one */
};

/* Chooses input, standard, frequency, size and kind of pixel, in this order, since each may set back those
 * after it. Leaves the device closed: a handle that set a format may keep the others from it. */
bool v4l2_prepare(const char *path, const char *told, const struct video_request *request,
                  struct v4l2_found *found, struct problem *problem);

/* What the device says of the signal, of an open descriptor; empty when it says nothing. */
void v4l2_signal(int file, char *text, size_t size);
/* Whether the device still answers. */
bool v4l2_is_there(int file);

#pragma GCC visibility pop

#endif
