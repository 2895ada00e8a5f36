#include "report/rows.h"

#include "base/output.h"

#include <stdio.h>

bool rows_jsonl_run(FILE *stream, const struct record_run *run) {
    json_t *json = record_json(run);
    const bool good = json != NULL && json_dumpf(json, stream, JSON_COMPACT | JSON_REAL_PRECISION(6)) == 0;
    json_decref(json);
    return good && fputc('\n', stream) != EOF;
}

bool rows_jsonl(FILE *stream, const struct record_list *runs) {
    for (size_t i = 0; i < runs->count; i++) {
        if (!rows_jsonl_run(stream, runs->runs[i])) {
            return false;
        }
    }
    return true;
}

bool rows_csv(FILE *stream, const struct record_list *runs) {
    rows_csv_head(stream);
    for (size_t i = 0; i < runs->count; i++) {
        if (!rows_csv_run(stream, runs->runs[i])) {
            return false;
        }
    }
    return true;
}

/* Not gathered in memory: there may be a million of them. */
static bool write_rows(const char *path, const struct record_list *runs,
                       bool (*print)(FILE *stream, const struct record_list *runs), struct problem *problem) {
    struct output output;
    if (!output_open(path, &output, problem)) {
        return false;
    }
    const bool made = print(output.stream, runs);
    if (!made && !ferror(output.stream)) {
        problem_set(problem, PROBLEM_BENCH, "%s: a run could not be written: memory is short", path);
        return output_close(&output, false, problem);
    }
    return output_close(&output, true, problem);
}

bool rows_write_jsonl(const char *path, const struct record_list *runs, struct problem *problem) {
    return write_rows(path, runs, rows_jsonl, problem);
}

bool rows_write_csv(const char *path, const struct record_list *runs, struct problem *problem) {
    return write_rows(path, runs, rows_csv, problem);
}
