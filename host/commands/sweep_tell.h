/* What a sweep says: the table before it starts, and what came of it, as a matrix for people and as JSON. */
#ifndef SLOTJIG_COMMANDS_SWEEP_TELL_H
#define SLOTJIG_COMMANDS_SWEEP_TELL_H

#include "commands/sweep_ready.h"
#include "commands/sweep_state.h"
#include "record/suites.h"

#include <jansson.h>
#include <stdio.h>

/* What is about to be done. */
void sweep_tell_table(FILE *stream, const struct sweep_ready *ready, const struct sweep_state *state);

/* All that came of it. */
struct sweep_outcome {
    const struct sweep_ready *ready;
    const struct sweep_state *state;
    const struct record_list *runs; /* the sweep's, with findings */
    struct suites *suites;          /* one of each cell of sweep_ready */
    struct standing *standings;     /* likewise */
    size_t left;                    /* runs that are still to be done, retries not counted */
    int exit;
    bool anew; /* it was begun with --anew, which would begin another one */
};
bool sweep_outcome_make(struct sweep_outcome *outcome, struct problem *problem);
void sweep_outcome_free(struct sweep_outcome *outcome);

void sweep_tell_matrix(FILE *stream, const struct sweep_outcome *outcome);
json_t *sweep_json(const struct sweep_outcome *outcome);

#endif
