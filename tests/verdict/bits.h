/* Readings of the plan `bits` (draw.h), which is open while a group of tests runs. */
#ifndef TESTS_VERDICT_BITS_H
#define TESTS_VERDICT_BITS_H

#include "draw.h"

static struct plan *plan;

static int open_plan(void **state) {
    (void)state;
    struct problem problem = {0};
    return plan_open("bits", STANDARD_NTSC, &plan, &problem) ? 0 : -1;
}

static int close_plan(void **state) {
    (void)state;
    plan_free(plan);
    return 0;
}

#endif
