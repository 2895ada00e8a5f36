/* Options of TAKES_CHOOSE and --store: which records, out of which store. For `history`, `report`, `compare`
 * and `baseline`. */
#ifndef SLOTJIG_COMMANDS_CHOICE_H
#define SLOTJIG_COMMANDS_CHOICE_H

#include "commands/options.h"
#include "record/records.h"

/* The choice borrows the options' texts; with_trouble is false. PROBLEM_INPUT: a date that is none, or an end
 * that is not behind the beginning. */
bool choice_of(const struct options *options, struct records_choice *choice, struct problem *problem);

/* The store for reading; PROBLEM_INPUT where nothing has been recorded. */
bool choice_open(const struct options *options, struct records **records, struct problem *problem);
/* Likewise for writing into it. */
bool choice_open_to_write(const struct options *options, struct records **records, struct problem *problem);

/* PROBLEM_INPUT where no run is of that console, naming those that are like it. NULL: fine. */
bool choice_console_known(struct records *records, const char *console, struct problem *problem);

#endif
