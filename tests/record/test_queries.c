/* How SQLite goes about the store's questions: by its indexes, never through all runs. */
#include "record/files.h"
#include "record/records_inside.h"

#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { QUESTIONS = 200, SQL_SIZE = 4096 };
static char asked[QUESTIONS][SQL_SIZE];
static int asked_count;

/* Each text once. */
static int note(unsigned kind, void *user, void *statement, void *text) {
    (void)kind, (void)user, (void)text;
    const char *sql = sqlite3_sql(statement);
    for (int i = 0; i < asked_count; i++) {
        if (strcmp(asked[i], sql) == 0) {
            return 0;
        }
    }
    assert_true(asked_count < QUESTIONS && strlen(sql) < SQL_SIZE);
    strcpy(asked[asked_count++], sql);
    return 0;
}

static void watch(struct records *records) {
    asked_count = 0;
    assert_int_equal(sqlite3_trace_v2(records->db, SQLITE_TRACE_STMT, note, NULL), SQLITE_OK);
}

/* Whether SQLite goes through a whole table, or a whole index, for it. */
static bool scans(struct records *records, const char *sql, char *how, size_t size) {
    sqlite3_stmt *row = NULL;
    char explain[SQL_SIZE + 32];
    bool found = false;
    snprintf(explain, sizeof explain, "EXPLAIN QUERY PLAN %s", sql);
    assert_int_equal(sqlite3_prepare_v2(records->db, explain, -1, &row, NULL), SQLITE_OK);
    how[0] = '\0';
    while (sqlite3_step(row) == SQLITE_ROW) {
        const char *detail = (const char *)sqlite3_column_text(row, 3);
        found |= strncmp(detail, "SCAN", 4) == 0 && strncmp(detail, "SCAN (subquery", 14) != 0;
        const size_t used = strlen(how);
        snprintf(how + used, size - used, "%s; ", detail);
    }
    sqlite3_finalize(row);
    return found;
}

static void none_scans(struct records *records, int least) {
    char how[2000];
    sqlite3_trace_v2(records->db, 0, NULL, NULL);
    assert_true(asked_count >= least);
    for (int i = 0; i < asked_count; i++) {
        if (scans(records, asked[i], how, sizeof how)) {
            fail_msg("%s\n%s", asked[i], how);
        }
    }
}

static struct records *filled(struct invented **shelf) {
    struct records *records = files_new("queries");
    struct problem problem;
    *shelf = invented_new(1, 7, 98, 2);
    assert_true(records_sweep_put(records, &(*shelf)->sweep, &problem));
    for (size_t i = 0; i < (*shelf)->runs.count; i++) {
        (*shelf)->runs.runs[i]->item = (*shelf)->sweep.items[i].id;
    }
    files_put(records, *shelf);
    return records;
}

static void runs_are_chosen_by_index(void **state) {
    (void)state;
    struct invented *shelf;
    struct records *records = filled(&shelf);
    const struct records_choice choices[] = {
        {.console = "shelf 01"},
        {.console = "shelf 01", .last = 5},
        {.console = "shelf 01", .plan = "bits", .since_ms = 5, .until_ms = INT64_MAX},
        {.revision = "A"},
        {.plan = "bits"},
        {.plan_id = shelf->plan.id, .bench = "table"},
        {.sweep = 1},
        {.sweep = 1, .console = "shelf 01", .plan = "bits"},
        {.since_ms = 1, .until_ms = INT64_MAX},
    };
    for (size_t i = 0; i < sizeof choices / sizeof *choices; i++) {
        struct record_list list;
        struct problem problem;
        watch(records);
        assert_true(records_select(records, &choices[i], RECORDS_ALL, &list, &problem));
        assert_true(list.count > 0);
        record_list_free(&list);
        none_scans(records, 1);
    }
    records_close(records);
    invented_free(shelf);
}

/* The latest of all: along the index of time, only as far as is asked for. */
static void the_latest_are_the_end_of_an_index(void **state) {
    (void)state;
    struct invented *shelf;
    struct records *records = filled(&shelf);
    const struct records_choice choice = {.last = 3};
    struct record_list list;
    struct problem problem;
    char how[2000];
    watch(records);
    assert_true(records_select(records, &choice, 0, &list, &problem));
    assert_int_equal(list.count, 3);
    record_list_free(&list);
    sqlite3_trace_v2(records->db, 0, NULL, NULL);
    scans(records, asked[0], how, sizeof how);
    assert_non_null(strstr(how, "SCAN runs USING INDEX runs_by_time"));
    /* Three are put in order for the answer, not all. */
    const char *first = strstr(how, "SCAN runs"), *sorted = strstr(how, "USE TEMP B-TREE");
    assert_true(sorted == NULL || sorted > first);
    assert_null(strstr(how, "USE TEMP B-TREE FOR ORDER BY; SCAN (subquery"));
    records_close(records);
    invented_free(shelf);
}

static void putting_looks_nothing_up_by_walking(void **state) {
    (void)state;
    struct invented *shelf;
    struct records *records = filled(&shelf);
    const int64_t baseline[] = {1, 2};
    struct problem problem;
    size_t cleared;
    watch(records);
    assert_int_equal(shelf->runs.runs[13]->finding_count, 1);
    shelf->runs.runs[6]->tool = "another"; /* a setup of its own */
    assert_true(records_put(records, shelf->runs.runs[6], &problem));
    assert_true(records_put(records, shelf->runs.runs[13], &problem)); /* with a finding */
    assert_true(records_sweep_put(records, &shelf->sweep, &problem));
    assert_true(records_baseline_set(records, "shelf 01", NULL, baseline, 2, &problem));
    assert_true(records_baseline_clear(records, "shelf 01", NULL, "bits", &cleared, &problem));
    none_scans(records, 20);
    records_close(records);
    invented_free(shelf);
}

/* All statements that are prepared beforehand are SQL, and none lacks its text. */
static void all_statements_are_sql(void **state) {
    (void)state;
    struct records *records = files_new("queries");
    for (int i = 0; i < STATEMENTS; i++) {
        if (sql_ready(records, (enum statement)i) == NULL) {
            fail_msg("statement %d: %s", i, sqlite3_errmsg(records->db));
        }
    }
    records_close(records);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(runs_are_chosen_by_index),
        cmocka_unit_test(the_latest_are_the_end_of_an_index),
        cmocka_unit_test(putting_looks_nothing_up_by_walking),
        cmocka_unit_test(all_statements_are_sql),
    };
    return cmocka_run_group_tests(tests, files_begin, files_end);
}
