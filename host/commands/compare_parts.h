/* What both ways of `compare` over records need. */
#ifndef SLOTJIG_COMMANDS_COMPARE_PARTS_H
#define SLOTJIG_COMMANDS_COMPARE_PARTS_H

#include "commands/options.h"

#include <jansson.h>
#include <stdio.h>

enum { PLAN_NAMES_MOST = 1000 };

/* Plans, each once; what is beyond PLAN_NAMES_MOST is left out. */
struct plan_names {
    size_t count;
    char names[PLAN_NAMES_MOST][128];
};
void plan_names_add(struct plan_names *plans, const char *name);

/* Where the report goes; NULL: nowhere. */
FILE *compare_stream(const struct options *options);
/* Adds `command` and `exit`; --json. The caller keeps its reference. */
bool compare_write(const struct options *options, json_t *result, int status, struct problem *problem);

#endif
