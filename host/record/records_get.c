/* Runs out, in one piece of memory each; what runs have in common is shared. */
#include "record/pack.h"
#include "record/records_inside.h"

#include <stdlib.h>
#include <string.h>

struct kept_run {
    struct record_run run; /* the first: what others see of it */
    struct kept_setup *setup;
    int64_t parts; /* see records_parts.c */
    struct arena arena;
};

/* RUN_COLUMNS */
enum { ID, SETUP, PROBLEM_TEXT, SUM, ITEM, ATTEMPT, FIRST_FIGURE };

static void read_columns(sqlite3_stmt *from, struct arena *arena, struct run_row *row) {
    *row = (struct run_row){.problem = sql_get_text(from, PROBLEM_TEXT, arena),
                            .setup = sqlite3_column_int64(from, SETUP),
                            .item = sqlite3_column_int64(from, ITEM),
                            .attempt = sqlite3_column_int64(from, ATTEMPT),
                            .parts = sqlite3_column_int64(from, SUM) >> RUN_SUM_BITS};
    row->attempt = row->attempt == 0 ? 1 : row->attempt;
    for (int i = 0; i < FIGURES; i++) {
        row->figures.value[i] = sqlite3_column_int64(from, FIRST_FIGURE + i);
        row->figures.none[i] = sqlite3_column_type(from, FIRST_FIGURE + i) == SQLITE_NULL;
    }
}

/* The sweep of a run that belongs to one, and its repeat. */
static bool read_item(struct records *records, struct record_run *run, struct problem *problem) {
    sqlite3_stmt *row = sql_ready(records, SQL_ITEM_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(row, 1, run->item);
    const int step = sqlite3_step(row);
    if (step == SQLITE_ROW) {
        run->sweep = sqlite3_column_int64(row, 0);
        run->repeat = sqlite3_column_int(row, 1);
    }
    sqlite3_reset(row);
    return step == SQLITE_ROW || (step == SQLITE_DONE ? records_damaged(records, "run", run->id, problem)
                                                      : records_problem(records, problem));
}

static bool read_row(struct records *records, sqlite3_stmt *from, struct kept_run *kept,
                     struct problem *problem) {
    struct run_row row;
    const int64_t id = sqlite3_column_int64(from, ID);
    read_columns(from, &kept->arena, &row);
    if (run_row_sum(&row) != sqlite3_column_int64(from, SUM)) {
        return records_damaged(records, "run", id, problem);
    }
    kept->setup = setup_get(records, row.setup, problem);
    if (kept->setup == NULL) {
        return false;
    }
    kept->run = kept->setup->texts;
    kept->run.id = id;
    kept->run.problem = row.problem;
    kept->run.item = row.item;
    kept->run.attempt = (int)row.attempt;
    kept->parts = row.parts;
    if (row.item != 0 && !read_item(records, &kept->run, problem)) {
        return false;
    }
    return figures_give(&row.figures, &kept->run) || records_damaged(records, "run", id, problem);
}

static bool read_steps(struct records *records, struct kept_run *kept, struct problem *problem) {
    sqlite3_stmt *row = sql_ready(records, SQL_STEPS_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(row, 1, kept->run.id);
    const int step = sqlite3_step(row);
    bool good = step == SQLITE_ROW || step == SQLITE_DONE || records_problem(records, problem);
    if (step == SQLITE_ROW) {
        struct step_result *steps = NULL;
        good =
            unpack_steps(&kept->setup->plan->plan, sqlite3_column_blob(row, 0),
                         (size_t)sqlite3_column_bytes(row, 0), &kept->arena, &steps, &kept->run.step_count);
        good = good || records_damaged(records, "the steps of run", kept->run.id, problem);
        kept->run.steps = steps;
    }
    sqlite3_reset(row);
    return good;
}

struct record_run *run_read(struct records *records, sqlite3_stmt *row, unsigned parts,
                            struct problem *problem) {
    struct kept_run *kept = calloc(1, sizeof *kept);
    if (kept == NULL) {
        records_memory(records, problem);
        return NULL;
    }
    if (read_row(records, row, kept, problem) &&
        (!(parts & RECORDS_STEPS) || read_steps(records, kept, problem)) &&
        (!(parts & RECORDS_FINDINGS) || findings_get(records, &kept->arena, &kept->run, problem)) &&
        (!(parts & RECORDS_BLOBS) || blobs_get(records, &kept->arena, &kept->run, problem))) {
        if (parts_agree(&kept->arena, kept->parts, &kept->run, parts) && !kept->arena.failed) {
            return &kept->run;
        }
        kept->arena.failed ? records_memory(records, problem)
                           : records_damaged(records, "a part of run", kept->run.id, problem);
    }
    record_free(&kept->run);
    return NULL;
}

bool records_run(struct records *records, int64_t id, unsigned parts, struct record_run **run,
                 struct problem *problem) {
    *run = NULL;
    sqlite3_stmt *row = sql_ready(records, SQL_RUN_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(row, 1, id);
    const int step = sqlite3_step(row);
    if (step == SQLITE_ROW) {
        *run = run_read(records, row, parts, problem);
    } else if (step == SQLITE_DONE) {
        problem_set(problem, PROBLEM_INPUT, "%s: has no run %lld: `slotjig history` lists what it has",
                    records->file, (long long)id);
    } else {
        records_problem(records, problem);
    }
    sqlite3_reset(row);
    return *run != NULL;
}

void record_free(struct record_run *run) {
    if (run != NULL) {
        struct kept_run *kept = (struct kept_run *)(void *)run; /* its first member */
        setup_release(kept->setup);
        arena_free(&kept->arena);
        free(kept);
    }
}

void record_list_free(struct record_list *list) {
    for (size_t i = 0; i < list->count; i++) {
        record_free(list->runs[i]);
    }
    free(list->runs);
    *list = (struct record_list){0};
}
