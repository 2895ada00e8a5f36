/*
 * Keeps what a failing run is judged by: the frames with failing fields and the frame before each,
 * losslessly, in one file; and one frame with a reading of one of its fields, for the picture of it. The
 * copies live in memory that is taken at the first frame.
 */
#ifndef SLOTJIG_COMMANDS_KEEPER_H
#define SLOTJIG_COMMANDS_KEEPER_H

#include "capture/video.h"
#include "picture/picture.h"

#include <stdbool.h>
#include <stddef.h>

enum { KEEPER_FRAMES_MAX = 1000 };

/* A frame whose samples are our own: packed YUYV. */
struct kept_frame {
    struct frame frame;
    uint8_t *samples; /* NULL: nothing kept yet */
};

struct keeper {
    char *path; /* of the recording */
    enum standard standard;
    struct video_sink sink;
    bool open;
    size_t written;
    struct kept_frame previous;
    bool previous_written;
    struct kept_frame shown; /* the first frame with a failing field, or else the last judged one */
    struct field shown_field;
    struct reading shown_reading;
    bool shown_fails;
};

/* Nothing is written to the folder before the first failing frame. */
bool keeper_init(struct keeper *keeper, const char *folder, enum standard standard, struct problem *problem);
/* A field of this frame and what the judge said of it; fails: it was wrong. */
bool keeper_field(struct keeper *keeper, const struct frame *frame, const struct field *field,
                  const struct reading *reading, bool fails, struct problem *problem);
/* Once for each frame, after its fields; keep: one of them failed. */
bool keeper_frame(struct keeper *keeper, const struct frame *frame, bool keep, struct problem *problem);
/* Ends the recording; only then it stands under its name, if anything was written. */
bool keeper_finish(struct keeper *keeper, struct problem *problem);
void keeper_free(struct keeper *keeper);

#endif
