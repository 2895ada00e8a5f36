/* A result in words and characters for a terminal. Text goes to a stream the caller gives. */
#ifndef SLOTJIG_REPORT_TERMINAL_H
#define SLOTJIG_REPORT_TERMINAL_H

#include "report/json.h"

#include <stdbool.h>
#include <stdio.h>

struct terminal_style {
    bool colour;
    bool kept; /* a record is told: there is no --out */
};

/* '#' is lit, '.' dark, '?' not known, with a bar between the halves: 41 characters and a final 0. */
void terminal_cells(uint64_t lit, uint64_t unclear, char text[CELLS + 2]);

/* Expected above seen, and marks where they differ: three lines. Returns the cells that differ. */
uint64_t terminal_step(FILE *stream, const struct step_result *step);

/* "a step every 4 fields", "new pictures in every field". */
enum { PACE_MAX = 64 };
const char *terminal_pace(const struct plan *plan, int hold, char text[PACE_MAX]);

/* Verdict, findings, and expected above seen of every failing step. */
void terminal_result(FILE *stream, const struct report *report, struct terminal_style style);

#endif
