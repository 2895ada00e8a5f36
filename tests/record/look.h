/* A store held against what was put into it: clean, nothing lost, each run whole, and ready for the next. */
#ifndef TESTS_RECORD_LOOK_H
#define TESTS_RECORD_LOOK_H

#include "record/filling.h"

struct look_for {
    const struct filling *filling;
    bool runs[FILLING_RUNS];         /* that must be there; others may be */
    const struct record_list *older; /* runs that must be there beside those of the filling, in their order */
    bool batches;                    /* of the filling's batches all runs or none must be there */
    bool sweep, baseline;            /* must be there */
    size_t ships;                    /* likewise, of the two of shipped.h */
};
struct look_found {
    bool runs[FILLING_RUNS];
    size_t more; /* runs that were there, whole, and need not be */
    char why[800];
};

/* Opens the store at path for writing, looks at all of it, and puts a run. On false, found->why says what is
 * wrong. */
bool look_at_store(const char *path, const struct look_for *what, struct look_found *found);

#endif
