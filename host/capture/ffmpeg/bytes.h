/* Bytes from an open descriptor, with every wait bounded. */
#ifndef SLOTJIG_CAPTURE_FFMPEG_BYTES_H
#define SLOTJIG_CAPTURE_FFMPEG_BYTES_H

#include "base/problem.h"

#include <libavformat/avio.h>
#include <stdbool.h>

#pragma GCC visibility push(hidden)

struct bytes {
    int file;
    bool is_pipe;
    double silent_s, until; /* until: for all there is to read while the stream is opened; 0: no longer */
    bool (*stopped)(void);
    bool was_silent, was_slow, was_stopped;
    AVIOContext *stream;
};

/* file: taken over by a successful call. */
bool bytes_open(struct bytes *bytes, int file, double silent_s, bool (*stopped)(void));
/* From now on a pipe may take its time, as long as it is not silent. */
void bytes_opened(struct bytes *bytes);
/* Whether waiting is why it failed: then problem says so. */
bool bytes_gave_up(const struct bytes *bytes, const char *told, struct problem *problem);
void bytes_close(struct bytes *bytes);

#pragma GCC visibility pop

#endif
