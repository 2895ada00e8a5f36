/* Shared by the stage's own files. */
#ifndef SLOTJIG_CAPTURE_INSIDE_H
#define SLOTJIG_CAPTURE_INSIDE_H

#include "capture/module.h"

/* How a bare frame lies in its file. */
struct raw_layout {
    const char *pixel; /* FFmpeg's name */
    int width, height;
    double rate;    /* frames a second; 0: not known */
    bool is_packed; /* YUYV; else planes, one after the other */
    bool is_grey;   /* planes: there is but one */
    int chroma_x, chroma_y;
    bool has_marks; /* a line that begins with FRAME stands before each */
    size_t begins;  /* bytes before the first */
};

/* Bare frames from a file or named pipe, read without the module. A pipe may be silent for silent_s. */
bool raw_open(const struct video_input *input, const struct raw_layout *layout, double silent_s,
              struct video_source *source, struct problem *problem);
/* Packed YUYV of a standard's size. */
struct raw_layout raw_layout_yuyv(enum standard standard);
/* What the head of a Y4M file says; false where it is none, or of a kind that only FFmpeg reads. Says
 * nothing, for FFmpeg will. */
bool raw_layout_y4m(const char *path, struct raw_layout *layout);

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
