/* Results as JSON. Keys and their meaning are tabled in README.md. */
#ifndef SLOTJIG_REPORT_JSON_H
#define SLOTJIG_REPORT_JSON_H

#include "base/problem.h"
#include "expect/expect.h"
#include "plan/plan.h"
#include "verdict/verdict.h"

#include <jansson.h>
#include <stdint.h>

/* What a report needs to know beside the result. Borrowed, nothing is freed. */
struct report {
    const struct plan *plan;
    const char *bench; /* the bench's name, or the file that was judged */
    const struct result *result;
    uint16_t hash;
    int hold; /* 0: not known (a file) */
    uint64_t seed;
    bool has_seed;
    int exit;
    const char *command; /* "run", "judge" */
    const char *const *faults;
    int fault_count;
    json_t *more; /* keys of the command's own, such as `board` and `slot`; may be NULL */
};

json_t *json_findings(const struct finding *findings, size_t count);
json_t *json_steps_expected(const struct plan *plan);
json_t *json_result(const struct report *report);

/* A text as a report may show it: no control characters, and nothing that is not UTF-8. */
void json_clean(const char *text, char *clean, size_t size);

/* Writes indented JSON, whole or not at all; "-" is standard output. Takes the reference. */
bool json_write(json_t *json, const char *path, struct problem *problem);

#endif
