/* What the parts of differ.h share. Inside record/ only. */
#ifndef SLOTJIG_RECORD_DIFFER_PARTS_H
#define SLOTJIG_RECORD_DIFFER_PARTS_H

#include "record/differ.h"

/* The two groups, and the runs of each that count. */
enum { SIDE_BEFORE, SIDE_NOW, SIDES };
struct sides {
    const struct record_list *all[SIDES];
    const struct record_run **counting[SIDES]; /* could be judged */
    size_t count[SIDES];
    const struct record_plan *plan; /* NULL: there is no run at all */
    size_t step_count;
};

/* Refuses runs of more than one plan. To be closed in either case. */
bool sides_open(struct sides *sides, const struct record_list *first, const struct record_list *second,
                struct problem *problem);
void sides_close(struct sides *sides);

/* Whether the run's step was judged, and whether it was wrong then. */
bool step_judged(const struct record_run *run, size_t step);
bool step_wrong(const struct record_run *run, size_t step);
/* The cells that were certainly not the expected ones. */
uint64_t step_wrong_cells(const struct step_result *step);
/* The first quantities are those of steps. */
enum { STEP_QUANTITIES = QUANTITY_DARK_LEVEL + 1 };
/* How many of them are looked at: where the plan's own measurements are at hand, the levels are among these.
 */
int step_quantities(size_t series_count);
/* A quantity of a step that was judged; false: this run does not know it. */
bool step_quantity(const struct record_run *run, size_t step, enum quantity quantity, double *value);
/* "PF0.4 alone, copy"; "step 12" where the records were read without their plan. */
void step_name(const struct sides *sides, size_t step, char *name, size_t size);

/* Fill their part of *differ. False: out of memory. */
bool differ_changes(const struct sides *sides, struct differ *differ);
bool differ_drifts(const struct sides *sides, const struct series *more, size_t more_count,
                   struct differ *differ);

#endif
