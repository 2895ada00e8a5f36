#include "plan/colours.h"

#include <stdio.h>

enum reg colour_step_register(uint32_t step) {
    return step < COLOUR_CODES ? REG_COLUBK : REG_COLUPF;
}

uint8_t colour_step_code(uint32_t step) {
    return (uint8_t)(step % COLOUR_CODES << 1);
}

static bool add_colour(struct plan *plan, uint32_t step, struct problem *problem) {
    const enum reg reg = colour_step_register(step);
    const uint8_t code = colour_step_code(step), lit = reg == REG_COLUPF ? 0xFF : 0;
    const struct band band = {.lines = (uint16_t)standard_plan_lines(plan->standard),
                              .count = 5,
                              .writes = {{REG_CTRLPF, 0, WRITE_BEFORE},
                                         {REG_PF0, lit & 0xF0, WRITE_BEFORE},
                                         {REG_PF1, lit, WRITE_BEFORE},
                                         {REG_PF2, lit, WRITE_BEFORE},
                                         {reg, code, WRITE_BEFORE}}};
    char name[STEP_NAME_MAX];
    snprintf(name, sizeof name, "%s $%02X", reg_name(reg), code);
    return plan_add_step(plan, name, &band, 1, problem);
}

bool colours_plan(enum standard standard, struct plan **out, struct problem *problem) {
    struct plan *plan = plan_new("colours", standard);
    if (plan == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "plan colours: out of memory");
    }
    plan->kind = PLAN_COLOURS;
    for (uint32_t step = 0; step < COLOUR_STEPS; step++) {
        if (!add_colour(plan, step, problem)) {
            plan_free(plan);
            return false;
        }
    }
    *out = plan;
    return true;
}
