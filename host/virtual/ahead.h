/*
 * A virtual bench that runs ahead of who watches it: the console some fields, the grabber some frames, each
 * in a thread of its own where that is wanted. How far the console is ahead follows from the frames given
 * alone, so whatever happens between two frames finds it at the same field whatever the threads.
 */
#ifndef SLOTJIG_VIRTUAL_AHEAD_H
#define SLOTJIG_VIRTUAL_AHEAD_H

#include "base/problem.h"
#include "capture/video.h"
#include "virtual/bench.h"
#include "virtual/grabber.h"
#include "virtual/tia.h"

struct ahead_bench {
    struct grabber *grabber; /* nobody else's meanwhile */
    long frozen_after;       /* fields after which the video freezes; -1: never */
    /* The console's next field, or NULL: no signal. Good until the next call. */
    const struct tia_field *(*field)(void *user);
    void *user;
};

struct ahead;
/* Nothing runs before the first frame is asked for. PROBLEM_BENCH: out of memory, or no thread to be had. */
struct ahead *ahead_new(const struct ahead_bench *bench, bool threads, struct problem *problem);
/* At any time; waits for the field and the frame under way. */
void ahead_free(struct ahead *ahead);

/* The frame is good until the next call. False: as grabber_frame(). */
bool ahead_frame(struct ahead *ahead, struct frame *frame, struct problem *problem);
/* Fields of the console that went into the frames given so far. */
uint64_t ahead_fields(const struct ahead *ahead);
/* Waits until the console is as far ahead as it may be; it stands still then until the next frame is asked
 * for. */
void ahead_rest(struct ahead *ahead);

#endif
