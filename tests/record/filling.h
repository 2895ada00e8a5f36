/* The runs that tests put into stores: invented ones, each with a seed that tells which it is, some with
 * pictures. */
#ifndef TESTS_RECORD_FILLING_H
#define TESTS_RECORD_FILLING_H

#include "record/invented.h"

/* By what they are for. */
enum {
    FILLING_BASE = 8,    /* from 0 to here: in the stores to start from */
    FILLING_PUT = 20,    /* from FILLING_BASE: single ones */
    FILLING_BATCHES = 2, /* from FILLING_BASE: runs put at once, */
    FILLING_BATCH = 12,  /* each of so many */
    FILLING_OTHER = 40,  /* from here: of a second process */
    FILLING_OTHER_END = 52,
    FILLING_AFTERWARDS = 55, /* one that is put when all is over */
    FILLING_RUNS = 56
};

struct filling {
    struct invented *invented;
    struct record_blob blobs[FILLING_RUNS][2];
    uint8_t *bytes;
};

struct filling *filling_new(uint64_t seed);
void filling_free(struct filling *filling);
struct record_run *filling_run(const struct filling *filling, size_t number);
/* Which run of the filling a run from a store is; FILLING_RUNS and more: none. */
uint64_t filling_number(const struct record_run *got);

#endif
