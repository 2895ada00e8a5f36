/* A finding's name, with register and bit where it has them: "bit_stuck_low PF1 D3". */
#ifndef SLOTJIG_REPORT_LABEL_H
#define SLOTJIG_REPORT_LABEL_H

#include "verdict/verdict.h"

enum { LABEL_MAX = 64 };
const char *label_finding(const struct finding *finding, char text[LABEL_MAX]);
/* Several, with "; " between them; "" of none. What does not fit is counted: "...; 3 more". */
const char *label_findings(const struct finding *findings, size_t count, char *text, size_t size);
/* What stands before the i-th of a list: "either ", "or ", "and ", or "" where it stands alone. Those that
 * stand against each other follow one another, and so do those that hold together. */
const char *label_joint(const struct finding *findings, size_t i);

#endif
