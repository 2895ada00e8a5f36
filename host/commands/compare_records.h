/* `compare` over records: a console, or all of a revision, against their baselines; two groups of consoles.
 */
#ifndef SLOTJIG_COMMANDS_COMPARE_RECORDS_H
#define SLOTJIG_COMMANDS_COMPARE_RECORDS_H

#include "commands/options.h"

/* Exit statuses. */
int compare_with_baseline(const struct options *options);
int compare_groups(const struct options *options);

#endif
