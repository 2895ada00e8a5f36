#include "report/rows.h"

static bool add_jsonl(FILE *stream, const struct record_run *run) {
    json_t *json = record_json(run);
    const bool good = json != NULL && json_dumpf(json, stream, JSON_COMPACT | JSON_REAL_PRECISION(6)) == 0;
    json_decref(json);
    return good && fputc('\n', stream) != EOF;
}

bool rows_open(const char *path, enum rows_form form, struct rows *rows, struct problem *problem) {
    *rows = (struct rows){.form = form};
    if (!output_open(path, &rows->output, problem)) {
        return false;
    }
    if (form == ROWS_CSV) {
        rows_csv_head(rows->output.stream);
    }
    return true;
}

bool rows_add(struct rows *rows, const struct record_run *run) {
    FILE *stream = rows->output.stream;
    rows->failed = !(rows->form == ROWS_CSV ? rows_csv_run(stream, run) : add_jsonl(stream, run));
    return !rows->failed;
}

bool rows_close(struct rows *rows, bool keep, struct problem *problem) {
    const bool memory = rows->failed && !ferror(rows->output.stream);
    if (keep && memory) {
        problem_set(problem, PROBLEM_BENCH, "%s: a run could not be written: memory is short",
                    rows->output.place != NULL ? rows->output.place : "rows");
    }
    return output_close(&rows->output, keep && !memory, problem);
}

bool rows_write(const char *path, enum rows_form form, const struct record_list *runs,
                struct problem *problem) {
    struct rows rows;
    if (!rows_open(path, form, &rows, problem)) {
        return false;
    }
    for (size_t i = 0; i < runs->count && rows_add(&rows, runs->runs[i]); i++) {
        /* one after the other */
    }
    return rows_close(&rows, true, problem);
}
