/* What a case of JUnit XML says: a step over all repeats of a plan on a console, or the runs as a whole. */
#ifndef SLOTJIG_REPORT_JUNIT_CASE_H
#define SLOTJIG_REPORT_JUNIT_CASE_H

#include "record/suites.h"

enum junit_severity { JUNIT_GOOD, JUNIT_ERROR, JUNIT_FAILURE };
struct junit_case {
    enum junit_severity severity;
    const char *type; /* "fail", "unsteady", "inconclusive", "trouble", "open" */
    char message[300];
    char *text; /* lines about the runs in which it was not good; to be freed, as they were recorded; NULL:
                   out of memory */
};

/* suite: as it was made; its runs' ends are as they were when the function returns. step -1: the runs as a
 * whole. A step fails where any attempt of any repeat did, is unsteady where it was good only when tried
 * again or in some repeats, and is otherwise what standing_of() says. */
void junit_case_make(struct suite *suite, long step, struct junit_case *result);

#endif
