#include "commands/history.h"

#include "commands/commands.h"
#include "commands/outcome.h"
#include "commands/record_show.h"
#include "report/json.h"
#include "report/rows.h"

#include <stdio.h>

bool history_run(struct records *records, const struct options *options, int64_t id,
                 struct problem *problem) {
    struct record_run *run = NULL;
    if (!records_run(records, id, RECORDS_ALL, &run, problem)) {
        return false;
    }
    const struct record_list list = {1, &run};
    struct terminal_style style = outcome_style(stdout);
    style.kept = true;
    const bool good =
        (options->quiet || history_is_piped(options) || record_show(stdout, run, style, problem)) &&
        (options->json == NULL || json_write(record_json(run), options->json, problem)) &&
        (options->jsonl == NULL || rows_write(options->jsonl, ROWS_JSONL, &list, problem)) &&
        (options->csv == NULL || rows_write(options->csv, ROWS_CSV, &list, problem));
    record_free(run);
    return good;
}
