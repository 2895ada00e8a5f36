/* The keys of a bench's section, as one table. */
#ifndef SLOTJIG_COMMANDS_BENCH_KEYS_H
#define SLOTJIG_COMMANDS_BENCH_KEYS_H

#include "commands/benches.h"
#include "plan/settings_file.h"

#include <stdbool.h>

enum { BENCH_KEYS_MAX = 24 };

struct bench_reading {
    struct bench_settings *bench; /* name, kind and standard are there already */
    bool given[BENCH_KEYS_MAX];
};

/* kind and standard, which other defaults follow from. */
bool bench_take_kind(const struct setting *setting, enum bench_kind *kind, struct problem *problem);
bool bench_take_standard(const struct setting *setting, enum standard *standard, struct problem *problem);

/* One key onto the bench; kind and standard are only looked at for being there twice. */
bool bench_take_key(struct bench_reading *reading, const struct setting *setting, struct problem *problem);

#endif
