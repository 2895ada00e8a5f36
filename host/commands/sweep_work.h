/*
 * A sweep at work: which run goes on which bench next, each in a process of its own, one at a time on a
 * bench; and which console must be put in before. Knows no plan and no store: those come by the functions
 * below.
 *
 * A person's wish to stop (Ctrl-C) ends the runs at work, which are then not on record; `stop`, and the end
 * of the answers, let them end by themselves. What is not done can be done later.
 */
#ifndef SLOTJIG_COMMANDS_SWEEP_WORK_H
#define SLOTJIG_COMMANDS_SWEEP_WORK_H

#include "base/problem.h"
#include "commands/sweep_ask.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { WORK_SAID_MAX = 400, WORK_TROUBLES = 3 };

/* How a run's process ended. */
enum work_how {
    WORK_EXITED, /* with `status` */
    WORK_KILLED, /* by the signal `status` */
    WORK_HUNG    /* it was ended after `status` seconds */
};
struct work_end {
    enum work_how how;
    int status;
    bool interrupted; /* a person asked for the end meanwhile */
    int64_t started_ms, took_ms;
    double minutes_on;
    char said[WORK_SAID_MAX]; /* the last line that it wrote to standard error, without "slotjig: " */
};

struct work_bench {
    const char *name;
    bool asks;            /* a console must be put in before its first run */
    size_t first, behind; /* its items */
};

struct work {
    size_t bench_count;
    const struct work_bench *benches;
    bool attended; /* a run may speak with the person at the terminal */
    double patience_s;
    void *user;
    /* Of an item: the console's name; how long a run may take. */
    const char *(*console)(void *user, size_t item);
    double (*bound_s)(void *user, size_t item);
    /* Whether it needs no further run; how many it had. */
    bool (*done)(void *user, size_t item, int *attempts);
    /* Whether one that is done came to bench trouble alone; NULL: none does. After WORK_TROUBLES in a row its
     * bench does no more, so that what is left can be done when the bench is well again. */
    bool (*spoiled)(void *user, size_t item);
    /* In the run's own process: its exit status. */
    int (*run)(void *user, size_t item, int attempt, double minutes_on);
    /* That process has ended, and none is being started. Sees to it that the attempt counts. False ends the
     * sweep. */
    bool (*ended)(void *user, size_t item, int attempt, const struct work_end *end, struct problem *problem);
    /* Called now and then; items: of each bench what is at work, or -1. May be NULL. */
    void (*show)(void *user, const long *items);
};

/* Why it ended before everything was done. */
enum work_stop {
    WORK_ALL_DONE,
    WORK_LEFT,     /* consoles were skipped, or nobody put them in, or a bench was in trouble */
    WORK_STOPPED,  /* `stop`, or no more answers */
    WORK_SIGNALLED /* Ctrl-C and its like */
};

/* Within stop_catch(). False: a problem ended it. */
bool work_do(const struct work *work, struct ask *ask, enum work_stop *why, struct problem *problem);

#endif
