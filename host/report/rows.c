#include "report/rows.h"

json_t *record_json(const struct record_run *run) {
    (void)run;
    return json_object();
}
void rows_jsonl(FILE *stream, const struct record_list *runs) {
    (void)stream, (void)runs;
}
void rows_csv(FILE *stream, const struct record_list *runs) {
    (void)stream, (void)runs;
}
bool rows_write_jsonl(const char *path, const struct record_list *runs, struct problem *problem) {
    (void)path, (void)runs;
    return problem_set(problem, PROBLEM_BENCH, "JSON Lines are not built yet");
}
bool rows_write_csv(const char *path, const struct record_list *runs, struct problem *problem) {
    (void)path, (void)runs;
    return problem_set(problem, PROBLEM_BENCH, "CSV is not built yet");
}
