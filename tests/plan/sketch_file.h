/* A picture file in a folder of the test's own: group set-up and tear-down. */
#ifndef TESTS_PLAN_SKETCH_FILE_H
#define TESTS_PLAN_SKETCH_FILE_H

#include "rom/scratch.h"

extern char sketch_folder[SCRATCH_MAX], sketch_path[SCRATCH_MAX + 64];

int sketch_start(void **state);
int sketch_stop(void **state);

#endif
