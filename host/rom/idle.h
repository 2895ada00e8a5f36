/* The picture of a board with nothing loaded, as a plan of one step. */
#ifndef SLOTJIG_ROM_IDLE_H
#define SLOTJIG_ROM_IDLE_H

#include "plan/plan.h"

/* NULL (with the problem) when memory is short. */
struct plan *idle_plan(struct problem *problem);

#endif
