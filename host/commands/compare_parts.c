#include "commands/compare_parts.h"

#include "report/json.h"

#include <string.h>

void plan_names_add(struct plan_names *plans, const char *name) {
    for (size_t i = 0; i < plans->count; i++) {
        if (strcmp(plans->names[i], name) == 0) {
            return;
        }
    }
    if (plans->count < PLAN_NAMES_MOST) {
        snprintf(plans->names[plans->count++], sizeof plans->names[0], "%s", name);
    }
}

FILE *compare_stream(const struct options *options) {
    return options->quiet ? NULL : options_people(options);
}

bool compare_write(const struct options *options, json_t *result, int status, struct problem *problem) {
    json_object_set_new(result, "command", json_string("compare"));
    json_object_set_new(result, "exit", json_integer(status));
    return options->json == NULL || json_write(json_incref(result), options->json, problem);
}
