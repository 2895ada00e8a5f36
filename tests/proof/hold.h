/* How long a step is shown in the proofs. */
#ifndef SLOTJIG_TESTS_PROOF_HOLD_H
#define SLOTJIG_TESTS_PROOF_HOLD_H

#include "commands/loop.h"

#include <string.h>

/* Where two fields are mixed into each frame, those at a change of step say nothing, and the first that does
 * is not judged: of four fields nothing would be left. */
enum { HOLD_MIXED = 8 };

static inline int hold_for(const char *set) {
    return strcmp(set, "blend") == 0 ? HOLD_MIXED : LOOP_HOLD;
}

#endif
