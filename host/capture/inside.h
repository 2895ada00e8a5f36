/* Shared by the stage's own files. */
#ifndef SLOTJIG_CAPTURE_INSIDE_H
#define SLOTJIG_CAPTURE_INSIDE_H

#include "capture/module.h"

/* Bare packed YUYV frames from a file or named pipe, read without the module. A pipe may be silent for
 * silent_s. */
bool raw_open(const struct video_input *input, const struct video_shape *shape, double silent_s,
              struct video_source *source, struct problem *problem);

/* Counts what a source delivers, and the frames that repeat the one before. The source's frames must stay
 * good until the next but one call of its next(). counted_wrap() takes both over; free() of what was not
 * wrapped. */
struct counted;
struct counted *counted_new(void);
void counted_wrap(struct counted *counted, struct video_source *source);

/* Opens a live device, and opens it anew when it went away. */
struct live_opener {
    void *state;
    bool (*open)(void *state, struct video_source *source, struct problem *problem);
    void (*close)(void *state); /* frees state */
};
/* A device behind a thread of its own and a bounded queue. Takes the opener over, whatever comes of it. The
 * inner next() is called by that thread alone and must come back within a second or so; inner frames are
 * copied before the next call. told: the device, for messages. */
bool live_open(const struct live_opener *opener, const char *told, double wait_s, struct video_source *source,
               struct problem *problem);

#endif
