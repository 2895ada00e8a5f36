/*
 * A run's steps as one short row of bytes, and a plan's. What is as the plan says takes next to nothing;
 * measured figures are kept to their quantum and come back as whole multiples of it.
 */
#ifndef SLOTJIG_RECORD_PACK_H
#define SLOTJIG_RECORD_PACK_H

#include "record/arena.h"
#include "record/record.h"

#include <math.h>

/* Steps a plan can have, of whatever version: what is more is damage. */
enum { PACK_STEPS_MAX = 1 << 16 };

/* Resolution of what is kept: so many quanta make one. */
#define KEPT_MARGIN 10000.0
#define KEPT_OFFSET 1000.0 /* of a clock */
#define KEPT_LEVEL 10000.0
#define KEPT_CHROMA 100.0 /* of a code */

/* A figure as a number of quanta (the nearest; of what is no number, or beyond all measure, 0), and back. */
static inline int64_t kept_quanta(double value, double per) {
    const double quanta = value * per;
    return quanta > -4e15 && quanta < 4e15 ? llround(quanta) : 0;
}
static inline double kept_value(int64_t quanta, double per) {
    return (double)quanta / per;
}

/* Of a colour of which nothing is known (count 0) nothing is kept. plan may have fewer steps, or none. *bytes
 * is free()d by the caller. False when memory is short. */
bool pack_steps(const struct record_plan *plan, const struct step_result *steps, size_t count,
                uint8_t **bytes, size_t *size);
/* With the plan as it was for packing. False for bytes that pack_steps() never made. */
bool unpack_steps(const struct record_plan *plan, const uint8_t *bytes, size_t size, struct arena *arena,
                  struct step_result **steps, size_t *count);

bool pack_plan(const struct record_plan_step *steps, size_t count, uint8_t **bytes, size_t *size);
bool unpack_plan(const uint8_t *bytes, size_t size, struct arena *arena, struct record_plan_step **steps,
                 size_t *count);

#endif
