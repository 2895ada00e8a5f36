/* --against FILE: a measuring run held against an earlier result of the same plan. */
#ifndef SLOTJIG_COMMANDS_AGAINST_H
#define SLOTJIG_COMMANDS_AGAINST_H

#include "commands/options.h"
#include "report/json.h"

struct against; /* NULL: not asked for */

/* Reads the file before anything is shown: PROBLEM_INPUT where it is not of this plan and standard. *against
 * is NULL without the option. */
bool against_open(const struct options *options, const struct plan *plan, struct against **against,
                  struct problem *problem);
void against_free(struct against *against);

/* Works out what differs and returns the run's exit status, which is its own but for a pass that differs: 1.
 * Adds `against` to more. */
int against_conclude(struct against *against, const struct result *result, const char *bench, int status,
                     json_t *more);
/* To the terminal, and with --out difference.txt, .csv and .svg. */
bool against_tell(const struct against *against, const struct options *options, struct problem *problem);

#endif
