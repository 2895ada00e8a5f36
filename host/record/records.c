#include "record/records.h"

#include <sqlite3.h>
#include <stdlib.h>

/* Not there yet. */
static bool later(struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "the store of records is not built yet");
}
bool records_path(char path[RECORDS_PATH_MAX], struct problem *problem) {
    path[0] = '\0';
    return later(problem);
}
bool records_open(const char *path, enum records_use use, struct records **records, struct problem *problem) {
    (void)path;
    (void)use;
    *records = NULL;
    return later(problem);
}
void records_close(struct records *records) {
    (void)records;
}
const char *records_file(const struct records *records) {
    (void)records;
    return sqlite3_libversion();
}
bool records_put(struct records *records, struct record_run *run, struct problem *problem) {
    (void)records;
    (void)run;
    return later(problem);
}
bool records_begin(struct records *records, struct problem *problem) {
    (void)records;
    return later(problem);
}
bool records_end(struct records *records, struct problem *problem) {
    (void)records;
    return later(problem);
}
bool records_run(struct records *records, int64_t id, unsigned parts, struct record_run **run,
                 struct problem *problem) {
    (void)records;
    (void)id;
    (void)parts;
    (void)run;
    return later(problem);
}
bool records_select(struct records *records, const struct records_choice *choice, unsigned parts,
                    struct record_list *list, struct problem *problem) {
    (void)records;
    (void)choice;
    (void)parts;
    (void)list;
    return later(problem);
}
bool records_each(struct records *records, const struct records_choice *choice, unsigned parts,
                  bool (*each)(void *user, const struct record_run *run), void *user,
                  struct problem *problem) {
    (void)records;
    (void)choice;
    (void)parts;
    (void)each;
    (void)user;
    return later(problem);
}
void record_free(struct record_run *run) {
    (void)run;
}
void record_list_free(struct record_list *list) {
    (void)list;
}
bool records_consoles(struct records *records, struct record_consoles *list, struct problem *problem) {
    (void)records;
    (void)list;
    return later(problem);
}
void record_consoles_free(struct record_consoles *list) {
    (void)list;
}
bool records_baseline_set(struct records *records, const char *console, const char *revision,
                          const int64_t *runs, size_t count, struct problem *problem) {
    (void)records;
    (void)console;
    (void)revision;
    (void)runs;
    (void)count;
    return later(problem);
}
bool records_baseline_clear(struct records *records, const char *console, const char *revision,
                            const char *plan, size_t *cleared, struct problem *problem) {
    (void)records;
    (void)console;
    (void)revision;
    (void)plan;
    (void)cleared;
    return later(problem);
}
bool records_baselines(struct records *records, struct record_baselines *list, struct problem *problem) {
    (void)records;
    (void)list;
    return later(problem);
}
bool records_baseline_runs(struct records *records, const char *console, const char *revision,
                           const char *plan, unsigned parts, struct record_list *list,
                           struct problem *problem) {
    (void)records;
    (void)console;
    (void)revision;
    (void)plan;
    (void)parts;
    (void)list;
    return later(problem);
}
void record_baselines_free(struct record_baselines *list) {
    (void)list;
}
bool records_sweep_put(struct records *records, struct record_sweep *sweep, struct problem *problem) {
    (void)records;
    (void)sweep;
    return later(problem);
}
bool records_sweep_find(struct records *records, const char *definition, const char *name,
                        struct record_sweep **sweep, struct problem *problem) {
    (void)records;
    (void)definition;
    (void)name;
    (void)sweep;
    return later(problem);
}
bool records_sweep(struct records *records, int64_t id, struct record_sweep **sweep,
                   struct problem *problem) {
    (void)records;
    (void)id;
    (void)sweep;
    return later(problem);
}
void record_sweep_free(struct record_sweep *sweep) {
    (void)sweep;
}
bool records_check(struct records *records, struct problem *problem) {
    (void)records;
    return later(problem);
}
