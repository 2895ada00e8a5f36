/* Records as rows: JSON Lines (a run a line, whole) and CSV (RFC 4180; a row a step, or a run without steps).
 * Cells of a CSV that a spreadsheet would take for a formula are defused. */
#ifndef SLOTJIG_REPORT_ROWS_H
#define SLOTJIG_REPORT_ROWS_H

#include "base/output.h"
#include "record/record.h"

#include <jansson.h>

/* A run as an object: what json_result() says of it, as far as it is kept; pictures by their ids. Without key
 * `steps` where the run's were not read. NULL where memory is short. */
json_t *record_json(const struct record_run *run);

/* One by one, for lists that are too long for memory: whole or not at all; "-" is standard output. */
enum rows_form { ROWS_JSONL, ROWS_CSV };
struct rows {
    enum rows_form form;
    struct output output;
    bool failed;
};
bool rows_open(const char *path, enum rows_form form, struct rows *rows, struct problem *problem);
/* False: this one could not be written; rows_close() says why. */
bool rows_add(struct rows *rows, const struct record_run *run);
/* keep false: it is thrown away, and the answer is false. */
bool rows_close(struct rows *rows, bool keep, struct problem *problem);
/* A list. */
bool rows_write(const char *path, enum rows_form form, const struct record_list *runs,
                struct problem *problem);

/* Of one run, in CSV; the head has no run. False: memory was short, or the stream failed. */
void rows_csv_head(FILE *stream);
bool rows_csv_run(FILE *stream, const struct record_run *run);

#endif
