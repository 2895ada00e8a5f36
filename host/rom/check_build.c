#include "rom/check.h"

bool check_build(const struct plan *plan, const struct rom_options *options, struct image **image,
                 struct problem *problem) {
    (void)options;
    (void)image;
    return problem_set(problem, PROBLEM_INPUT, "plan %s: not built yet", plan->name);
}
