/* Whether a run that a store gives is the one that was put, field by field. */
#ifndef TESTS_RECORD_WHOLE_H
#define TESTS_RECORD_WHOLE_H

#include "record/record.h"

#include <stdbool.h>
#include <stddef.h>

/* got was read with RECORDS_ALL. Ids are not compared but those of sweep items; measures within half of what
 * they are kept to. On false, why names the first field that differs. */
bool whole_same(const struct record_run *put, const struct record_run *got, char *why, size_t size);

#endif
