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
    SESSION_ROUNDS_EVERY = 6, /* the same of plan `every`, whose fields show each picture once a round: with 5
                                 % of them lost one run in 13 still owes something after four rounds, one in
                                 5,000 after six [A] */
    SESSION_ROUNDS_FED = 2,   /* and where the console is told what to show; then what is owed, twice */
    SESSION_HOLD_BLENDED = 3, /* fields a base must be shown for where two that follow each other are mixed:
                                 however they are paired, one pair is of that base alone */
    SESSION_UNJUDGED_MAX = 7200, /* fields, two minutes, without a judged one, before the rest is given up: a
                                    round of plan `every` takes longer than that */
    SESSION_ROUNDS_CHECK = 12,   /* rounds of plan `cartridge`, beyond those wanted, for items that were lost:
                                    with half of the fields lost one in 1,000 is owed then [A] */
    SESSION_STARTS = 600,        /* fields in which a console must have started from its cartridge */
    SESSION_PULLED = 240,  /* fields without the check's slate, after there was one: a console that begins
                              anew is back long before */
    SESSION_SILENCE_S = 10 /* without a frame, before a live source counts as one without video */
};

/* What became of values that were offered. */
struct session_queue {
    size_t taken;   /* of them, from the first on: fewer where there is no room */
    size_t waiting; /* in all, those that the console has not come to yet */
};

/* How a console is told what to show next. Called between frames; never blocks longer than a message takes.
 */
struct session_feed {
    void *user; /* NULL: the console goes through the plan by itself */
    /* Offers values that the judge owes. False: the board was lost. */
    bool (*offer)(void *user, const uint32_t *values, size_t count, struct session_queue *queue,
                  struct problem *problem);
};

/* Why a run must begin anew. */
enum session_again {
    AGAIN_NOT,
    AGAIN_LINES, /* plan `every`: the grabber mixes lines: judge_repeat_wanted() */
    AGAIN_HOLD   /* (of plan `cartridge` too) it mixes fields that follow each other: SESSION_HOLD_BLENDED */
};

struct session {
    const struct plan *plan;
    struct session_feed feed;
    uint16_t hash;
    int hold;              /* fields a step is shown; 0: a file, read to its end */
    int dark;              /* fields of a dark picture before the first step */
    int rounds;            /* of plan `cartridge`; 0: until told */
    double seconds;        /* of plan `cartridge`, of the console's time; 0: no bound */
    double silence_s;      /* 0: SESSION_SILENCE_S; longer than the source itself waits for a lost device */
    struct keeper *keeper; /* may be NULL */
    bool progress;         /* on standard error */
    bool may_lines, may_hold; /* it ends as soon as one of these is so */
    /* Filled by session_run(): */
    struct judge *judge;
    struct frames *frames;
    struct video_about about;
    struct video_counts counts; /* since session_run() began */
    enum session_again again;
    bool fed;                    /* values were taken from the feed */
    bool stopped;                /* a person asked for the end */
    const struct result *result; /* NULL when the loop could not start */
};

/* False when the loop could not start, or the source or the disk was lost on the way: the result then holds
 * what was seen until then. Ctrl-C ends it early and is no failure. */
bool session_run(struct session *session, const struct video_source *source, struct problem *problem);
/* Whether a person ended it before every picture had its fields; the problem says how far it was. */
bool session_was_stopped(const struct session *session, struct problem *problem);
void session_free(struct session *session);

/* Of so many fields that a source gave, those that took the console's time: what is shown again takes none.
 * At least a quarter of them, so that a frozen source comes to an end too. */
uint64_t session_passed(uint64_t fields, const struct frames_facts *facts);

#endif
