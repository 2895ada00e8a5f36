/* What is asked of a sweep, looked at before anything is shown: every bench, plan and image is made once, so
 * that what cannot work is said at the start; then the items of the work, in their order, and the canonical
 * text that tells whether two sweeps are the same. */
#ifndef SLOTJIG_COMMANDS_SWEEP_READY_H
#define SLOTJIG_COMMANDS_SWEEP_READY_H

#include "commands/sweep_file.h"
#include "record/record.h"

#include <stdbool.h>
#include <stddef.h>

struct sweep_bench {
    char name[BENCH_NAME_MAX];
    bool asks; /* its consoles are put in one after another */
    bool is_virtual;
    size_t consoles;
    size_t first, behind; /* its items */
    double seconds;       /* of video, when each run passes at once */
};

/* A console as it is swept. */
struct sweep_seat {
    struct sweep_console console; /* all of it filled, whether the file or the bench says so */
    struct record_console record; /* borrows its texts */
    struct options options;       /* of its runs, but for plan and seed */
    bool is_virtual;
};

/* One plan on one console. */
struct sweep_cell {
    size_t plan; /* of sweep_wanted.plans */
    size_t seat;
    size_t first; /* of its items: one for each repeat */
    enum standard standard;
    int hold;
    double seconds;           /* of video in one run: a round of the plan */
    double bound_s;           /* that a run may take before it counts as hung */
    char sha[RECORD_ID_TEXT]; /* of the plan's text */
};

struct sweep_ready {
    const struct sweep_wanted *wanted;
    uint64_t seed; /* of the first item's first attempt */
    size_t bench_count, seat_count, cell_count;
    struct sweep_bench *benches;
    struct sweep_seat *seats;  /* in the order of the work */
    struct sweep_cell *cells;  /* likewise: by bench, console, plan */
    struct record_sweep sweep; /* not in a store yet */
};

/* wanted and options must outlive it. Tells on standard error what is about to flash. sweep_ready_free() also
 * after a failure. */
bool sweep_ready_make(const struct sweep_wanted *wanted, const struct options *options,
                      struct sweep_ready *ready, struct problem *problem);
void sweep_ready_free(struct sweep_ready *ready);

const struct sweep_cell *sweep_cell_of(const struct sweep_ready *ready, size_t item);
/* Whether the plan is another one by now: its file was changed. */
bool sweep_plan_changed(const struct sweep_ready *ready, size_t item);
/* Options of an attempt at an item; on a virtual bench with a seed that no other has. */
struct options sweep_run_options(const struct sweep_ready *ready, size_t item, int attempt);

#endif
