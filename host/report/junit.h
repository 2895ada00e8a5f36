/*
 * JUnit XML, as CI servers read it: a suite for each plan and console, a case for each step (one for a plan
 * without steps), merged over repeats and benches: a case fails where any repeat did. A fail is a failure;
 * inconclusive, bench trouble and a missing repeat are errors; unsteady is a failure.
 */
#ifndef SLOTJIG_REPORT_JUNIT_H
#define SLOTJIG_REPORT_JUNIT_H

#include "base/problem.h"
#include "record/record.h"

/* sweep NULL: runs that belong to none. Whole or not at all; "-" is standard output. */
bool junit_write(const char *path, const struct record_sweep *sweep, const struct record_list *runs,
                 struct problem *problem);

#endif
