/* Shelves and runs for pages: invented (record/invented.h), with ids, and with the ends that a good shelf
 * does not show. */
#ifndef TESTS_PAGES_SHELF_H
#define TESTS_PAGES_SHELF_H

#include "record/invented.h"

/* As invented_new(), the runs belonging to the sweep's items. */
struct invented *pages_shelf(uint64_t seed, int consoles, int steps, int repeats);

/* Makes a run of the shelf end otherwise. cell: of its first half line, never lit from now on. */
void pages_break(struct record_run *run, int cell, struct finding *finding);
void pages_unreadable(struct record_run *run, struct finding *finding);
void pages_trouble(struct record_run *run, const char *problem);

/* Three consoles by four steps by three repeats: one passes, one is unsteady, and of the last one repeat is
 * inconclusive, one in trouble and one missing. */
enum { MIXED_STEPS = 4, MIXED_MORE = 3 };
struct mixed {
    struct invented *invented;
    struct record_run more[MIXED_MORE]; /* second attempts */
    struct step_result steps[MIXED_MORE][MIXED_STEPS];
    struct finding findings[MIXED_MORE];
    struct record_run *pointers[16];
    struct record_list runs;
};
void mixed_make(struct mixed *mixed);

/* A console's history: margins that fall from the tenth run on, and a cell lost in the last four. */
enum { AGED_RUNS = 24, AGED_STEPS = 12, AGED_BEFORE = 6, AGED_NOW = 6 };
struct aged {
    struct invented *invented;
    struct finding findings[AGED_RUNS];
};
void aged_make(struct aged *aged);

#endif
