/* Records as rows: JSON Lines (a run a line, whole) and CSV (RFC 4180; a row a step, or a run without steps).
 * Cells of a CSV that a spreadsheet would take for a formula are defused. */
#ifndef SLOTJIG_REPORT_ROWS_H
#define SLOTJIG_REPORT_ROWS_H

#include "base/problem.h"
#include "record/record.h"

#include <jansson.h>
#include <stdio.h>

/* A run as an object: what json_result() says of it, as far as it is kept; pictures by their ids. Without key
 * `steps` where the run's were not read. NULL where memory is short. */
json_t *record_json(const struct record_run *run);
/* False: memory is short, a row is missing or cut. */
bool rows_jsonl(FILE *stream, const struct record_list *runs);
bool rows_csv(FILE *stream, const struct record_list *runs);
/* One by one, for lists that are too long for memory. */
bool rows_jsonl_run(FILE *stream, const struct record_run *run);
void rows_csv_head(FILE *stream);
bool rows_csv_run(FILE *stream, const struct record_run *run);
bool rows_write_jsonl(const char *path, const struct record_list *runs, struct problem *problem);
bool rows_write_csv(const char *path, const struct record_list *runs, struct problem *problem);

#endif
