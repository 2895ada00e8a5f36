/* Findings in plain words. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_ADVICE_H
#define SLOTJIG_VERDICT_ADVICE_H

#include "stats/stats.h"
#include "verdict/causes.h"

/* What a person should try, least invasive first. */
const char *advice_next(enum finding_kind kind);
/* What the cause does, as a clause without a full stop. */
void advice_describe(const struct cause *cause, char *text, size_t size);
/* A short name: "PF1 D3 stuck low". */
void advice_short(const struct cause *cause, char *text, size_t size);

#endif
