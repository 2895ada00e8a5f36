/* What came of the repeats of one plan on one console: pure arithmetic over runs. */
#ifndef SLOTJIG_RECORD_STANDING_H
#define SLOTJIG_RECORD_STANDING_H

#include "record/record.h"

enum standing_kind {
    STANDING_OPEN,     /* not all repeats are done */
    STANDING_PASS,     /* each repeat passed at its first attempt */
    STANDING_UNSTEADY, /* a repeat passed only when tried again, or some passed and some failed: never a pass
                        */
    STANDING_FAIL,     /* no repeat passed, and one failed at least */
    STANDING_INCONCLUSIVE, /* none failed and one could not be read: no fault of the console was seen */
    STANDING_TROUBLE,      /* none failed, all could be read but for those that the bench spoiled */
    STANDING_KINDS
};

struct standing {
    enum standing_kind kind;
    int repeats;                /* asked for */
    int done;                   /* of them */
    int passed;                 /* of those done, at their first attempt */
    int attempts;               /* runs in all */
    int retried;                /* repeats that took more than one */
    double rate_low, rate_high; /* Wilson's 95 % interval of passed of done; 0..1 where none is done */
};

/* A repeat is done when it passed, or was tried 1 + retries times. It ends as a fail where any attempt did,
 * else as inconclusive, else as bench trouble. items: those of one plan and console; runs: any, of which
 * those of the items count, in any order. */
void standing_of(const struct record_item *items, size_t item_count, int retries,
                 const struct record_list *runs, struct standing *standing);
/* The same of items that were told one by one: how many of each kind there are. */
enum standing_kind standing_of_kinds(const int counts[STANDING_KINDS]);
const char *standing_name(enum standing_kind kind); /* "open", "pass", "unsteady", "fail", ... */
/* Of all of a sweep: 1 where any failed or is unsteady, else 3 for trouble or what is open, else 4, else 0.
 */
int standing_exit(const struct standing *standings, size_t count);

#endif
