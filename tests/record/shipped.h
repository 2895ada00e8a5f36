/* Tests of cartridges, invented: for tests of what is kept and shown. No cartridge was measured. */
#ifndef TESTS_RECORD_SHIPPED_H
#define TESTS_RECORD_SHIPPED_H

#include "record/ships.h"

/* The two that the files in old/ hold from version 4 on: one with all that a test can have, and a bare one.
 * Never change them. findings: room for two. */
struct ship shipped_kept(int which, struct finding findings[2]);

/* A lot of so many, by seed: each tenth fails (slow, or a data line stuck, by turns), each twenty-fifth is
 * trouble first and passes then, each fiftieth fails first and passes then. Ids and attempts are filled as a
 * store would.
 */
struct shipped {
    struct ship_list list;
    struct ship *ships;
    struct finding *findings;
    char (*serials)[24];
};
void shipped_new(uint64_t seed, int count, struct shipped *shipped);
void shipped_free(struct shipped *shipped);

#endif
