/*
 * A drawing for the user's own program: its tables and its loop as plain MOS assembly, a subroutine without
 * slate, mailbox or frame. What it needs and leaves is said at the top of the text.
 */
#ifndef SLOTJIG_ROM_EXPORT_H
#define SLOTJIG_ROM_EXPORT_H

#include "plan/plan.h"

/* Picture lines first..first+lines-1 of the plan's one step. *text: to be freed by the caller; 64tass and xa
 * take it. PROBLEM_INPUT where the plan is no drawing, or its writes leave no room for a register that keeps
 * one value. */
bool export_text(const struct plan *plan, int first, int lines, char **text, struct problem *problem);

#endif
