/* Shared by the module's own files; none of it is seen outside the shared object. */
#ifndef SLOTJIG_CAPTURE_FFMPEG_INSIDE_H
#define SLOTJIG_CAPTURE_FFMPEG_INSIDE_H

#include "capture/module.h"

#include <libavcodec/avcodec.h>
#include <libavutil/frame.h>

#pragma GCC visibility push(hidden)

/* Files and pipes. */
bool reader_open(const struct video_input *input, const struct video_request *request,
                 struct video_source *source, struct problem *problem);
/* Live devices. */
bool device_open(const struct video_input *input, const struct video_request *request,
                 struct video_source *source, struct problem *problem);
bool writer_create(const char *path, enum video_kind kind, const struct video_shape *shape,
                   struct video_sink *sink, struct problem *problem);

/* The text of one of FFmpeg's error codes; good until this thread's next call. */
const char *code_text(int code);

/* From then on FFmpeg's libraries print nothing; what they say is listened to. */
void log_listen(void);

/* Packets are numbered across all decoders, so that a complaint of any decoder's thread finds its packet. */
uint64_t log_packet(void);
/* Whether a decoder complained about a packet, one of the last thousand or so. */
bool log_complained(uint64_t packet);

/* What FFmpeg's V4L2 input said in this thread since the last call, which is the only way to learn it. */
enum buffer_trouble { BUFFER_FINE, BUFFER_EMPTY, BUFFER_SHORT, BUFFER_MARKED };
enum buffer_trouble log_buffer_trouble(void);
/* The descriptor it opened last in this thread; -1 when it did not say. */
int log_device_file(void);

/* Whether frames of a pixel format can be shown as planes without a copy, and the showing itself. */
bool planes_fit(enum AVPixelFormat format);
void planes_view(const AVFrame *picture, struct frame *frame);

#pragma GCC visibility pop

#endif
