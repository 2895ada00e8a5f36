/* What the grabber may do to the picture, as texts, and the named sets of them. */
#include "virtual/bench.h"

#include <string.h>

const struct fault_spelling virtual_impairment_spellings[] = {{NULL, NULL}};

static const char *const none[] = {NULL};
const struct grabber_set virtual_sets[] = {
    {"clean", "nothing: no noise, two fields woven, edges of the usual bandwidth", none},
    {NULL, NULL, NULL},
};

bool virtual_add_impairment(struct virtual_options *options, const char *text, struct problem *problem) {
    (void)options;
    return problem_set(problem, PROBLEM_INPUT, "impairment %.60s: there is none of that name", text);
}

bool virtual_use_set(struct virtual_options *options, const char *name, struct problem *problem) {
    (void)options;
    return strcmp(name, "clean") == 0 ||
           problem_set(problem, PROBLEM_INPUT, "grabber %.60s: there is no such set; there is clean", name);
}
