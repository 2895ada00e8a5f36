/* Runs in: each whole or not at all. */
#include "record/pack.h"
#include "record/records_inside.h"

#include <stdlib.h>

enum { FIRST_FIGURE = 6 }; /* of SQL_RUN_PUT */

static bool put_row(struct records *records, struct arena *arena, const struct record_run *run, int64_t setup,
                    int64_t *id) {
    struct run_row row = {.problem = arena_clean(arena, run->problem, false, false),
                          .setup = setup,
                          .item = run->item,
                          .attempt = run->attempt > 1 ? run->attempt : 1,
                          .parts = parts_of(arena, run)};
    sqlite3_stmt *put = sql_ready(records, SQL_RUN_PUT);
    if (put == NULL) {
        return false;
    }
    figures_of(run, &row.figures);
    sqlite3_bind_int64(put, 1, setup);
    if (row.problem[0] != '\0') {
        sql_text(put, 2, row.problem);
    }
    sqlite3_bind_int64(put, 3, run_row_sum(&row));
    if (row.item != 0) {
        sqlite3_bind_int64(put, 4, row.item);
    }
    if (row.attempt != 1) {
        sqlite3_bind_int64(put, 5, row.attempt);
    }
    for (int i = 0; i < FIGURES; i++) {
        if (!row.figures.none[i]) {
            sqlite3_bind_int64(put, FIRST_FIGURE + i, row.figures.value[i]);
        }
    }
    if (!sql_done(put)) {
        return false;
    }
    *id = sqlite3_last_insert_rowid(records->db);
    return true;
}

static bool put_steps(struct records *records, const struct record_run *run, int64_t id,
                      struct problem *problem) {
    uint8_t *packed = NULL;
    size_t size = 0;
    if (run->step_count == 0) {
        return true;
    }
    if (!pack_steps(run->plan, run->steps, run->step_count, &packed, &size)) {
        return records_memory(records, problem);
    }
    sqlite3_stmt *put = sql_ready(records, SQL_STEPS_PUT);
    bool good = put != NULL;
    if (good) {
        sqlite3_bind_int64(put, 1, id);
        sql_bytes(put, 2, packed, size);
        good = sql_done(put);
    }
    free(packed);
    return good || records_problem(records, problem);
}

/* The one thing of a run's row that another program, or a sweep file, has the say of. */
static bool unknown_item(struct records *records, const struct record_run *run, struct problem *problem) {
    return problem_set(problem, PROBLEM_INPUT, "%s: has no sweep with the item %lld: begin the sweep anew",
                       records->file, (long long)run->item);
}

static bool put_all(struct records *records, struct arena *arena, const struct record_run *run, int64_t *id,
                    struct problem *problem) {
    int64_t setup = 0;
    if (!setup_find_or_put(records, arena, run, &setup, problem)) {
        return false;
    }
    if (!put_row(records, arena, run, setup, id)) {
        return sqlite3_errcode(records->db) == SQLITE_CONSTRAINT ? unknown_item(records, run, problem)
                                                                 : records_problem(records, problem);
    }
    if (!put_steps(records, run, *id, problem)) {
        return false;
    }
    if (!findings_put(records, arena, run, *id) || !blobs_put(records, arena, run, *id)) {
        return records_problem(records, problem);
    }
    return !arena->failed || records_memory(records, problem);
}

/* After a failure: what was begun is taken back. A full disk takes the whole transaction with it. */
static void undo(struct records *records) {
    if (records->batch && !sqlite3_get_autocommit(records->db)) {
        sql_run(records, SQL_BACK);
        sql_run(records, SQL_RELEASE);
    } else if (!sqlite3_get_autocommit(records->db)) {
        sql_run(records, SQL_ROLLBACK);
    }
    records->lost = records->batch && sqlite3_get_autocommit(records->db);
    setups_forget(records);
    plans_forget(records);
}

bool records_change(struct records *records, struct problem *problem) {
    if (records->lost) {
        return problem_set(problem, PROBLEM_BENCH, "%s: recording had failed: begin again", records->file);
    }
    return sql_run(records, records->batch ? SQL_SAVE : SQL_BEGIN) || records_problem(records, problem);
}

bool records_changed(struct records *records, bool good, struct problem *problem) {
    good = good &&
           (sql_run(records, records->batch ? SQL_RELEASE : SQL_COMMIT) || records_problem(records, problem));
    if (!good) {
        undo(records);
    }
    return good;
}

bool records_put(struct records *records, struct record_run *run, struct problem *problem) {
    struct arena arena = {0};
    int64_t id = 0;
    const bool good = records_change(records, problem) &&
                      records_changed(records, put_all(records, &arena, run, &id, problem), problem);
    if (good) {
        run->id = id;
    }
    arena_free(&arena);
    return good;
}

bool records_begin(struct records *records, struct problem *problem) {
    if (!sql_run(records, SQL_BEGIN)) {
        return records_problem(records, problem);
    }
    records->batch = true;
    records->lost = false;
    return true;
}

bool records_end(struct records *records, struct problem *problem) {
    const bool lost = records->lost;
    records->batch = false;
    records->lost = false;
    if (lost) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%s: recording failed in the middle: none of these runs is kept", records->file);
    }
    if (sql_run(records, SQL_COMMIT)) {
        return true;
    }
    records_problem(records, problem);
    undo(records);
    return false;
}
