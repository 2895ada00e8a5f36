/*
 * Pictures of plans that count on the console (every.h, moments.h), and of drawings (rows): each draws the
 * picture's lines and jumps to `overscan`. Inside rom/ only.
 */
#ifndef SLOTJIG_ROM_COUNTING_H
#define SLOTJIG_ROM_COUNTING_H

#include "plan/plan.h"
#include "rom/encoder.h"

/* True when the plan is one step whose bands are single lines that write the same registers in the same
 * cycles, too many for bands.c: a table a register, a row a line. */
bool rows_wanted(const struct plan *plan);

#endif
