/* Findings put into a result. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_FINDINGS_H
#define SLOTJIG_VERDICT_FINDINGS_H

#include "verdict/verdict.h"

/* Of no register and bit, and always so; with the advice of its kind and no text yet. NULL when there is no
 * more room. */
struct finding *finding_add(struct result *result, enum finding_kind kind);
/* Adds to the text. finding may be NULL: then nothing is said. */
__attribute__((format(printf, 2, 3))) void finding_say(struct finding *finding, const char *format, ...);

#endif
