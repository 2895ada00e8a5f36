/* A sweep, sorted for its page: plans by consoles, each with its items and runs. Inside report/ only. */
#ifndef SLOTJIG_REPORT_HTML_SHELF_H
#define SLOTJIG_REPORT_HTML_SHELF_H

#include "record/suites.h"

/* One plan on one console. */
struct shelf_place {
    const struct suite *suite; /* its items and runs; without any where it was not asked for */
    struct standing standing;
    double margin; /* the worst of its runs; NaN: none */
};

struct shelf {
    size_t plan_count, console_count;
    const char **plans;
    const struct record_console **consoles; /* each as its first item has it */
    struct shelf_place *places;             /* [plan * console_count + console] */
    size_t standing_count[STANDING_KINDS];  /* places of each */
    struct suites *suites;
};

/* NULL: out of memory. Borrows sweep and runs. */
struct shelf *shelf_new(const struct record_sweep *sweep, const struct record_list *runs);
void shelf_free(struct shelf *shelf);
const struct shelf_place *shelf_place(const struct shelf *shelf, size_t plan, size_t console);
#endif
