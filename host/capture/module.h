/*
 * What the video module gives: FFmpeg behind two functions, in a shared object of its own, because linking
 * FFmpeg's libraries costs over 100 ms at every start. files.c loads it when video is first needed. The
 * module brings its own copy of base/ and uses no symbol of the program that loads it.
 */
#ifndef SLOTJIG_CAPTURE_MODULE_H
#define SLOTJIG_CAPTURE_MODULE_H

#include "capture/video.h"

/* Moves with every change of this file, of video.h or of struct problem. */
enum { VIDEO_MODULE_ABI = 1 };
#define VIDEO_MODULE_FILE "slotjig-video.so"
#define VIDEO_MODULE_SYMBOL "slotjig_video_module"

struct video_shape {
    int width, height;
    int rate_num, rate_den; /* frames a second */
    bool top_first;         /* which of two woven fields is the older one */
};

enum video_kind { VIDEO_MATROSKA, VIDEO_Y4M, VIDEO_RAW };

struct video_module {
    int abi; /* VIDEO_MODULE_ABI */
    /* raw: the shape of a file of bare packed YUYV frames; NULL: a file that says itself what it is. */
    bool (*open)(const char *path, const struct video_shape *raw, struct video_source *source,
                 struct problem *problem);
    bool (*create)(const char *path, enum video_kind kind, const struct video_shape *shape,
                   struct video_sink *sink, struct problem *problem);
};

extern const struct video_module slotjig_video_module;

#endif
