/* A JSON result from a file: anybody's, so anything may stand in it. */
#ifndef SLOTJIG_REPORT_RESULT_FILE_H
#define SLOTJIG_REPORT_RESULT_FILE_H

#include "base/problem.h"
#include "base/standard.h"

#include <jansson.h>

enum { RESULT_FILE_MOST = 32 << 20 }; /* bytes; a result of plan `every` or `moments` is far below */

/* *result: a new reference to an object. PROBLEM_INPUT with the file, the place and what is wrong. */
bool result_file_read(const char *path, json_t **result, struct problem *problem);
/* Plan and standard that a result names. */
bool result_file_plan(const json_t *result, const char *path, const char **plan, enum standard *standard,
                      struct problem *problem);

#endif
