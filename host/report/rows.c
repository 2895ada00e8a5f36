#include "report/rows.h"

#include "base/output.h"

#include <stdlib.h>

bool rows_jsonl_run(FILE *stream, const struct record_run *run) {
    json_t *json = record_json(run);
    const bool good = json != NULL && json_dumpf(json, stream, JSON_COMPACT | JSON_REAL_PRECISION(6)) == 0;
    json_decref(json);
    return good && fputc('\n', stream) != EOF;
}

void rows_jsonl(FILE *stream, const struct record_list *runs) {
    for (size_t i = 0; i < runs->count; i++) {
        rows_jsonl_run(stream, runs->runs[i]);
    }
}

void rows_csv(FILE *stream, const struct record_list *runs) {
    rows_csv_head(stream);
    for (size_t i = 0; i < runs->count; i++) {
        rows_csv_run(stream, runs->runs[i]);
    }
}

static bool write_rows(const char *path, const struct record_list *runs,
                       void (*print)(FILE *stream, const struct record_list *runs), struct problem *problem) {
    char *text = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&text, &size);
    bool made = stream != NULL;
    if (made) {
        print(stream, runs);
        made = !ferror(stream);
        made = fclose(stream) == 0 && made;
    }
    const bool good = made ? output_write(path, text, size, problem)
                           : problem_set(problem, PROBLEM_BENCH, "%s: out of memory", path);
    free(text);
    return good;
}

bool rows_write_jsonl(const char *path, const struct record_list *runs, struct problem *problem) {
    return write_rows(path, runs, rows_jsonl, problem);
}

bool rows_write_csv(const char *path, const struct record_list *runs, struct problem *problem) {
    return write_rows(path, runs, rows_csv, problem);
}
