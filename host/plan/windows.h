/*
 * In which cycles of a line may a register be rewritten so that one half of the line shows the old value and
 * the other the new one, cleanly? Either by the handbook's arithmetic, or as a console's plan `moments` saw
 * it.
 */
#ifndef SLOTJIG_PLAN_WINDOWS_H
#define SLOTJIG_PLAN_WINDOWS_H

#include "plan/moments.h"

enum { HALF_LEFT, HALF_RIGHT, HALVES };

/* A store that ends with one of these cycles. Left: the left half of this line (and all that follows) is new,
 * and the line before is old to its end; a window may begin in the line before, so first may be negative.
 * Right: the left half of this line is old, the right half new. */
struct write_window {
    bool exists;
    int first, last; /* -75..75 */
    bool open;       /* measured, but cycles that could widen it were not seen */
};

struct write_windows {
    struct write_window window[MOMENT_REGISTERS][MOMENT_MODES][HALVES];
    char source[256]; /* "handbook", or the file */
};

/* Arithmetic: the cells' clocks (68 + 4n) alone, nothing allowed for the chip's delay [A]. */
void windows_arithmetic(struct write_windows *windows);
/* What the handbook can vouch for: as far away from every cell as expect/ asks to be sure of it [A, H 3.D].
 */
void windows_handbook(struct write_windows *windows);
/* `windows` of a JSON result of plan moments. PROBLEM_INPUT with the file and what is missing. */
bool windows_read(const char *path, struct write_windows *windows, struct problem *problem);

#endif
