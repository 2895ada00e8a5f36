/* What came of a lot: its tests by serial, counted. Pure arithmetic over ships. */
#ifndef SLOTJIG_RECORD_LOT_H
#define SLOTJIG_RECORD_LOT_H

#include "record/ships.h"
#include "stats/stats.h"

enum { LOT_CAUSE_MAX = 48 };

/* A cartridge. What counts is its last test that ended in a verdict; where none did, its last test. */
struct lot_entry {
    const struct ship *counts;
    const struct ship *first; /* its first test with a verdict; NULL: none */
    int tests;                /* in all */
};

/* Why cartridges failed: a kind of finding, or a limit that was not held without any finding. */
struct lot_cause {
    char name[LOT_CAUSE_MAX]; /* "cartridge_slow", "limit of margin", "no cause named" */
    size_t first;             /* failed cartridges of which it is the first named: these add up to all */
    size_t any;               /* of which it is named at all */
};

/* A figure over the cartridges that count with a verdict. */
struct lot_figure {
    const char *name, *unit;
    bool at_least;
    double limit_low, limit_high; /* of their tests; the same where the limits were never changed */
    size_t count;                 /* known */
    size_t beyond;                /* of them, not within their limit */
    double *values;               /* in the order of the entries */
};

struct lot {
    size_t tests;     /* of all serials */
    size_t rehearsed; /* of them, on a virtual bench */
    size_t count;
    struct lot_entry *entries; /* by serial */
    size_t by_end[RECORD_ENDS];
    size_t tested, passed, first_passed; /* with a verdict; of them passed; of them at the first verdict */
    struct interval yield, first_yield;  /* 95 % */
    size_t again;                        /* serials with more than one verdict */
    size_t cause_count;
    struct lot_cause *causes; /* the most frequent first */
    size_t figure_count;
    struct lot_figure *figures; /* in the order in which they first come */
};

/* ships must outlive it. NULL: memory is short. */
struct lot *lot_make(const struct ship_list *ships);
void lot_free(struct lot *lot); /* NULL: nothing */

#endif
