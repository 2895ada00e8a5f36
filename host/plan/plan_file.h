/*
 * Plan files: a user's own steps, as an INI file.
 *
 *     ; a comment (a line that starts with ; or #, or the rest of a line after a space and ;)
 *     [plan]
 *     name = mine              ; what reports call it; the file's name when left out
 *     standard = pal           ; what it is for where nothing else says: no option, no bench
 *     counts = every 2097152 1 ; in place of steps, a built-in plan: `every` with its number of patterns and
 *                              ; of lines that each is shown on, `moments`, or `colours`
 *
 *     [step left edge]         ; each step's name once, at most 44 characters; the file's order is the plan's
 *     mode = mirror            ; copy (when left out) or mirror; or CTRLPF = a byte, in its place
 *     PF0 = $10                ; $F0, 0xF0, %11110000 or 240; registers left out are 0
 *     score = yes              ; left half in COLUP0, right half in COLUP1 (CTRLPF D1)
 *
 *     [step drawn]
 *     cells = ####....#### ... ; 20 cells (the left half) or 40; # 1 X are lit, . 0 - dark; blanks do not
 *                              ; count. The tool works out registers and, for 40 cells, the mode.
 *
 *     [step changing]          ; a step may be cut into bands of lines, from the top down. Registers given in
 *     PF1 = $0F                ; the step itself are what the first band starts from.
 *     [band]
 *     lines = 100              ; lines of the picture below the slate; the last band may leave it out
 *     write = PF1 $F0 at 45    ; on every line of the band, a store that ends with CPU cycle 45 of the line
 *     write = PF1 $0F at 70    ; (0..75); several are given in the order of their cycles
 *                              ; (PF0, PF1, PF2, CTRLPF, COLUPF, COLUBK)
 *     [band]
 *     cells = #.#.#.#.#.#.#.#.#.#.
 *
 * In a step, `vouched = yes`: its writes lie where a console's own record says that each shows, whole, from
 * the next beginning of its register's cells in a half line (plan.h); the tool writes that for drawings.
 *
 * A band's registers are written in the horizontal blank before its first line; a register that a band leaves
 * out keeps its value. A step without bands may have `write` keys too: they act on every line of the picture.
 */
#ifndef SLOTJIG_PLAN_PLAN_FILE_H
#define SLOTJIG_PLAN_PLAN_FILE_H

#include "plan/plan.h"

/* Problems are PROBLEM_INPUT and start with file:line. On failure *plan is untouched. */
bool plan_file_open(const char *path, enum standard standard, struct plan **plan, struct problem *problem);
/* The same from a text in memory; what: its name in problems. */
bool plan_file_text(const char *what, const char *text, enum standard standard, struct plan **plan,
                    struct problem *problem);
/* The standard that a plan file names; false, and *standard as it was, where it names none or cannot be
 * read. */
bool plan_file_standard(const char *path, enum standard *standard);

#endif
