/*
 * What the video module gives: FFmpeg behind two functions, in a shared object of its own, because linking
 * FFmpeg's libraries costs over 100 ms at every start. module.c loads it when video is first needed. The
 * module brings its own copy of base/ and uses no symbol of the program that loads it.
 */
#ifndef SLOTJIG_CAPTURE_MODULE_H
#define SLOTJIG_CAPTURE_MODULE_H

#include "capture/video.h"

/* Moves with every change of this file, of video.h or of struct problem. */
enum { VIDEO_MODULE_ABI = 2 };
#define VIDEO_MODULE_FILE "slotjig-video.so"
#define VIDEO_MODULE_SYMBOL "slotjig_video_module"

struct video_shape {
    int width, height;
    int rate_num, rate_den; /* frames a second */
    bool top_first;         /* which of two woven fields is the older one */
};

enum video_kind { VIDEO_MATROSKA, VIDEO_Y4M, VIDEO_RAW };

/* What video_open() found out of the text it was given. */
struct video_input {
    char kind[16];         /* of a device: FFmpeg's name of its kind; else empty */
    const char *name;      /* path, or the device's name */
    const char *told;      /* the text as it was given, for messages */
    int file;              /* a descriptor to read from, taken over by a successful open; -1: by name */
    bool (*stopped)(void); /* ends a wait early */
};

struct video_module {
    int abi; /* VIDEO_MODULE_ABI */
    /* A frame stays good until the next but one call of next(), a device's only to the next. A device's
     * next() never waits longer than VIDEO_WAIT_MS; NEXT_GONE when it went away: whoever waits for it opens
     * it anew. Of its counts the module leaves `delivered`, `repeated`, `overrun` and `gone` to the caller.
     */
    bool (*open)(const struct video_input *input, const struct video_request *request,
                 struct video_source *source, struct problem *problem);
    bool (*create)(const char *path, enum video_kind kind, const struct video_shape *shape,
                   struct video_sink *sink, struct problem *problem);
};

extern const struct video_module slotjig_video_module;

/* The module, loaded if it was not yet; NULL with a problem. */
const struct video_module *video_module_load(struct problem *problem);

/* The shape of bare frames of a standard. */
struct video_shape video_shape_of(enum standard standard);
/* By the ending of a name; false when it is none of the kinds. */
bool video_kind_of(const char *path, enum video_kind *kind);

#endif
