/*
 * Plan `moments`: when in a line does a write take effect? For each register, each mode and each of the 76
 * cycles of a line in which a store can end, one picture. The console counts; the slate's value says which
 * picture it is.
 *
 * The picture: from line MOMENT_FIRST on, four lines again and again. On the first (MOMENT_RISING) the
 * register is rewritten from `before` to `after` by a store that ends with the moment's cycle; the second
 * (MOMENT_AFTER) shows `after`; on the third (MOMENT_FALLING) it is rewritten back by a store that ends with
 * the same cycle; the fourth (MOMENT_BEFORE) shows `before`. So each line of a kind has the same neighbours,
 * whatever a grabber mixes. The line before MOMENT_FIRST and those after the last group show `before`.
 */
#ifndef SLOTJIG_PLAN_MOMENTS_H
#define SLOTJIG_PLAN_MOMENTS_H

#include "plan/plan.h"

enum moment_register {
    MOMENT_PF0,
    MOMENT_PF1,
    MOMENT_PF2,
    MOMENT_REFLECT, /* CTRLPF D0; `mode` is that before the write: in mirror the write goes to copy */
    MOMENT_SCORE,   /* CTRLPF D1; COLUP0 and COLUP1 are black meanwhile */
    MOMENT_COLUPF,
    MOMENT_COLUBK,
    MOMENT_REGISTERS
};

enum {
    MOMENT_MODES = 2,
    MOMENT_VALUES = MOMENT_REGISTERS * MOMENT_MODES * LINE_CYCLES,
    MOMENT_FIRST = 1, /* picture line of the first group's first line */
    MOMENT_GROUP = 4
};
enum moment_line { MOMENT_RISING, MOMENT_AFTER, MOMENT_FALLING, MOMENT_BEFORE };

struct moment {
    enum moment_register reg;
    bool mirror;
    int cycle; /* 0..75: cycles of the line that have passed when the store ends; it acts at clock 3 * cycle
                */
};

/* value: 0..MOMENT_VALUES-1 = (reg * 2 + mirror) * 76 + cycle. */
struct moment moment_of(uint32_t value);
uint32_t moment_value(const struct moment *moment);
int moment_groups(enum standard standard); /* whole groups in the picture */

/* What the registers hold during the picture, and what the store changes. */
struct moment_setting {
    enum reg reg; /* that the store goes to */
    uint8_t before, after;
    uint8_t held[REG_COUNT]; /* with `before` in reg */
};
struct moment_setting moment_setting(enum moment_register reg, bool mirror);
const char *moment_name(enum moment_register reg); /* "PF0", "CTRLPF.D0" ... */
bool moment_from_name(const char *name, enum moment_register *reg);

bool moments_plan(enum standard standard, struct plan **plan, struct problem *problem);

#endif
