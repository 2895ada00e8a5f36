/* A result in words and characters for a terminal. Text goes to a stream the caller gives. */
#ifndef SLOTJIG_REPORT_TERMINAL_H
#define SLOTJIG_REPORT_TERMINAL_H

#include "report/json.h"

#include <stdbool.h>
#include <stdio.h>

enum { TERMINAL_STEPS_SHOWN = 12 };

struct terminal_style {
    bool colour;
};

/* 40 characters: full block or '#' is lit, '.' dark, '?' not known; with a gap between the halves: 41 characters and a final 0. */
void terminal_cells(uint64_t lit, uint64_t unclear, char text[CELLS + 2]);

/* Verdict, findings, and expected beside seen of failing steps (the first TERMINAL_STEPS_SHOWN of them). */
void terminal_result(FILE *stream, const struct report *report, struct terminal_style style);

#endif
