#include "report/html.h"

static bool later(struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "pages are not built yet");
}
void html_run(FILE *stream, const struct record_run *run, const struct differ *differ) {
    (void)stream, (void)run, (void)differ;
}
void html_sweep(FILE *stream, const struct record_sweep *sweep, const struct record_list *runs) {
    (void)stream, (void)sweep, (void)runs;
}
void html_console(FILE *stream, const char *console, const struct record_list *runs,
                  const struct html_plan_differ *differs, size_t differ_count) {
    (void)stream, (void)console, (void)runs, (void)differs, (void)differ_count;
}
bool html_write_run(const char *path, const struct record_run *run, const struct differ *differ,
                    struct problem *problem) {
    (void)path, (void)run, (void)differ;
    return later(problem);
}
bool html_write_sweep(const char *path, const struct record_sweep *sweep, const struct record_list *runs,
                      struct problem *problem) {
    (void)path, (void)sweep, (void)runs;
    return later(problem);
}
bool html_write_console(const char *path, const char *console, const struct record_list *runs,
                        const struct html_plan_differ *differs, size_t differ_count,
                        struct problem *problem) {
    (void)path, (void)console, (void)runs, (void)differs, (void)differ_count;
    return later(problem);
}
