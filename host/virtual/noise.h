/*
 * Gaussian noise worked out beforehand: a long table in which each scanline starts somewhere else.
 */
#ifndef SLOTJIG_VIRTUAL_NOISE_H
#define SLOTJIG_VIRTUAL_NOISE_H

#include <stdint.h>

enum {
    NOISE_TABLE = 65536,
    NOISE_RUN = 720, /* samples that noise_run() promises */
    NOISE_SHIFT = 5,
    NOISE_UNIT = 1 << NOISE_SHIFT /* steps a luma code */
};

struct noise {
    uint64_t random;
    int16_t table[NOISE_TABLE + NOISE_RUN]; /* 1/NOISE_UNIT of a code; its start repeated at its end */
};

/* rms in luma codes; the mean is 0. The same seed makes the same noise. */
void noise_init(struct noise *noise, double rms, uint64_t seed);
/* NOISE_RUN values from a random place of the table. */
const int16_t *noise_run(struct noise *noise);

#endif
