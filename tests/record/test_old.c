/* Files that earlier versions of the store made (tests/record/old, each by the tree of its time) open, are
 * brought up to date, and read the same; so they do where nothing can be written. */
#include "record/files.h"
#include "record/folder.h"
#include "record/same.h"
#include "record/shipped.h"
#include "record/varied.h"

#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

/* Versions of which a file is kept: all that there were. */
enum { FIRST = 1 };

static const char *old_file(int version) {
    static char path[1024];
    snprintf(path, sizeof path, "%s/tests/record/old/records-%d.sqlite", SOURCE_DIR, version);
    return path;
}

/* What a file of that version was given: its ids are those of a new file. */
static struct invented *put_in(int version) {
    struct invented *varied = varied_new();
    for (size_t i = 0; i < varied->runs.count; i++) {
        struct record_run *run = varied->runs.runs[i];
        run->id = (int64_t)i + 1;
        run->item = version >= 2 && i % 2 == 0 ? (int64_t)i + 1 : 0;
        run->attempt = version >= 2 ? run->attempt : 1; /* version 1 kept none */
    }
    return varied;
}

static void compare_items(struct records *records, const struct record_list *runs) {
    struct record_list list;
    struct problem problem;
    const struct records_choice all = {.with_trouble = true};
    assert_true(records_select(records, &all, 0, &list, &problem));
    assert_int_equal(list.count, runs->count);
    for (size_t i = 0; i < list.count; i++) {
        const struct record_run *run = list.runs[i];
        assert_int_equal(run->item, runs->runs[run->id - 1]->item);
    }
    record_list_free(&list);
}

static void compare_sweep(struct records *records, int version, const struct record_sweep *put) {
    struct record_sweep *sweep = NULL;
    struct problem problem;
    char why[400] = "";
    assert_true(records_sweep_find(records, NULL, NULL, &sweep, &problem));
    if (version < 2) {
        assert_null(sweep);
        return;
    }
    assert_non_null(sweep);
    if (!record_sweep_same(put, sweep, why, sizeof why)) {
        fail_msg("%s", why);
    }
    record_sweep_free(sweep);
}

static void compare_baselines(struct records *records, int version) {
    struct record_baselines list;
    struct problem problem;
    assert_true(records_baselines(records, &list, &problem));
    assert_int_equal(list.count, version < 3 ? 0 : 2);
    if (version >= 3) {
        const struct record_baseline *of_revision = &list.baselines[0], *of_console = &list.baselines[1];
        assert_string_equal(of_revision->revision, "B");
        assert_int_equal(of_revision->count, 1);
        assert_string_equal(of_console->console, "shelf 01");
        assert_int_equal(of_console->count, 2);
        assert_int_equal(of_console->runs[0] * 10 + of_console->runs[1], 13);
    }
    record_baselines_free(&list);
}

static void compare_ships(struct records *records, int version) {
    struct ship_list list;
    struct problem problem;
    struct finding findings[2];
    assert_true(records_ships(records, NULL, NULL, &list, &problem));
    assert_int_equal(list.count, version < 4 ? 0 : 2);
    for (size_t i = 0; i < list.count; i++) {
        const struct ship put = shipped_kept((int)i, findings);
        assert_string_equal(list.ships[i]->serial, put.serial);
        assert_string_equal(list.ships[i]->limits, put.limits);
        assert_int_equal(list.ships[i]->end, put.end);
        assert_int_equal(list.ships[i]->figure_count, put.figure_count);
        assert_int_equal(list.ships[i]->finding_count, put.finding_count);
        assert_int_equal(list.ships[i]->attempt, 1);
    }
    ship_list_free(&list);
}

static void compare_all(struct records *records, int version) {
    struct invented *put = put_in(version);
    struct problem problem;
    files_compare(records, &put->runs);
    compare_items(records, &put->runs);
    compare_sweep(records, version, &put->sweep);
    compare_baselines(records, version);
    compare_ships(records, version);
    if (!records_check(records, &problem)) {
        fail_msg("%s", problem.text);
    }
    invented_free(put);
}

static void each_version_is_kept(void **state) {
    (void)state;
    for (int version = FIRST; version <= RECORDS_VERSION; version++) {
        assert_int_equal(access(old_file(version), R_OK), 0);
        files_copy(old_file(version), files_path("kept"));
        assert_int_equal(files_number(files_path("kept"), "PRAGMA user_version"), version);
    }
}

static void old_files_are_brought_up_to_date(void **state) {
    (void)state;
    for (int version = FIRST; version <= RECORDS_VERSION; version++) {
        print_message("version %d\n", version);
        files_copy(old_file(version), files_path("old"));
        struct records *records = files_open("old", RECORDS_WRITE);
        compare_all(records, version);
        records_close(records);
        assert_int_equal(files_number(files_path("old"), "PRAGMA user_version"), RECORDS_VERSION);
        records = files_open("old", RECORDS_READ);
        compare_all(records, version);
        records_close(records);
    }
}

static void old_files_take_new_runs(void **state) {
    (void)state;
    for (int version = FIRST; version <= RECORDS_VERSION; version++) {
        files_copy(old_file(version), files_path("old"));
        struct invented *varied = varied_new();
        struct records *records = files_open("old", RECORDS_WRITE);
        files_put(records, varied);
        assert_int_equal(varied->runs.runs[0]->id, 13);
        files_compare(records, &varied->runs);
        records_close(records);
        /* Consoles, setups, plan and texts were there already: but for the attempt nothing is new. */
        assert_int_equal(files_number(files_path("old"), "SELECT count(*) FROM plans"), 1);
        assert_int_equal(files_number(files_path("old"), "SELECT count(*) FROM consoles"), 4);
        assert_int_equal(files_number(files_path("old"), "SELECT count(*) FROM blobs"), 3);
        invented_free(varied);
    }
}

/* All of a schema's texts in the order of their names. */
static char *schema_of(const char *path) {
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    char *all = NULL;
    size_t size = 0;
    FILE *stream = open_memstream(&all, &size);
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(db, "SELECT type, name, sql FROM sqlite_schema ORDER BY name", -1, &row, NULL),
        SQLITE_OK);
    while (sqlite3_step(row) == SQLITE_ROW) {
        const char *sql = (const char *)sqlite3_column_text(row, 2);
        fprintf(stream, "%s %s %s\n", sqlite3_column_text(row, 0), sqlite3_column_text(row, 1),
                sql == NULL ? "" : sql);
    }
    sqlite3_finalize(row);
    sqlite3_close(db);
    fclose(stream);
    return all;
}

static void schema_is_that_of_a_new_file(void **state) {
    (void)state;
    records_close(files_new("new"));
    char *fresh = schema_of(files_path("new"));
    assert_true(strlen(fresh) > 1000);
    for (int version = FIRST; version <= RECORDS_VERSION; version++) {
        files_copy(old_file(version), files_path("old"));
        records_close(files_open("old", RECORDS_WRITE));
        char *migrated = schema_of(files_path("old"));
        assert_string_equal(migrated, fresh);
        free(migrated);
    }
    free(fresh);
}

static void reading_leaves_an_old_file_alone(void **state) {
    (void)state;
    for (int version = FIRST; version < RECORDS_VERSION; version++) {
        files_copy(old_file(version), files_path("read"));
        struct records *records = files_open("read", RECORDS_READ);
        compare_all(records, version);
        records_close(records);
        assert_int_equal(files_number(files_path("read"), "PRAGMA user_version"), version);
    }
}

/* In a child process that is nobody: root may write everywhere. */
static void as_nobody(void (*work)(void)) {
    fflush(NULL);
    const pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        if (!folder_as_nobody(files_path("locked"))) {
            _exit(77);
        }
        work();
        _exit(0);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 77) {
        skip();
    }
    assert_int_equal(status, 0);
}

/* A failed assertion of cmocka's would go on in the child: plain exits instead. */
#define MUST(condition)                                                                                      \
    do {                                                                                                     \
        if (!(condition)) {                                                                                  \
            fprintf(stderr, "line %d: %s\n", __LINE__, #condition);                                          \
            _exit(1);                                                                                        \
        }                                                                                                    \
    } while (0)

static void read_the_locked(void) {
    for (int version = FIRST; version <= RECORDS_VERSION; version++) {
        struct records *records = NULL;
        struct problem problem = {0};
        struct record_list list;
        char name[64], why[400] = "";
        const struct records_choice all = {.with_trouble = true};
        snprintf(name, sizeof name, "locked/%d", version);
        if (!records_open(files_path(name), RECORDS_READ, &records, &problem)) {
            fprintf(stderr, "%s\n", problem.text);
            _exit(1);
        }
        struct invented *put = put_in(version);
        MUST(records_select(records, &all, RECORDS_ALL, &list, &problem));
        MUST(list.count == put->runs.count);
        for (size_t i = 0; i < list.count; i++) {
            const struct record_run *run = list.runs[i];
            MUST(record_same(put->runs.runs[run->id - 1], run, RECORDS_ALL, why, sizeof why));
        }
        record_list_free(&list);
        records_close(records);
        invented_free(put);
        MUST(!records_open(files_path(name), RECORDS_WRITE, &records, &problem));
        MUST(problem.kind == PROBLEM_INPUT && strstr(problem.text, "cannot be written") != NULL);
    }
}

static void old_files_are_read_where_nothing_can_be_written(void **state) {
    (void)state;
    assert_int_equal(chmod(files_path("."), 0755), 0);
    assert_int_equal(mkdir(files_path("locked"), 0755), 0);
    for (int version = FIRST; version <= RECORDS_VERSION; version++) {
        char name[64];
        snprintf(name, sizeof name, "locked/%d", version);
        files_copy(old_file(version), files_path(name));
        assert_int_equal(chmod(files_path(name), 0444), 0);
    }
    assert_int_equal(chmod(files_path("locked"), 0555), 0);
    as_nobody(read_the_locked);
    assert_int_equal(chmod(files_path("locked"), 0755), 0);
}

/* SIGXFSZ ends the process where a file grows beyond the limit: in the middle of the migration's writes. */
static bool killed_while_migrating(const char *path, rlim_t room) {
    fflush(NULL);
    const pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct records *records = NULL;
        const struct rlimit limit = {room, room};
        signal(SIGXFSZ, SIG_DFL);
        if (setrlimit(RLIMIT_FSIZE, &limit) == 0) {
            records_open(path, RECORDS_WRITE, &records, NULL);
        }
        _exit(0);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    return WIFSIGNALED(status) && WTERMSIG(status) == SIGXFSZ;
}

static void a_killed_migration_leaves_the_old_file(void **state) {
    (void)state;
    enum {
        STEP = 4096 + 24,
        MOST = 1 << 19
    }; /* a frame of the WAL: a page and its header [S sqlite.org, WAL format] */
    int killed = 0;
    for (rlim_t room = 32; room < MOST; room += STEP) {
        files_copy(old_file(1), files_path("old"));
        if (!killed_while_migrating(files_path("old"), room)) {
            break;
        }
        killed++;
        assert_int_equal(files_number(files_path("old"), "PRAGMA user_version"), 1);
        struct records *records = files_open("old", RECORDS_READ);
        compare_all(records, 1);
        records_close(records);
    }
    print_message("killed at %d places\n", killed);
    assert_true(killed >= 5);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_version_is_kept),
        cmocka_unit_test(old_files_are_brought_up_to_date),
        cmocka_unit_test(old_files_take_new_runs),
        cmocka_unit_test(schema_is_that_of_a_new_file),
        cmocka_unit_test(reading_leaves_an_old_file_alone),
        cmocka_unit_test(old_files_are_read_where_nothing_can_be_written),
        cmocka_unit_test(a_killed_migration_leaves_the_old_file),
    };
    return cmocka_run_group_tests(tests, files_begin, files_end);
}
