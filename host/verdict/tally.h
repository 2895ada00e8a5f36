/* Suppositions held against all that was seen. Inside verdict/ only. */
#ifndef SLOTJIG_VERDICT_TALLY_H
#define SLOTJIG_VERDICT_TALLY_H

#include "verdict/state.h"

/* What may be wrong: `shown` is there in every field, or, when it comes and goes, in some, while the others
 * show `rest` (what stays is in both). */
struct supposition {
    struct cause shown, rest;
    bool at_times;
};

struct tally {
    long explained;    /* wrong fields the supposition predicts */
    long wrong;        /* all wrong fields */
    long contradicted; /* good fields that it says must be wrong */
    /* When it comes and goes: of the fields where that makes a difference, those with it and without. */
    long with, without;
};

struct tally tally_of(struct judge *judge, const struct supposition *supposition);
/* The same of one cause that is always there. */
struct tally tally_cause(struct judge *judge, const struct cause *cause);
/* Whether it predicts every wrong field and contradicts no good one, but for `slack` fields, at the cost of
 * the first steps that say no. */
bool tally_would_explain(struct judge *judge, const struct supposition *supposition, long slack);

#endif
