/* Baselines: which runs later ones are held against. */
#include "base/date.h"
#include "record/records_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RUNS_MOST = 1 << 20, LIST_MOST = 1 << 20 };

/* Whose: a console's row, or a revision's text (console 0). */
struct whose {
    int64_t console;
    const char *revision;
};

/* A row of consoles, 0 where there is none of that name; -1: failed. */
static int64_t console_row(struct records *records, struct arena *arena, const char *name) {
    sqlite3_stmt *find = sql_ready(records, SQL_CONSOLE_FIND);
    int64_t row = 0;
    if (find == NULL) {
        return -1;
    }
    sql_text(find, 1, arena_clean(arena, name, false, false));
    return sql_number(find, &row) < 0 ? -1 : row;
}

static bool whose_of(struct records *records, struct arena *arena, const char *console, const char *revision,
                     struct whose *whose, struct problem *problem) {
    if ((console == NULL) == (revision == NULL)) {
        return problem_set(problem, PROBLEM_INPUT, "a baseline is of one console or of one revision");
    }
    *whose = (struct whose){.revision = arena_clean(arena, revision, false, false)};
    if (revision != NULL) {
        return whose->revision[0] != '\0' ||
               problem_set(problem, PROBLEM_INPUT, "a baseline needs the name of a revision");
    }
    whose->console = console_row(records, arena, console);
    if (whose->console < 0) {
        return records_problem(records, problem);
    }
    return whose->console > 0 ||
           problem_set(problem, PROBLEM_INPUT, "%s: has no console \"%.200s\": `slotjig history` lists them",
                       records->file, arena_clean(arena, console, false, false));
}

/* The one of the two that counts is bound, the other stays NULL, which nothing equals. */
static void bind_whose(sqlite3_stmt *statement, int place, const struct whose *whose) {
    if (whose->console > 0) {
        sqlite3_bind_int64(statement, place, whose->console);
    } else {
        sql_text(statement, place + 1, whose->revision);
    }
}

/* The plan of a run; 0: there is no such run. */
static bool plan_of(struct records *records, int64_t run, int64_t *plan, struct problem *problem) {
    sqlite3_stmt *find = sql_ready(records, SQL_RUN_PLAN);
    if (find == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(find, 1, run);
    const int found = sql_number(find, plan);
    if (found == 0) {
        return problem_set(problem, PROBLEM_INPUT, "%s: has no run %lld: `slotjig history` lists what it has",
                           records->file, (long long)run);
    }
    return found > 0 || records_problem(records, problem);
}

static bool one_plan(struct records *records, const int64_t *runs, size_t count, int64_t *plan,
                     struct problem *problem) {
    if (count == 0) {
        return problem_set(problem, PROBLEM_INPUT, "a baseline needs at least one run");
    }
    for (size_t i = 0; i < count; i++) {
        int64_t other = 0;
        if (!plan_of(records, runs[i], i == 0 ? plan : &other, problem)) {
            return false;
        }
        if (i > 0 && other != *plan) {
            return problem_set(problem, PROBLEM_INPUT,
                               "runs %lld and %lld are of different plans: a baseline is of one plan",
                               (long long)runs[0], (long long)runs[i]);
        }
    }
    return true;
}

static bool put_row(struct records *records, const struct whose *whose, int64_t plan, int64_t *id) {
    sqlite3_stmt *drop_runs = sql_ready(records, SQL_BASELINE_DROP_RUNS);
    sqlite3_stmt *drop = sql_ready(records, SQL_BASELINE_DROP), *put = sql_ready(records, SQL_BASELINE_PUT);
    if (drop_runs == NULL || drop == NULL || put == NULL) {
        return false;
    }
    bind_whose(drop_runs, 1, whose);
    sqlite3_bind_int64(drop_runs, 3, plan);
    bind_whose(drop, 1, whose);
    sqlite3_bind_int64(drop, 3, plan);
    bind_whose(put, 1, whose);
    sqlite3_bind_int64(put, 3, plan);
    sqlite3_bind_int64(put, 4, date_now_ms());
    if (!sql_done(drop_runs) || !sql_done(drop) || !sql_done(put)) {
        return false;
    }
    *id = sqlite3_last_insert_rowid(records->db);
    return true;
}

static bool put_runs(struct records *records, int64_t baseline, const int64_t *runs, size_t count) {
    sqlite3_stmt *put = sql_ready(records, SQL_BASELINE_RUN_PUT);
    for (size_t i = 0; i < count && put != NULL; i++) {
        sqlite3_bind_int64(put, 1, baseline);
        sqlite3_bind_int64(put, 2, runs[i]);
        if (!sql_done(put)) {
            return false;
        }
    }
    return put != NULL;
}

static bool set_all(struct records *records, struct arena *arena, const char *console, const char *revision,
                    const int64_t *runs, size_t count, struct problem *problem) {
    struct whose whose = {0};
    int64_t plan = 0, id = 0;
    if (!whose_of(records, arena, console, revision, &whose, problem) ||
        !one_plan(records, runs, count, &plan, problem)) {
        return false;
    }
    return (put_row(records, &whose, plan, &id) && put_runs(records, id, runs, count)) ||
           records_problem(records, problem);
}

bool records_baseline_set(struct records *records, const char *console, const char *revision,
                          const int64_t *runs, size_t count, struct problem *problem) {
    struct arena arena = {0};
    const bool good =
        records_change(records, problem) &&
        records_changed(records, set_all(records, &arena, console, revision, runs, count, problem), problem);
    arena_free(&arena);
    return good;
}

static bool clear_all(struct records *records, struct arena *arena, const char *console, const char *revision,
                      const char *plan, size_t *cleared, struct problem *problem) {
    struct whose whose = {0};
    if (!whose_of(records, arena, console, revision, &whose, problem)) {
        return false;
    }
    const enum statement drops[] = {SQL_BASELINES_CLEAR_RUNS, SQL_BASELINES_CLEAR};
    for (int i = 0; i < 2; i++) {
        sqlite3_stmt *drop = sql_ready(records, drops[i]);
        if (drop == NULL) {
            return records_problem(records, problem);
        }
        bind_whose(drop, 1, &whose);
        if (plan != NULL) {
            sql_text(drop, 3, arena_clean(arena, plan, false, false));
        }
        if (!sql_done(drop)) {
            return records_problem(records, problem);
        }
    }
    *cleared = (size_t)sqlite3_changes(records->db);
    return true;
}

bool records_baseline_clear(struct records *records, const char *console, const char *revision,
                            const char *plan, size_t *cleared, struct problem *problem) {
    struct arena arena = {0};
    size_t count = 0;
    const bool good =
        records_change(records, problem) &&
        records_changed(records, clear_all(records, &arena, console, revision, plan, &count, problem),
                        problem);
    if (cleared != NULL) {
        *cleared = good ? count : 0;
    }
    arena_free(&arena);
    return good;
}

/* The runs of a baseline, by their start. */
static bool read_runs(struct records *records, struct record_baseline *baseline, struct problem *problem) {
    sqlite3_stmt *row = sql_ready(records, SQL_BASELINE_RUNS);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(row, 1, baseline->id);
    int step;
    while ((step = sqlite3_step(row)) == SQLITE_ROW) {
        if (baseline->count % 16 == 0) {
            int64_t *runs = realloc(baseline->runs, (baseline->count + 16) * sizeof *runs);
            if (runs == NULL || baseline->count > RUNS_MOST) {
                baseline->runs = runs != NULL ? runs : baseline->runs;
                sqlite3_reset(row);
                return records_memory(records, problem);
            }
            baseline->runs = runs;
        }
        baseline->runs[baseline->count++] = sqlite3_column_int64(row, 0);
    }
    const bool good = step == SQLITE_DONE || records_problem(records, problem);
    sqlite3_reset(row);
    return good;
}

/* Appends the row's; what it points to is the list's. */
static bool read_row(struct records *records, sqlite3_stmt *row, struct record_baselines *list,
                     struct problem *problem) {
    struct record_baseline *larger = realloc(list->baselines, (list->count + 1) * sizeof *larger);
    if (larger == NULL || list->count > LIST_MOST) {
        list->baselines = larger != NULL ? larger : list->baselines;
        return records_memory(records, problem);
    }
    list->baselines = larger;
    struct record_baseline *baseline = &list->baselines[list->count++];
    *baseline = (struct record_baseline){.id = sqlite3_column_int64(row, 0),
                                         .made_ms = sqlite3_column_int64(row, 1),
                                         .console = sql_strdup(row, 2),
                                         .revision = sql_strdup(row, 3),
                                         .plan = sql_strdup(row, 4),
                                         .plan_id = sql_strdup(row, 5)};
    if (baseline->console == NULL || baseline->revision == NULL || baseline->plan == NULL ||
        baseline->plan_id == NULL) {
        return records_memory(records, problem);
    }
    return read_runs(records, baseline, problem);
}

bool records_baselines(struct records *records, struct record_baselines *list, struct problem *problem) {
    *list = (struct record_baselines){0};
    sqlite3_stmt *row = sql_ready(records, SQL_BASELINES);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    int step;
    bool good = true;
    while ((step = sqlite3_step(row)) == SQLITE_ROW && good) {
        good = read_row(records, row, list, problem);
    }
    good = good && (step == SQLITE_DONE || records_problem(records, problem));
    sqlite3_reset(row);
    if (!good) {
        record_baselines_free(list);
    }
    return good;
}

void record_baselines_free(struct record_baselines *list) {
    for (size_t i = 0; i < list->count; i++) {
        const struct record_baseline *baseline = &list->baselines[i];
        free((void *)baseline->console);
        free((void *)baseline->revision);
        free((void *)baseline->plan);
        free((void *)baseline->plan_id);
        free(baseline->runs);
    }
    free(list->baselines);
    *list = (struct record_baselines){0};
}

/* The baseline that counts; 0: none. */
static bool which(struct records *records, struct arena *arena, const char *console, const char *revision,
                  const char *plan, int64_t *id, struct problem *problem) {
    const char *const names[] = {console, revision};
    const enum statement finds[] = {SQL_BASELINE_OF_CONSOLE, SQL_BASELINE_OF_REVISION};
    *id = 0;
    for (int i = 0; i < 2 && *id == 0; i++) {
        if (names[i] == NULL || names[i][0] == '\0') {
            continue;
        }
        sqlite3_stmt *find = sql_ready(records, finds[i]);
        if (find == NULL) {
            return records_problem(records, problem);
        }
        sql_text(find, 1, arena_clean(arena, names[i], false, false));
        sql_text(find, 2, arena_clean(arena, plan, false, false));
        if (finds[i] == SQL_BASELINE_OF_REVISION) {
            sql_text(find, 3, arena_clean(arena, console, false, false));
        }
        if (sql_number(find, id) < 0) {
            return records_problem(records, problem);
        }
    }
    return !arena->failed || records_memory(records, problem);
}

bool records_baseline_runs(struct records *records, const char *console, const char *revision,
                           const char *plan, unsigned parts, struct record_list *list,
                           struct problem *problem) {
    struct arena arena = {0};
    struct record_baseline baseline = {0};
    *list = (struct record_list){0};
    bool good = which(records, &arena, console, revision, plan, &baseline.id, problem) &&
                (baseline.id == 0 || read_runs(records, &baseline, problem));
    if (good && baseline.count > 0) {
        list->runs = calloc(baseline.count, sizeof(struct record_run *));
        good = list->runs != NULL || records_memory(records, problem);
    }
    for (size_t i = 0; i < baseline.count && good; i++) {
        good = records_run(records, baseline.runs[i], parts, &list->runs[i], problem);
        list->count += good;
    }
    if (!good) {
        record_list_free(list);
    }
    free(baseline.runs);
    arena_free(&arena);
    return good;
}
