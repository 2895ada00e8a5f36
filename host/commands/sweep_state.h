/* How far a sweep is. Nothing is kept of that but its runs in the store: an item is done when they say so.
 * The store is open only within a call, so that a process may be forked between two of them. */
#ifndef SLOTJIG_COMMANDS_SWEEP_STATE_H
#define SLOTJIG_COMMANDS_SWEEP_STATE_H

#include "base/problem.h"
#include "commands/sweep_ready.h"
#include "record/records.h"
#include "record/standing.h"

#include <stdbool.h>

struct sweep_item_state {
    int attempts;
    bool passed;
    bool spoiled; /* all of them bench trouble */
    enum record_end latest;
};

struct sweep_state {
    const struct sweep_ready *ready;
    const char *store;          /* NULL: the default one */
    struct record_sweep *sweep; /* as it is in the store: its items are the ready one's, in the same order */
    bool found;                 /* it was begun before */
    struct sweep_item_state *items;
    size_t done;      /* items */
    int64_t after_id; /* runs up to here have been looked at */
    struct {
        int64_t id;
        size_t item;
    } * by_id; /* in the order of the ids */
};

/* Finds the latest sweep of the same definition that is not done, or puts a new one into the store; anew:
 * always that. other: a sweep of that name that had other plans, consoles or settings, or 0. */
bool sweep_state_open(struct sweep_state *state, const struct sweep_ready *ready, const char *store,
                      bool anew, int64_t *other, struct problem *problem);
/* Takes in what runs have been recorded since. */
bool sweep_state_look(struct sweep_state *state, struct problem *problem);
bool sweep_state_done(const struct sweep_state *state, size_t item);
void sweep_state_free(struct sweep_state *state);

#endif
