/*
 * Plan moments without a program: the chip model is written to at the very clocks that plan/moments.h says,
 * a grabber takes its fields, and the judge reads them. The chip's delays are this file's caller's to choose
 * and nobody else's to know.
 */
#ifndef TESTS_VERDICT_MOMENTS_STAND_H
#define TESTS_VERDICT_MOMENTS_STAND_H

#include "verdict/moments.h"
#include "verdict/verdict.h"
#include "virtual/bench.h"
#include "virtual/tia.h"

#include <stdbool.h>
#include <stdint.h>

enum { MOMENTS_STAND_HASH = 0x3C55 };

struct moments_stand {
    enum standard standard;
    struct tia_chip chip;
    struct grabber_options grabber;
    uint64_t seed;
    int hold; /* fields a value is shown */
    /* Values that are shown: of register and mode; NULL: all. */
    bool (*wanted)(const struct moment *moment);
};

/* A good chip, a clean grabber with noise at 30 dB, four fields a value. */
void moments_stand_defaults(enum standard standard, struct moments_stand *stand);
/* Delays 0..12 of CTRLPF, PF0..PF2, COLUPF and COLUBK and each phase, of the seed. */
void moments_stand_random_chip(struct moments_stand *stand, uint64_t seed);
/* Shows each value once. The judge is the caller's to free, with the plan (plan_free()). */
struct judge *moments_stand_run(const struct moments_stand *stand, struct plan **plan);

/* The delays that draw the same pictures as the chip's own, of 0..12 whole clocks, tried out one by one on
 * the model: bit n is set for n. */
unsigned moments_stand_same(const struct moments_stand *stand, enum moment_register reg, int phase);
/* Whether the delay is what the pictures tell of the chip: an interval that is exactly `same`, or within 0.1
 * clocks of the only one. */
bool moments_stand_agrees(const struct moment_delay *delay, unsigned same);

/* One field of a value, drawn into the chip's field. */
void moments_stand_draw(struct tia *tia, enum standard standard, uint32_t value, unsigned counter);

#endif
