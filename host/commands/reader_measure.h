/*
 * What a reader is asked about a cartridge, in the order in which it makes sense, into the raw data that the
 * verdict judges.
 */
#ifndef SLOTJIG_COMMANDS_READER_MEASURE_H
#define SLOTJIG_COMMANDS_READER_MEASURE_H

#include "link/reader.h"
#include "verdict/reader.h"

#include <stdbool.h>
#include <stdint.h>

struct reader_order {
    int scheme; /* enum wire_scheme */
    bool ram;
    const uint8_t *image; /* scheme_bytes(), or NULL: not known; tells where banks should differ */
    uint32_t passes;      /* readings of every byte */
    /* Beside the reading: */
    bool times;     /* the map of every bank */
    bool hotspots;  /* where the scheme has banks and an address tells them apart */
    bool release;   /* after A12's fall */
    bool ram_march; /* with RAM only */
    bool quiet;     /* with A12 = 0 */
    bool wake;      /* the supply goes off and on */
    /* Called before each task; may be NULL. */
    void (*progress)(void *user, enum wire_task task, int bank);
    void *user;
};
/* Everything, two readings. */
void reader_order_all(int scheme, bool ram, const uint8_t *image, struct reader_order *order);

/* The supply is off at the end, whatever happened. False: PROBLEM_BENCH, and *seen has what came before it
 * (overload says so there, too). chip_us: what the tasks took by the reader's own clock. */
bool reader_measure(struct link *link, const struct reader_order *order, struct reader_seen *seen,
                    uint64_t *chip_us, struct problem *problem);

#endif
