/*
 * Plan `colours`: each of the 128 colour codes by COLUBK (no cell lit), then each by COLUPF (all cells lit):
 * 256 steps, whose number says which. Levels inside, hues outside, so that a hue's eight levels follow each
 * other.
 */
#ifndef SLOTJIG_PLAN_COLOURS_H
#define SLOTJIG_PLAN_COLOURS_H

#include "plan/plan.h"

enum { COLOUR_CODES = 128, COLOUR_HUES = 16, COLOUR_LEVELS = 8, COLOUR_STEPS = 2 * COLOUR_CODES };

/* step 0..255: the register and what it holds (D7-D4 hue, D3-D1 level, D0 0). */
enum reg colour_step_register(uint32_t step);
uint8_t colour_step_code(uint32_t step);

bool colours_plan(enum standard standard, struct plan **plan, struct problem *problem);

#endif
