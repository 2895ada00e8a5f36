/*
 * The loop that run and judge share: frames from a source, to fields, to readings, to the judge.
 */
#ifndef SLOTJIG_COMMANDS_SESSION_H
#define SLOTJIG_COMMANDS_SESSION_H

#include "capture/video.h"
#include "commands/keeper.h"
#include "picture/frames.h"
#include "verdict/verdict.h"

#include <stdbool.h>

enum {
    SESSION_ROUNDS_MAX = 3, /* of the plan that a live source is watched before steps that are still owed are
                               given up */
    SESSION_SILENCE_S = 10  /* without a frame, before a live source counts as one without video */
};

/* How a console is told what to show next. Called between frames; never blocks longer than a message takes.
 */
struct session_feed {
    void *user; /* NULL: the console goes through the plan by itself */
    /* Offers values that the judge owes. *taken of them were taken, from the first on: fewer where the queue
     * is full. False: the board was lost. */
    bool (*offer)(void *user, const uint32_t *values, size_t count, size_t *taken, struct problem *problem);
};

struct session {
    const struct plan *plan;
    struct session_feed feed;
    uint16_t hash;
    int hold;              /* fields a step is shown; 0: a file, read to its end */
    int dark;              /* fields without a picture that the image begins with */
    double silence_s;      /* 0: SESSION_SILENCE_S; longer than the source itself waits for a lost device */
    struct keeper *keeper; /* may be NULL */
    bool progress;         /* on standard error */
    /* Filled by session_run(): */
    struct judge *judge;
    struct frames *frames;
    struct video_about about;
    struct video_counts counts;  /* since session_run() began */
    bool stopped;                /* a person asked for the end */
    const struct result *result; /* NULL when the loop could not start */
};

/* False when the loop could not start, or the source or the disk was lost on the way: the result then holds
 * what was seen until then. Ctrl-C ends it early and is no failure. */
bool session_run(struct session *session, const struct video_source *source, struct problem *problem);
void session_free(struct session *session);

/* Of so many fields that a source gave, those that took the console's time: what is shown again takes none.
 * At least a quarter of them, so that a frozen source comes to an end too. */
uint64_t session_passed(uint64_t fields, const struct frames_facts *facts);

#endif
