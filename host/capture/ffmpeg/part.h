/* A file that gets its final name only when it is whole. */
#ifndef SLOTJIG_CAPTURE_FFMPEG_PART_H
#define SLOTJIG_CAPTURE_FFMPEG_PART_H

#include "base/problem.h"

#include <libavformat/avio.h>
#include <stdbool.h>

#pragma GCC visibility push(hidden)

struct part {
    char *path, *temporary;
    int file;  /* -1: closed */
    int error; /* errno of the first write that failed; 0 none */
    AVIOContext *stream;
};

/* PROBLEM_INPUT when it cannot be created there. */
bool part_create(struct part *part, const char *path, struct problem *problem);
/* Whether all that was written so far went well; PROBLEM_BENCH else. */
bool part_check(const struct part *part, struct problem *problem);
/* Everything to the disk, and the final name. PROBLEM_BENCH when it fails. */
bool part_finish(struct part *part, struct problem *problem);
/* Frees all; removes the file when it was not finished. */
void part_close(struct part *part);

#pragma GCC visibility pop

#endif
