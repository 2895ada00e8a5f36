/* Each column of what a run is kept in: another value in it is noticed when the run is read. */
#include "record/files.h"
#include "record/same.h"
#include "record/varied.h"

#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const char *const tables[] = {"consoles", "states", "plans",    "setups", "runs",  "steps",
                                     "texts",    "causes", "findings", "labels", "blobs", "run_blobs"};

/* Another value of the same kind, in all rows, or where that cannot be (what is the only one of its kind) in
 * the first one. */
static bool alter(sqlite3 *db, const char *table, const char *column, const char *type) {
    const char *other = strcmp(type, "TEXT") == 0   ? "coalesce(\"%s\", '') || 'x'"
                        : strcmp(type, "BLOB") == 0 ? "zeroblob(length(\"%s\"))"
                                                    : "coalesce(\"%s\", 0) + 1000003";
    for (int i = 0; i < 2; i++) {
        char value[128], sql[512], where[128] = "";
        snprintf(value, sizeof value, other, column);
        if (i > 0) {
            snprintf(where, sizeof where, " WHERE id = (SELECT min(id) FROM %s)", table);
        }
        snprintf(sql, sizeof sql, "UPDATE %s SET \"%s\" = %s%s", table, column, value, where);
        if (sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK) {
            return true;
        }
    }
    return false;
}

/* How many of the runs do not read; fails the test where one reads as another than it was. */
static int noticed(const struct record_list *put, const char *table, const char *column) {
    struct records *records = files_open("altered", RECORDS_READ);
    int count = 0;
    for (size_t i = 0; i < put->count; i++) {
        struct record_run *run = NULL;
        struct problem problem = {0};
        char why[400] = "";
        if (!records_run(records, put->runs[i]->id, RECORDS_ALL, &run, &problem)) {
            assert_true(problem.text[0] != '\0' && strchr(problem.text, '\n') == NULL);
            count++;
        } else if (!record_same(put->runs[i], run, RECORDS_ALL, why, sizeof why)) {
            fail_msg("%s.%s: run %zu: %s", table, column, i, why);
        }
        record_free(run);
    }
    records_close(records);
    return count;
}

static void try_column(const struct record_list *put, const char *table, const char *column, const char *type,
                       int *tried) {
    sqlite3 *db = NULL;
    files_copy(files_path("whole"), files_path("altered"));
    assert_int_equal(sqlite3_open(files_path("altered"), &db), SQLITE_OK);
    const bool done = alter(db, table, column, type);
    sqlite3_close(db);
    if (!done) {
        print_message("%s.%s: not altered\n", table, column);
        return;
    }
    ++*tried;
    /* Findings and blobs stay in their order. */
    if (noticed(put, table, column) == 0 && strcmp(column, "number") != 0) {
        fail_msg("%s.%s: nobody noticed", table, column);
    }
}

static void each_column_is_checked(void **state) {
    (void)state;
    struct invented *varied = varied_new();
    struct records *records = files_new("whole");
    int tried = 0;
    files_put(records, varied);
    records_close(records);
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        sqlite3 *db = NULL;
        sqlite3_stmt *row = NULL;
        char sql[128];
        snprintf(sql, sizeof sql, "SELECT name, type FROM pragma_table_info('%s')", tables[i]);
        assert_int_equal(sqlite3_open(files_path("whole"), &db), SQLITE_OK);
        assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &row, NULL), SQLITE_OK);
        while (sqlite3_step(row) == SQLITE_ROW) {
            try_column(&varied->runs, tables[i], (const char *)sqlite3_column_text(row, 0),
                       (const char *)sqlite3_column_text(row, 1), &tried);
        }
        sqlite3_finalize(row);
        sqlite3_close(db);
    }
    print_message("%d columns\n", tried);
    assert_true(tried > 60);
    invented_free(varied);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(each_column_is_checked)};
    return cmocka_run_group_tests(tests, files_begin, files_end);
}
