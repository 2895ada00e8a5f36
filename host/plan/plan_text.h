/* A plan written as a plan file: reading it gives the same steps again. */
#ifndef SLOTJIG_PLAN_PLAN_TEXT_H
#define SLOTJIG_PLAN_PLAN_TEXT_H

#include "plan/plan.h"

/* INI text, to be freed by the caller; NULL when memory is short. */
char *plan_text(const struct plan *plan);

#endif
