/* A shelf of consoles and their runs, invented from a seed: for tests of what is kept and shown. No console
 * was measured. */
#ifndef TESTS_RECORD_INVENTED_H
#define TESTS_RECORD_INVENTED_H

#include "record/record.h"

struct invented {
    struct record_plan plan; /* `bits`, cut to the steps asked for */
    struct record_sweep sweep;
    struct record_list runs; /* of the sweep's items, in their order; ids 0 */
};

/* consoles: "shelf 01" and so on, by turns of revision A and B, of which each seventh has one playfield bit
 * stuck (so that it fails where that bit tells); noise of margins, offsets and levels from the seed. steps:
 * from 1; more than the 98 of `bits` begin with the first again. Run `run` of a console starts that many days
 * after 2026-01-01. */
struct invented *invented_new(uint64_t seed, int consoles, int steps, int repeats);
void invented_free(struct invented *invented);

/* A number from 0 to 1 that follows from the state, which moves on. */
double invented_uniform(uint64_t *state);
/* Normal, of mean 0 and deviation 1 (sum of twelve uniform ones). */
double invented_normal(uint64_t *state);

#endif
