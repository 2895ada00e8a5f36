/* Gaussian noise for the grabber out of a table made once from a seed. */
#ifndef SLOTJIG_VIRTUAL_NOISE_H
#define SLOTJIG_VIRTUAL_NOISE_H

#include <stddef.h>
#include <stdint.h>

enum { NOISE_TABLE = 1 << 17, NOISE_RUN = 2048 /* the longest line that noise_line() can fill */ };

struct noise {
    int16_t table[NOISE_TABLE + NOISE_RUN]; /* 1/16 codes; the start again at the end */
    uint64_t random;
};

/* rms in codes of the luma, 0 to 200. */
void noise_start(struct noise *noise, double rms, uint64_t seed);

/* A run of the table that starts at random: `count` values, at most NOISE_RUN. */
const int16_t *noise_line(struct noise *noise);

/* xorshift64 (Marsaglia 2003). *state must not be 0. */
uint64_t noise_random(uint64_t *state);

/* A state that is never 0, from any seed (splitmix64, Steele, Lea and Flood 2014). */
uint64_t noise_seed(uint64_t seed);

#endif
