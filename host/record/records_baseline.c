#include "record/records_inside.h"

static bool later(struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "baselines are not kept yet");
}
bool records_baseline_set(struct records *records, const char *console, const char *revision,
                          const int64_t *runs, size_t count, struct problem *problem) {
    (void)records, (void)console, (void)revision, (void)runs, (void)count;
    return later(problem);
}
bool records_baseline_clear(struct records *records, const char *console, const char *revision,
                            const char *plan, size_t *cleared, struct problem *problem) {
    (void)records, (void)console, (void)revision, (void)plan, (void)cleared;
    return later(problem);
}
bool records_baselines(struct records *records, struct record_baselines *list, struct problem *problem) {
    (void)records, (void)list;
    return later(problem);
}
bool records_baseline_runs(struct records *records, const char *console, const char *revision,
                           const char *plan, unsigned parts, struct record_list *list,
                           struct problem *problem) {
    (void)records, (void)console, (void)revision, (void)plan, (void)parts, (void)list;
    return later(problem);
}
void record_baselines_free(struct record_baselines *list) {
    (void)list;
}
bool records_consoles(struct records *records, struct record_consoles *list, struct problem *problem) {
    (void)records, (void)list;
    return later(problem);
}
void record_consoles_free(struct record_consoles *list) {
    (void)list;
}
