#include "record/files.h"

#include "record/same.h"

#include <fcntl.h>
#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

enum { PATH_SIZE = 512, PATHS = 8 };
static char folder[PATH_SIZE];

int files_begin(void **state) {
    (void)state;
    const char *above = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/slotjig-record-XXXXXX", above != NULL ? above : "/tmp");
    return mkdtemp(folder) != NULL ? 0 : -1;
}

int files_end(void **state) {
    (void)state;
    char command[PATH_SIZE + 32];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

const char *files_path(const char *name) {
    static char paths[PATHS][2 * PATH_SIZE];
    static int next;
    char *path = paths[next++ % PATHS];
    snprintf(path, 2 * PATH_SIZE, "%s/%s", folder, name);
    return path;
}

void files_write(const char *path, const void *bytes, size_t size) {
    FILE *stream = fopen(path, "wb");
    assert_non_null(stream);
    assert_int_equal(fwrite(bytes, 1, size, stream), size);
    assert_int_equal(fclose(stream), 0);
}

static bool copy_one(const char *from, const char *to) {
    char block[65536];
    FILE *in = fopen(from, "rb");
    if (in == NULL) {
        return false;
    }
    FILE *out = fopen(to, "wb");
    assert_non_null(out);
    for (size_t size; (size = fread(block, 1, sizeof block, in)) > 0;) {
        assert_int_equal(fwrite(block, 1, size, out), size);
    }
    assert_int_equal(fclose(out), 0);
    fclose(in);
    return true;
}

void files_copy(const char *from, const char *to) {
    char from_wal[2 * PATH_SIZE + 8], to_wal[2 * PATH_SIZE + 8];
    snprintf(from_wal, sizeof from_wal, "%s-wal", from);
    snprintf(to_wal, sizeof to_wal, "%s-wal", to);
    assert_true(copy_one(from, to));
    if (!copy_one(from_wal, to_wal)) {
        unlink(to_wal);
    }
}

struct records *files_open(const char *name, enum records_use use) {
    struct records *records = NULL;
    struct problem problem = {0};
    if (!records_open(files_path(name), use, &records, &problem)) {
        fail_msg("%s", problem.text);
    }
    return records;
}

struct records *files_new(const char *name) {
    static const char *const ends[] = {"", "-wal", "-shm"};
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        char gone[PATH_SIZE];
        snprintf(gone, sizeof gone, "%s%s", name, ends[i]);
        unlink(files_path(gone));
    }
    return files_open(name, RECORDS_WRITE);
}

void files_put(struct records *records, const struct invented *invented) {
    struct problem problem = {0};
    for (size_t i = 0; i < invented->runs.count; i++) {
        if (!records_put(records, invented->runs.runs[i], &problem)) {
            fail_msg("%s", problem.text);
        }
    }
}

void files_compare(struct records *records, const struct record_list *runs) {
    for (size_t i = 0; i < runs->count; i++) {
        struct record_run *run = NULL;
        struct problem problem = {0};
        char why[400] = "";
        if (!records_run(records, runs->runs[i]->id, RECORDS_ALL, &run, &problem) ||
            !record_same(runs->runs[i], run, RECORDS_ALL, why, sizeof why)) {
            fail_msg("run %zu: %s%s", i, problem.text, why);
        }
        record_free(run);
    }
}

long long files_number(const char *path, const char *sql) {
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = NULL;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK) {
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    }
    const int step = sqlite3_step(statement);
    const long long number = step == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : 0;
    if (step != SQLITE_ROW && step != SQLITE_DONE) {
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    }
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return number;
}

void files_problem(const struct problem *problem, enum problem_kind kind, const char *words) {
    if (problem->kind != kind || strstr(problem->text, words) == NULL ||
        strchr(problem->text, '\n') != NULL) {
        fail_msg("not what was awaited (kind %d, \"%s\"): kind %d, \"%s\"", (int)kind, words,
                 (int)problem->kind, problem->text);
    }
}
