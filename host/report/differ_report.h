/* Two groups of runs, or of consoles, held side by side: for the terminal and as JSON. */
#ifndef SLOTJIG_REPORT_DIFFER_REPORT_H
#define SLOTJIG_REPORT_DIFFER_REPORT_H

#include "record/differ.h"

#include <jansson.h>
#include <stdio.h>

enum { DIFFER_LINES_MOST = 12, SEPARATIONS_SHOWN = 10 };

/* "new", "gone", "more", "less". */
const char *change_name(enum change_kind kind);

/* As people read it: hues are compared across 0 degrees, where one may have become more than 360. */
double differ_shown(enum quantity quantity, double value);

/* Of each kind of line at most DIFFER_LINES_MOST; what is left out is said. */
void differ_text(FILE *stream, const struct differ *differ);
/* `regression`, `doubt`, `before`, `now`, `warm_up`, `other_bench`, `other_noise`,
 * `test`, `tested`, `changes`, `drifts`. */
json_t *differ_json(const struct differ *differ);

/* By what a difference is called: `tests` (the less sure of them counts), `unit`, `correction`,
 * `false_discovery_rate`. */
json_t *differ_test_json(const char *unit);

/* The best SEPARATIONS_SHOWN; first, second: what the groups are called. */
void separations_text(FILE *stream, const struct separations *separations, const char *first,
                      const char *second);
json_t *separations_json(const struct separations *separations);

#endif
