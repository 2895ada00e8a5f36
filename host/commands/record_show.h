/* A run that was kept, as `run` told it. */
#ifndef SLOTJIG_COMMANDS_RECORD_SHOW_H
#define SLOTJIG_COMMANDS_RECORD_SHOW_H

#include "base/problem.h"
#include "record/record.h"
#include "report/terminal.h"

/* The run has all of its parts. */
bool record_show(FILE *stream, const struct record_run *run, struct terminal_style style,
                 struct problem *problem);

#endif
