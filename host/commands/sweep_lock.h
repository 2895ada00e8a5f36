/* Nobody does a sweep twice at once: whoever works on it, and the run at work, hold a lock, which ends with
 * them however they end. It is a file beside the store. */
#ifndef SLOTJIG_COMMANDS_SWEEP_LOCK_H
#define SLOTJIG_COMMANDS_SWEEP_LOCK_H

#include "base/problem.h"

#include <stdbool.h>
#include <stdint.h>

struct sweep_lock {
    int file; /* -1: none */
    char path[4200];
};

enum { SWEEP_LOCK_WAIT_S = 5 }; /* for a run that the end of its sweep has not reached yet */

/* PROBLEM_BENCH where another one has it. */
bool sweep_lock_take(struct sweep_lock *lock, const char *store, int64_t sweep, struct problem *problem);
void sweep_lock_give(struct sweep_lock *lock);

#endif
