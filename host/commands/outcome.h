/* What run and judge leave behind: the report on the terminal, JSON, and the pictures in a folder. */
#ifndef SLOTJIG_COMMANDS_OUTCOME_H
#define SLOTJIG_COMMANDS_OUTCOME_H

#include "commands/keeper.h"
#include "commands/options.h"
#include "report/json.h"
#include "report/terminal.h"

#include <stdbool.h>

/* Colour only on a terminal, and not against NO_COLOR. */
struct terminal_style outcome_style(FILE *stream);
/* Verdict and findings to standard output, or to standard error when the JSON goes there; nothing with
 * --quiet. */
void outcome_tell(const struct report *report, const struct options *options);
/* --json; with --out the pictures, of which the keeper holds the field to be shown. */
bool outcome_write(const struct report *report, const struct options *options, const struct keeper *keeper,
                   struct problem *problem);

/* Removes what an earlier run or judge left in the folder: it must not stand beside another's result. Only
 * files of these names. */
void outcome_clear(const char *folder);

/* DIR/NAME in a buffer; a problem when it is too long. */
bool outcome_path(const char *folder, const char *name, char *path, size_t size, struct problem *problem);

#endif
