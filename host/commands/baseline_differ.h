/* A console and a plan against the baseline that counts for them: its own, else its revision's. */
#ifndef SLOTJIG_COMMANDS_BASELINE_DIFFER_H
#define SLOTJIG_COMMANDS_BASELINE_DIFFER_H

#include "record/differ.h"
#include "record/records.h"

enum { BASELINE_DIFFER_LAST = 10 }; /* runs that are held against it when nothing is said */

/* What is held against a baseline. */
struct baseline_now {
    const char *console, *revision; /* revision "": as the console's latest run says; may be NULL likewise */
    const char *plan;               /* name */
    int64_t since_ms, until_ms; /* 0: since the baseline was made, unless `last` says how many; to the end */
    int last;                   /* the latest; 0: BASELINE_DIFFER_LAST, or with since_ms all */
    const struct record_run *run; /* this run alone, whatever the others say; NULL: as chosen above */
};

struct baseline_differ {
    struct differ *differ; /* NULL: there is no baseline */
    char plan[128];
    int64_t made_ms;
    bool of_revision; /* not the console's own */
    int64_t *before_ids, *now_ids;
    size_t before_count, now_count; /* runs, whether they count or not */
};

/* A console's revision as its latest run says; "" where none does. */
bool baseline_revision(struct records *records, const char *console, char *text, size_t size,
                       struct problem *problem);
/* Runs of the baseline are never held against it. An absent baseline is no problem. */
bool baseline_differ(struct records *records, const struct baseline_now *now, struct baseline_differ *result,
                     struct problem *problem);
void baseline_differ_free(struct baseline_differ *result);

#endif
