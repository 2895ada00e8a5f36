/*
 * Chance for the grabber, all of it from a seed. Gaussian noise is worked out beforehand: a long table in
 * which each scanline starts somewhere else.
 */
#ifndef SLOTJIG_VIRTUAL_NOISE_H
#define SLOTJIG_VIRTUAL_NOISE_H

#include <stdint.h>

enum {
    NOISE_TABLE = 65536,
    NOISE_RUN = 720, /* samples that noise_run() promises */
    NOISE_SHIFT = 5,
    NOISE_UNIT = 1 << NOISE_SHIFT, /* steps a luma code */
    NOISE_MOST = 12287             /* steps: 384 codes; a sample that is further away is clipped anyway */
};

struct noise {
    uint64_t random;
    int16_t table[NOISE_TABLE + NOISE_RUN]; /* 1/NOISE_UNIT of a code; its start repeated at its end */
};

/* rms in luma codes; the mean is 0. The same seed makes the same noise. */
void noise_init(struct noise *noise, double rms, uint64_t seed);
/* NOISE_RUN values from a random place of the table. */
const int16_t *noise_run(struct noise *noise);

/* From a state that any seed begins. 0 excluded, 1 included. */
double noise_uniform(uint64_t *state);
/* Mean 0, rms 1. */
double noise_gaussian(uint64_t *state);

#endif
