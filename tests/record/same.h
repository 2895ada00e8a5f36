/* Whether two records say the same, to the resolution that is kept (record/pack.h, records_figures.c). */
#ifndef TESTS_RECORD_SAME_H
#define TESTS_RECORD_SAME_H

#include "record/record.h"

/* All but the ids of runs and items. parts: as read, of RECORDS_STEPS and so on; what was not read must be
 * empty in b. why: the first difference, "" where there is none. */
bool record_same(const struct record_run *a, const struct record_run *b, unsigned parts, char *why,
                 size_t size);
bool record_plan_same(const struct record_plan *a, const struct record_plan *b, char *why, size_t size);
bool record_sweep_same(const struct record_sweep *a, const struct record_sweep *b, char *why, size_t size);

#endif
