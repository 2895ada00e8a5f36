/* Shared by the module's own files; none of it is seen outside the shared object. */
#ifndef SLOTJIG_CAPTURE_FFMPEG_INSIDE_H
#define SLOTJIG_CAPTURE_FFMPEG_INSIDE_H

#include "capture/module.h"

#include <libavutil/frame.h>

#pragma GCC visibility push(hidden)

bool reader_open(const char *path, const struct video_shape *raw, struct video_source *source,
                 struct problem *problem);
bool writer_create(const char *path, enum video_kind kind, const struct video_shape *shape,
                   struct video_sink *sink, struct problem *problem);

/* The text of one of FFmpeg's error codes; good until the next call. */
const char *code_text(int code);

/* From then on FFmpeg's libraries print nothing; what they would have said at level error is counted. */
void log_listen(void);
unsigned log_errors(void);

/* Whether frames of a pixel format can be shown as planes without a copy, and the showing itself. */
bool planes_fit(enum AVPixelFormat format);
void planes_view(const AVFrame *picture, struct frame *frame);

#pragma GCC visibility pop

#endif
