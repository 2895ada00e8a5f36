/* Plan `cartridge`, written out: what a console said of the cartridge it ran from. The JSON is what is kept
 * in a record, and all else is made from it. */
#ifndef SLOTJIG_REPORT_CHECK_REPORT_H
#define SLOTJIG_REPORT_CHECK_REPORT_H

#include "verdict/check.h"

#include <jansson.h>
#include <stdio.h>

/* Key `check` of a result, blob "cartridge" of a record. */
json_t *check_json(const struct check_seen *seen);
/* Of such an object; whatever it lacks is left out. */
void check_terminal(FILE *stream, const json_t *check);
/* Whether a round was watched to its end, or the console told of one or of an error: else its counts were
 * never seen, and are not told as 0. */
bool check_has_rounds(const json_t *check);

#endif
