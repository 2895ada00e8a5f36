#include "plan/moments.h"

#include <string.h>

static const char *const names[MOMENT_REGISTERS] = {"PF0",       "PF1",    "PF2",   "CTRLPF.D0",
                                                    "CTRLPF.D1", "COLUPF", "COLUBK"};

struct moment moment_of(uint32_t value) {
    return (struct moment){.reg = (enum moment_register)(value / LINE_CYCLES / MOMENT_MODES),
                           .mirror = value / LINE_CYCLES % MOMENT_MODES != 0,
                           .cycle = (int)(value % LINE_CYCLES)};
}

uint32_t moment_value(const struct moment *moment) {
    return ((uint32_t)moment->reg * MOMENT_MODES + moment->mirror) * LINE_CYCLES + (uint32_t)moment->cycle;
}

int moment_groups(enum standard standard) {
    return (standard_plan_lines(standard) - MOMENT_FIRST - 1) / MOMENT_GROUP;
}

const char *moment_name(enum moment_register reg) {
    return names[reg];
}

bool moment_from_name(const char *name, enum moment_register *reg) {
    for (int i = 0; i < MOMENT_REGISTERS; i++) {
        if (strcmp(names[i], name) == 0) {
            *reg = (enum moment_register)i;
            return true;
        }
    }
    return false;
}

/* The first ten bits of the serial output are 1 and the others 0: then every cell of the right half is
 * another in copy than in mirror. */
static void hold_halves(uint8_t held[REG_COUNT]) {
    held[REG_PF0] = 0xF0;
    held[REG_PF1] = 0xFC;
}

struct moment_setting moment_setting(enum moment_register reg, bool mirror) {
    static const enum reg of[MOMENT_REGISTERS] = {REG_PF0,    REG_PF1,    REG_PF2,   REG_CTRLPF,
                                                  REG_CTRLPF, REG_COLUPF, REG_COLUBK};
    const uint8_t mode = mirror ? CTRLPF_REFLECT : 0, white = plan_default_colour(REG_COLUPF);
    struct moment_setting setting = {.reg = of[reg], .before = 0, .after = 0xFF};
    setting.held[REG_CTRLPF] = mode;
    setting.held[REG_COLUPF] = white;
    setting.held[REG_COLUP0] = setting.held[REG_COLUP1] = white;
    switch (reg) {
    case MOMENT_REFLECT:
        hold_halves(setting.held);
        setting.before = mode;
        setting.after = mode ^ CTRLPF_REFLECT;
        break;
    case MOMENT_SCORE:
        setting.held[REG_COLUP0] = setting.held[REG_COLUP1] = 0;
        setting.before = mode | CTRLPF_SCORE;
        setting.after = mode;
        break;
    case MOMENT_COLUPF:
    case MOMENT_COLUBK:
        setting.after = white;
        break;
    default:
        break;
    }
    if (reg == MOMENT_SCORE || reg == MOMENT_COLUPF) {
        setting.held[REG_PF0] = 0xF0;
        setting.held[REG_PF1] = setting.held[REG_PF2] = 0xFF;
    }
    if (reg <= MOMENT_PF2) {
        setting.after = reg == MOMENT_PF0 ? 0xF0 : 0xFF;
    }
    setting.held[setting.reg] = setting.before;
    return setting;
}

bool moments_plan(enum standard standard, struct plan **out, struct problem *problem) {
    struct plan *plan = plan_new("moments", standard);
    if (plan == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "plan moments: out of memory");
    }
    plan->kind = PLAN_MOMENTS;
    *out = plan;
    return true;
}
