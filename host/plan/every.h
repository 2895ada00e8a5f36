/*
 * Plan `every`: all 2^20 values of the 20 playfield bits, in copy and in mirror mode, one on each line (or on
 * each few lines) of the picture. The console counts; what it draws follows from the slate's value alone.
 *
 * A value v is PF2 = bits 0-7, PF1 = bits 8-15, PF0 D7-D4 = bits 16-19; PF0 D3-D0 are written as 0. Pattern n
 * of a mode is v = n * EVERY_STEP mod 2^20: the step is odd, so all values come, and neighbouring lines
 * differ in many bits. A field shows `patterns` of them in a row. Its slate's value is the field's base: bit
 * 0 the mode (1: mirror), bits 19-1 those of the first pattern's v, whose bit 0 is 0 since `patterns` is
 * even. Field k of a mode begins at pattern k * patterns; after the last one of a mode comes the other mode.
 * The last field of a mode runs on past `count` where that is no multiple of `patterns`.
 */
#ifndef SLOTJIG_PLAN_EVERY_H
#define SLOTJIG_PLAN_EVERY_H

#include "plan/plan.h"

enum {
    EVERY_BITS = 20,
    EVERY_VALUES = 1 << EVERY_BITS,
    EVERY_STEP = 648055, /* odd, near 2^20 over the golden ratio */
    EVERY_REPEAT_MAX = 8,
    EVERY_LEAST = 1024 /* patterns in both modes together that a shorter plan may have */
};

/* count: patterns in both modes together, even, EVERY_LEAST..2^21. */
bool every_plan(uint32_t count, int repeat, enum standard standard, struct plan **plan,
                struct problem *problem);

/* The slate's value of field k (0..bases-1) of a mode. */
uint32_t every_base(const struct every *every, bool mirror, uint32_t field);
/* The other way round. False for a value that is no field's base. */
bool every_field_of(const struct every *every, uint32_t base, bool *mirror, uint32_t *field);
/* Pattern `place` (0..patterns-1) of the field with that base: v. */
uint32_t every_value(uint32_t base, int place);
static inline bool every_mirror(uint32_t base) {
    return (base & 1) != 0;
}
/* pf: PF0, PF1, PF2. */
void every_registers(uint32_t value, uint8_t pf[3]);

#endif
