#include "record/filling.h"

#include <assert.h>
#include <stdlib.h>

enum { CONSOLES = 8, STEPS = 98, OWN = 200, SHARED = 9000 };
#define FIRST_SEED 1000000u

struct record_run *filling_run(const struct filling *filling, size_t number) {
    return filling->invented->runs.runs[number];
}

uint64_t filling_number(const struct record_run *got) {
    return got->seed - FIRST_SEED;
}

/* What is kept by its content: one of the run's own, one shared by the runs of a group. */
static void give_blobs(struct filling *filling, size_t number) {
    uint8_t *own = filling->bytes + number * (OWN + SHARED);
    uint64_t random = number, shared = number / 12 + 1000;
    for (size_t i = 0; i < OWN + SHARED; i++) {
        own[i] = (uint8_t)(256 * invented_uniform(i < OWN ? &random : &shared));
    }
    filling->blobs[number][0] = (struct record_blob){"field", "image/png", own + OWN, SHARED, ""};
    filling->blobs[number][1] = (struct record_blob){"step-0003", "image/png", own, OWN, ""};
    filling_run(filling, number)->blobs = filling->blobs[number];
    filling_run(filling, number)->blob_count = 2;
}

struct filling *filling_new(uint64_t seed) {
    struct filling *filling = calloc(1, sizeof *filling);
    assert(filling != NULL);
    filling->invented = invented_new(seed, CONSOLES, STEPS, FILLING_RUNS / CONSOLES);
    filling->invented->sweep.definition = "of the filling"; /* no file of an earlier version has it */
    filling->bytes = malloc((size_t)FILLING_RUNS * (OWN + SHARED));
    assert(filling->bytes != NULL);
    for (size_t i = 0; i < FILLING_RUNS; i++) {
        filling_run(filling, i)->seed = FIRST_SEED + i;
        if (i % 3 == 0) {
            give_blobs(filling, i);
        }
    }
    return filling;
}

void filling_free(struct filling *filling) {
    invented_free(filling->invented);
    free(filling->bytes);
    free(filling);
}
