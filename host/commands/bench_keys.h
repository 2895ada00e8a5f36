/* The keys of a bench's section, as one table. */
#ifndef SLOTJIG_COMMANDS_BENCH_KEYS_H
#define SLOTJIG_COMMANDS_BENCH_KEYS_H

#include "commands/benches.h"
#include "plan/settings_file.h"

#include <stdbool.h>

enum { BENCH_KEYS_MAX = 32 };

struct bench_reading {
    struct bench_settings *bench; /* name, kind, standard and grabber are there already */
    bool given[BENCH_KEYS_MAX];
};

/* kind and standard, which other defaults follow from. */
bool bench_take_kind(const struct setting *setting, enum bench_kind *kind, struct problem *problem);
bool bench_take_standard(const struct setting *setting, enum standard *standard, struct problem *problem);

/* The grabber's set, which replaces all that other keys say of it. The bench has its defaults already. */
bool bench_take_grabber(const struct setting *setting, struct bench_settings *bench, struct problem *problem);

/* What only the whole section shows; section: where it begins. */
bool bench_check_keys(const struct bench_settings *bench, const struct setting *section,
                      struct problem *problem);

/* One key onto the bench; kind, grabber and standard are only looked at for being there twice. */
bool bench_take_key(struct bench_reading *reading, const struct setting *setting, struct problem *problem);

#endif
