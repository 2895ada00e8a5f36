/* The parts of `history`. */
#ifndef SLOTJIG_COMMANDS_HISTORY_H
#define SLOTJIG_COMMANDS_HISTORY_H

#include "commands/options.h"
#include "record/records.h"

enum { HISTORY_LAST = 20, HISTORY_TREND = 16 };

/* One run in full. */
bool history_run(struct records *records, const struct options *options, int64_t id, struct problem *problem);
bool history_consoles(struct records *records, const struct options *options, struct problem *problem);
bool history_sweeps(struct records *records, const struct options *options, struct problem *problem);

/* Whether --json, --jsonl or --csv takes standard output. */
bool history_is_piped(const struct options *options);

#endif
