#include "verdict/counted.h"

#include <stdlib.h>

/* Not built yet: accepts nothing, so all is owed and the verdict is inconclusive. */
struct nothing {
    size_t owed;
};

static enum judged read_nothing(void *state, const struct reading *reading) {
    (void)state, (void)reading;
    return JUDGED_NOT;
}

static size_t owed(const void *state) {
    return ((const struct nothing *)state)->owed;
}

static void add_nothing(void *state, struct judge *judge, struct result *result) {
    (void)state, (void)judge;
    result->verdict = VERDICT_INCONCLUSIVE;
}

bool moments_judge(const struct plan *plan, struct counted *counted) {
    struct nothing *nothing = calloc(1, sizeof *nothing);
    if (nothing != NULL) {
        nothing->owed = plan_pictures(plan);
        *counted = (struct counted){
            .state = nothing, .free = free, .read = read_nothing, .owed = owed, .result = add_nothing};
    }
    return nothing != NULL;
}
