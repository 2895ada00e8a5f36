/* Colours and delays of runs, out of their blobs: what differ.h cannot take from the records itself. */
#ifndef SLOTJIG_COMMANDS_SERIES_H
#define SLOTJIG_COMMANDS_SERIES_H

#include "base/problem.h"
#include "record/differ.h"

struct series_list {
    size_t count;
    struct series *list;
    double *values; /* of all of them */
};

/* Whether runs of such a plan have any. */
bool series_has(enum plan_kind kind);
/* A value for each run that counts. The runs need BLOBS; of plans that measure nothing the list is empty. */
bool series_of_runs(const struct record_list *before, const struct record_list *now,
                    struct series_list *series, struct problem *problem);
/* A value for each console: the mean of its runs. */
bool series_of_consoles(const struct record_list *first, const struct record_list *second,
                        struct series_list *series, struct problem *problem);
void series_free(struct series_list *series);

#endif
