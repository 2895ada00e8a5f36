/* What each fault of the virtual bench must end in: exit status, finding, place. For tests and proofs. */
#ifndef SLOTJIG_TESTS_COMMANDS_PROMISE_H
#define SLOTJIG_TESTS_COMMANDS_PROMISE_H

#include "commands/loop.h"

struct promise {
    int exit;
    enum finding_kind kind, or_kind; /* either will do; the same twice where there is one answer */
    int reg, bit;
};

/* Of a --fault TEXT. A fault without a promise ends the program. */
struct promise promise_of(const char *fault);
/* The same on a named set of impairments. */
struct promise promise_on(const char *fault, const char *set);
/* Whether the loop's result keeps it. */
bool promise_kept(const struct promise *promise, const struct loop *loop);

#endif
