/* Plan `every`: verdict and findings. */
#include "verdict/every.h"

void every_explain(struct every_state *every, struct judge *judge, struct result *result) {
    (void)judge;
    const struct coverage *coverage = &result->coverage;
    result->verdict = coverage->wrong > 0              ? VERDICT_FAIL
                      : coverage->seen == coverage->of ? VERDICT_PASS
                                                       : VERDICT_INCONCLUSIVE;
    (void)every;
}
