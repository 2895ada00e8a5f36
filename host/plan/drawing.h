/*
 * Plan `drawing`: a picture of a user's, 40 cells wide, two colours a line, as one step whose bands are its
 * lines; where a line's halves differ, registers are rewritten in mid-line inside the windows given.
 */
#ifndef SLOTJIG_PLAN_DRAWING_H
#define SLOTJIG_PLAN_DRAWING_H

#include "plan/windows.h"

/* path: PNG, PBM (P1, P4) or text (a row of 40 `#` and `.` a line; see README). PROBLEM_INPUT names the file
 * and the rows that cannot be drawn, and why. */
bool drawing_plan(const char *path, enum standard standard, const struct write_windows *windows,
                  struct plan **plan, struct problem *problem);

/* Which lines of the plan's picture hold the rows of the file; the lines above and below are dark. */
bool drawing_lines(const char *path, enum standard standard, int *first, int *lines, struct problem *problem);

#endif
