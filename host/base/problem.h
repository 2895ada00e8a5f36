/*
 * How errors travel: a function that can fail returns false (or NULL) and fills a struct problem.
 * Nothing below commands/ prints or exits.
 */
#ifndef SLOTJIG_BASE_PROBLEM_H
#define SLOTJIG_BASE_PROBLEM_H

#include <stdbool.h>

enum problem_kind {
    PROBLEM_NONE = 0,
    PROBLEM_INPUT, /* wrong usage or input: exit status 2 */
    PROBLEM_BENCH, /* board, device, disk or memory lost: exit status 3 */
    PROBLEM_VIDEO  /* no video, no slate, unreadable: exit status 4 */
};

struct problem {
    enum problem_kind kind;
    char text[600]; /* one line: what, where, what to do; no line break at its end */
};

/* Fills *problem (which may be NULL) and returns false, so that a failing function can `return
 * problem_set(...)`. */
bool problem_set(struct problem *problem, enum problem_kind kind, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
