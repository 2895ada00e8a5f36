#include "virtual/noise.h"

#include <math.h>

/* splitmix64 */
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

double noise_uniform(uint64_t *state) {
    return (double)((next_random(state) >> 11) + 1) / 9007199254740992.0;
}

/* Box and Muller: two values, the second at a right angle to the first. */
static double gaussian_pair(uint64_t *state, double *second) {
    double radius = sqrt(-2 * log(noise_uniform(state)));
    double angle = 2 * M_PI * noise_uniform(state);
    *second = radius * sin(angle);
    return radius * cos(angle);
}

double noise_gaussian(uint64_t *state) {
    double unused;
    return gaussian_pair(state, &unused);
}

static int16_t to_step(double codes) {
    double steps = round(codes * NOISE_UNIT);
    return (int16_t)fmax(-NOISE_MOST, fmin(NOISE_MOST, steps));
}

void noise_init(struct noise *noise, double rms, uint64_t seed) {
    noise->random = seed;
    for (int i = 0; i < NOISE_TABLE; i += 2) {
        double second;
        noise->table[i] = to_step(rms * gaussian_pair(&noise->random, &second));
        noise->table[i + 1] = to_step(rms * second);
    }
    for (int i = 0; i < NOISE_RUN; i++) {
        noise->table[NOISE_TABLE + i] = noise->table[i];
    }
}

const int16_t *noise_run(struct noise *noise) {
    return noise->table + next_random(&noise->random) % NOISE_TABLE;
}
