/* The plans that are built in. A new one is a builder and a line in plan_builtins. */
#include "expect/expect.h"
#include "plan/colours.h"
#include "plan/every.h"
#include "plan/moments.h"
#include "plan/plan.h"

#include <stdio.h>

enum { SERIAL = CELLS / 2, ALL = (1 << SERIAL) - 1, UNCONNECTED = 4 };

/* Adds a hold whose lit sequence positions are the bits of `lit`. */
static bool add_serial(struct plan *plan, const char *name, uint8_t ctrlpf, uint32_t lit,
                       struct problem *problem) {
    uint8_t pf[REG_COUNT] = {0};
    for (int i = 0; i < SERIAL; i++) {
        if ((lit >> i & 1) != 0) {
            pf[expect_serial[i].reg] |= (uint8_t)(1 << expect_serial[i].bit);
        }
    }
    return plan_add_hold(plan, name, ctrlpf, pf[REG_PF0], pf[REG_PF1], pf[REG_PF2], problem);
}

/* Every bit alone, or every bit but one. */
static bool add_singles(struct plan *plan, const char *mode, uint8_t ctrlpf, bool alone,
                        struct problem *problem) {
    for (int i = 0; i < SERIAL; i++) {
        char name[STEP_NAME_MAX];
        snprintf(name, sizeof name, "%s %s%s.%d%s", mode, alone ? "" : "all but ",
                 reg_name(expect_serial[i].reg), expect_serial[i].bit, alone ? " alone" : "");
        uint32_t bit = UINT32_C(1) << i;
        if (!add_serial(plan, name, ctrlpf, alone ? bit : ALL ^ bit, problem)) {
            return false;
        }
    }
    return true;
}

static bool add_unconnected(struct plan *plan, const char *mode, uint8_t ctrlpf, struct problem *problem) {
    char name[STEP_NAME_MAX];
    for (int bit = 0; bit < UNCONNECTED; bit++) {
        snprintf(name, sizeof name, "%s PF0 D%d (unconnected)", mode, bit);
        if (!plan_add_hold(plan, name, ctrlpf, (uint8_t)(1 << bit), 0, 0, problem)) {
            return false;
        }
    }
    snprintf(name, sizeof name, "%s PF0 D0-D3 (unconnected)", mode);
    return plan_add_hold(plan, name, ctrlpf, 0x0F, 0, 0, problem);
}

static bool add_whole(struct plan *plan, const char *mode, uint8_t ctrlpf, struct problem *problem) {
    static const struct {
        const char *what;
        uint32_t lit;
    } wholes[] = {{"all dark", 0},
                  {"all lit", ALL},
                  {"alternating, cell 0 lit", 0x55555},
                  {"alternating, cell 1 lit", 0xAAAAA}};
    for (size_t i = 0; i < sizeof wholes / sizeof wholes[0]; i++) {
        char name[STEP_NAME_MAX];
        snprintf(name, sizeof name, "%s %s", mode, wholes[i].what);
        if (!add_serial(plan, name, ctrlpf, wholes[i].lit, problem)) {
            return false;
        }
    }
    return true;
}

static bool build_bits(enum standard standard, struct plan **out, struct problem *problem) {
    struct plan *plan = plan_new("bits", standard);
    if (plan == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "plan bits: out of memory");
    }
    static const char *const modes[] = {"copy", "mirror"};
    for (int i = 0; i < 2; i++) {
        const uint8_t ctrlpf = i == 0 ? 0 : CTRLPF_REFLECT;
        bool good = add_singles(plan, modes[i], ctrlpf, true, problem) &&
                    add_singles(plan, modes[i], ctrlpf, false, problem) &&
                    add_whole(plan, modes[i], ctrlpf, problem) &&
                    add_unconnected(plan, modes[i], ctrlpf, problem);
        if (!good) {
            plan_free(plan);
            return false;
        }
    }
    *out = plan;
    return true;
}

static bool build_every(enum standard standard, struct plan **out, struct problem *problem) {
    return every_plan(2 * EVERY_VALUES, 1, standard, out, problem);
}

const struct plan_builtin plan_builtins[] = {
    {"bits",
     "every playfield bit alone and missing, all, none, alternating, the unconnected ones; copy and mirror",
     build_bits},
    {"every", "all 2,097,152 register values in copy and mirror, a new one on each line", build_every},
    {"moments", "when in a line a write takes effect: seven registers, each of a line's 76 cycles",
     moments_plan},
    {"colours", "all 128 colours of COLUBK and of COLUPF, measured", colours_plan},
    {NULL, NULL, NULL},
};
