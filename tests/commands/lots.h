/* Lots of virtual cartridges with planted faults, tested by `slotjig ship`, each in a process of its own as
 * on a production line. */
#ifndef TESTS_COMMANDS_LOTS_H
#define TESTS_COMMANDS_LOTS_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

struct lots_order {
    const char *folder; /* is there; store, pages and JSON go to it */
    int count, faulty;  /* cartridges; of them with a planted fault each */
    uint64_t seed;      /* of which cartridges, which faults, and all that is random on the benches */
    int jobs;           /* processes at a time */
};

/* Tests the lot and looks at what came of it: every planted fault caught and named, no good one failed, and
 * the lot's page and JSON hold the planted numbers. Tells on stream. Returns how much was not as it should
 * be. */
int lots_test(const struct lots_order *order, FILE *stream);

#endif
