/* One run on one bench, from its options to its record: what `run` does, and `sweep` over and over. */
#ifndef SLOTJIG_COMMANDS_RUN_ONCE_H
#define SLOTJIG_COMMANDS_RUN_ONCE_H

#include "commands/options.h"
#include "record/record.h"

/* What a run belongs to beyond its bench. */
struct run_place {
    const struct record_console *console; /* NULL: as bench and options say */
    int64_t item;                         /* of a sweep; 0: of none */
    int attempt;                          /* from 1 */
    double minutes_on;                    /* below 0: as the options say */
    int64_t *run;                         /* where its record_run.id goes, 0 of none; NULL: nobody asks */
};

/* The exit status: everything was told, written and (unless options->no_record) recorded. place NULL: of its
 * own. */
int run_once(const struct options *options, const struct run_place *place);

#endif
