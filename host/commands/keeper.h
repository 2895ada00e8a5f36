/*
 * Keeps what a failing run is judged by: the frames with failing fields and the frame before each,
 * losslessly, in one file; and one field with what was read of it, for the picture of it. The copies live in
 * memory that is taken at the first frame.
 */
#ifndef SLOTJIG_COMMANDS_KEEPER_H
#define SLOTJIG_COMMANDS_KEEPER_H

#include "capture/video.h"
#include "picture/picture.h"
#include "plan/plan.h"

#include <stdbool.h>
#include <stddef.h>

enum {
    KEEPER_FRAMES_MAX = 1000,
    KEEPER_FRAMES_EVERY = 200 /* of plan `every`, in which a fault may spoil every frame */
};

/* Samples of our own: packed YUYV. */
struct kept {
    uint8_t *samples; /* NULL: nothing kept yet */
    size_t room;
    int width, height;
};

struct keeper {
    char *path; /* of the recording; NULL: only the field is kept */
    enum standard standard;
    struct video_sink sink;
    bool open;
    int width, height;    /* of the recording's frames */
    size_t written, most; /* frames */
    struct kept previous;
    bool previous_written;
    struct kept shown;        /* the first failing field, or else the first judged one */
    struct field shown_field; /* a view of it */
    struct reading shown_reading;
    bool shown_fails;
};

/* folder NULL: only the field is kept, in memory. Nothing is written to the folder before the first failing
 * frame. */
bool keeper_init(struct keeper *keeper, const char *folder, const struct plan *plan, struct problem *problem);
/* A field and what was read of it; fails: the judge found it wrong. */
bool keeper_field(struct keeper *keeper, const struct field *field, const struct reading *reading, bool fails,
                  struct problem *problem);
/* Once for each frame, after its fields; keep: one of them failed. A frame of another size than the first one
 * kept (a device that came back so) is left out. */
bool keeper_frame(struct keeper *keeper, const struct frame *frame, bool keep, struct problem *problem);
/* Ends the recording; only then it stands under its name, if anything was written. */
bool keeper_finish(struct keeper *keeper, struct problem *problem);
void keeper_free(struct keeper *keeper);

#endif
