#include "plan/every.h"

uint32_t every_value(uint32_t base, int place) {
    return ((base & ~UINT32_C(1)) + (uint32_t)place * EVERY_STEP) % EVERY_VALUES;
}

void every_registers(uint32_t value, uint8_t pf[3]) {
    pf[0] = (uint8_t)(value >> 16 << 4);
    pf[1] = (uint8_t)(value >> 8);
    pf[2] = (uint8_t)value;
}

uint32_t every_base(const struct every *every, bool mirror, uint32_t field) {
    return every_value(0, (int)(field * (uint32_t)every->patterns)) | mirror;
}

/* The step's inverse modulo 2^20, by Newton's iteration. */
static uint32_t inverse(uint32_t odd) {
    uint32_t x = odd;
    for (int i = 0; i < 4; i++) {
        x *= 2 - odd * x;
    }
    return x % EVERY_VALUES;
}

bool every_field_of(const struct every *every, uint32_t base, bool *mirror, uint32_t *field) {
    const uint32_t place = (base & ~UINT32_C(1)) * inverse(EVERY_STEP) % EVERY_VALUES;
    *mirror = every_mirror(base);
    *field = place / (uint32_t)every->patterns;
    return base < EVERY_VALUES && place % (uint32_t)every->patterns == 0 && *field < every->bases;
}

bool every_plan(uint32_t count, int repeat, enum standard standard, struct plan **out,
                struct problem *problem) {
    if (count < EVERY_LEAST || count > 2 * EVERY_VALUES || count % 2 != 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "plan every: %u patterns; give an even number from %d to %d", count, EVERY_LEAST,
                           2 * EVERY_VALUES);
    }
    if (repeat < 1 || repeat > EVERY_REPEAT_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "plan every: %d lines a pattern; give 1 to %d", repeat,
                           EVERY_REPEAT_MAX);
    }
    struct plan *plan = plan_new("every", standard);
    if (plan == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "plan every: out of memory");
    }
    plan->kind = PLAN_EVERY;
    struct every *every = &plan->every;
    every->count = count / 2;
    every->repeat = repeat;
    every->patterns = standard_plan_lines(standard) / repeat / 2 * 2;
    every->lines = every->patterns * repeat;
    every->bases = (every->count + (uint32_t)every->patterns - 1) / (uint32_t)every->patterns;
    *out = plan;
    return true;
}
