/* Runs sorted by plan and console: the repeats of one plan on one console are a suite. */
#ifndef SLOTJIG_RECORD_SUITES_H
#define SLOTJIG_RECORD_SUITES_H

#include "record/record.h"
#include "record/standing.h"

struct suite {
    const char *plan;              /* of a sweep what was asked for, else the plan's name */
    struct record_console console; /* as its latest run describes it, else as the sweep does */
    int retries;
    size_t item_count;
    struct record_item *items; /* of runs without a sweep an item is made up for each */
    size_t run_count;
    struct record_run *runs; /* copies that borrow texts, steps and findings; those of items[i] are
                                runs[first[i]] to runs[first[i + 1] - 1], by attempt. `end` may be changed and
                                suite_stand() asked again. */
    size_t *first;
};
struct suites {
    size_t count;
    struct suite *list; /* in the order of the sweep's items, or of the runs */
};

/* sweep NULL: each run is a repeat of its own, and plans are told apart by their ids. Of a sweep only its
 * runs count. The sweep and the runs must outlive what is made. NULL where memory is short. */
struct suites *suites_make(const struct record_sweep *sweep, const struct record_list *runs);
void suites_free(struct suites *suites); /* NULL: nothing */

/* What standing_of() says of the suite's items and runs, in the time of one walk. */
void suite_stand(const struct suite *suite, struct standing *standing);

#endif
