/* A run of a sweep whose process died, hung or could not begin: the attempt counts as bench trouble, and is
 * put on record by the sweep itself. */
#ifndef SLOTJIG_COMMANDS_SWEEP_TROUBLE_H
#define SLOTJIG_COMMANDS_SWEEP_TROUBLE_H

#include "commands/options.h"
#include "commands/run_once.h"
#include "commands/sweep_work.h"

#include <stdbool.h>
#include <stddef.h>

/* Why there is no record of it, in a line. */
void sweep_trouble_text(const struct work_end *end, char *text, size_t size);
/* Opens no board: plan and bench are made anew from the run's options. */
bool sweep_trouble_keep(const struct options *options, const struct run_place *place,
                        const struct work_end *end, const char *why, struct problem *problem);

#endif
