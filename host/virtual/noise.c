#include "virtual/noise.h"

#include <math.h>

uint64_t noise_random(uint64_t *state) {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return *state;
}

uint64_t noise_seed(uint64_t seed) {
    uint64_t z = seed + UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    z ^= z >> 31;
    return z == 0 ? 1 : z;
}

/* In (0, 1]. */
static double uniform(uint64_t *state) {
    return ((double)(noise_random(state) >> 11) + 1) / 9007199254740992.0;
}

/* Two at a time by the method of Box and Muller (1958). */
void noise_start(struct noise *noise, double rms, uint64_t seed) {
    noise->random = noise_seed(seed);
    for (int i = 0; i < NOISE_TABLE; i += 2) {
        double radius = rms * 16 * sqrt(-2 * log(uniform(&noise->random)));
        double angle = 2 * M_PI * uniform(&noise->random);
        noise->table[i] = (int16_t)lround(radius * cos(angle));
        noise->table[i + 1] = (int16_t)lround(radius * sin(angle));
    }
    for (int i = 0; i < NOISE_RUN; i++) {
        noise->table[NOISE_TABLE + i] = noise->table[i];
    }
}

const int16_t *noise_line(struct noise *noise) {
    return noise->table + (noise_random(&noise->random) >> 20) % NOISE_TABLE;
}
