/* What is no store is refused in one line that says what to do, and is left as it is. */
#include "record/files.h"
#include "record/folder.h"

#include <fcntl.h>
#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static void refused(const char *path, enum records_use use, enum problem_kind kind, const char *words) {
    struct records *records = (struct records *)(void *)&use; /* not NULL */
    struct problem problem = {0};
    assert_false(records_open(path, use, &records, &problem));
    assert_null(records);
    files_problem(&problem, kind, words);
}

/* Either way of use. */
static void refused_both(const char *path, const char *words) {
    refused(path, RECORDS_READ, PROBLEM_INPUT, words);
    refused(path, RECORDS_WRITE, PROBLEM_INPUT, words);
}

static void nothing_there_to_read(void **state) {
    (void)state;
    refused(files_path("absent"), RECORDS_READ, PROBLEM_INPUT, "nothing was recorded there yet");
    assert_int_not_equal(access(files_path("absent"), F_OK), 0);
}

static void not_a_file(void **state) {
    (void)state;
    refused_both("", "needs the name of a file");
    refused_both(files_path("."), "not a file");
    refused_both("/dev/null", "not a file");
    char longer[RECORDS_PATH_MAX + 10];
    memset(longer, 'x', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    refused_both(longer, "needs the name of a file");
}

static void no_database(void **state) {
    (void)state;
    static const char text[] =
        "Dear diary, this is a text of more than a hundred bytes, so that nobody can take it "
        "for the beginning of a database that was not written to its end.";
    files_write(files_path("text"), text, sizeof text);
    refused_both(files_path("text"), "no store of records");
    struct stat about;
    assert_int_equal(stat(files_path("text"), &about), 0);
    assert_int_equal(about.st_size, sizeof text);
}

static void another_programs(void **state) {
    (void)state;
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(files_path("other"), &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "CREATE TABLE runs (id INTEGER)", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    refused_both(files_path("other"), "of another program");
    files_number(files_path("other"), "PRAGMA application_id = 252006673");
    refused_both(files_path("other"), "of another program");
    assert_int_equal(files_number(files_path("other"), "SELECT count(*) FROM sqlite_schema"), 1);
    /* Its journal is not ours to change: bytes 18 and 19 say 1 as long as it is not the WAL's [S sqlite.org,
     * file format, 1.3]. */
    unsigned char head[20] = {0};
    FILE *stream = fopen(files_path("other"), "rb");
    assert_int_equal(fread(head, 1, sizeof head, stream), sizeof head);
    fclose(stream);
    assert_int_equal(head[18] * 10 + head[19], 11);
}

static void newer_ones(void **state) {
    (void)state;
    records_close(files_new("newer"));
    char newer[64], words[64];
    snprintf(newer, sizeof newer, "PRAGMA user_version = %d", RECORDS_VERSION + 1);
    snprintf(words, sizeof words, "by a newer slotjig (version %d", RECORDS_VERSION + 1);
    files_number(files_path("newer"), newer);
    refused_both(files_path("newer"), words);
    assert_int_equal(files_number(files_path("newer"), "PRAGMA user_version"), RECORDS_VERSION + 1);
}

/* Not even a copy in memory is made of what no program has written. */
static void versions_that_never_were(void **state) {
    (void)state;
    static const char *const numbers[] = {"PRAGMA user_version = 0", "PRAGMA user_version = -1",
                                          "PRAGMA user_version = -2147483648"};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        records_close(files_new("never"));
        files_number(files_path("never"), numbers[i]);
        refused(files_path("never"), RECORDS_READ, PROBLEM_BENCH, "the file is damaged (version ");
        refused(files_path("never"), RECORDS_WRITE, PROBLEM_BENCH, "the file is damaged (version ");
        assert_int_equal(unlink(files_path("never")), 0);
    }
}

static void empty_files_are_new_stores(void **state) {
    (void)state;
    files_write(files_path("empty"), "", 0);
    struct records *records = files_open("empty", RECORDS_READ);
    struct record_list list;
    const struct records_choice all = {0};
    assert_true(records_select(records, &all, RECORDS_ALL, &list, NULL));
    assert_int_equal(list.count, 0);
    record_list_free(&list);
    records_close(records);
    struct stat about;
    assert_int_equal(stat(files_path("empty"), &about), 0);
    assert_int_equal(about.st_size, 0); /* reading made nothing of it */
    records_close(files_open("empty", RECORDS_WRITE));
    assert_int_equal(files_number(files_path("empty"), "PRAGMA user_version"), RECORDS_VERSION);
}

static void folders_are_made(void **state) {
    (void)state;
    records_close(files_new("a/b/c.sqlite"));
    assert_int_equal(files_number(files_path("a/b/c.sqlite"), "PRAGMA user_version"), RECORDS_VERSION);
    files_write(files_path("plain"), "", 0);
    refused(files_path("plain/c.sqlite"), RECORDS_WRITE, PROBLEM_INPUT, "plain");
}

/* 0, or what went wrong, from a child that is nobody (root may write everywhere); 77: could not become it. */
static int as_nobody(const char *path, const char *words) {
    fflush(NULL);
    const pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct records *records = NULL;
        struct problem problem = {0};
        if (!folder_as_nobody(files_path("."))) {
            _exit(77);
        }
        if (records_open(path, RECORDS_WRITE, &records, &problem) || problem.kind != PROBLEM_INPUT ||
            strstr(problem.text, words) == NULL) {
            fprintf(stderr, "%s\n", problem.text);
            _exit(1);
        }
        _exit(0);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void folders_without_permission(void **state) {
    (void)state;
    assert_int_equal(chmod(files_path("."), 0755), 0);
    assert_int_equal(mkdir(files_path("shut"), 0555), 0);
    const int status = as_nobody(files_path("shut/r.sqlite"), "cannot be opened or made: Permission denied");
    if (status == 77) {
        skip();
    }
    assert_int_equal(status, 0);
    assert_int_equal(as_nobody(files_path("shut/deeper/r.sqlite"), "shut/deeper"), 0);
}

static void sqlites_own_names_are_files(void **state) {
    (void)state;
    char here[1024];
    assert_non_null(getcwd(here, sizeof here));
    assert_int_equal(chdir(files_path(".")), 0);
    static const char *const names[] = {":memory:", "file:x?mode=memory", "?#%41"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        struct records *records = NULL;
        struct problem problem = {0};
        assert_true(records_open(names[i], RECORDS_WRITE, &records, &problem));
        assert_string_equal(records_file(records), names[i]);
        records_close(records);
        assert_int_equal(access(names[i], F_OK), 0);
    }
    assert_int_equal(chdir(here), 0);
}

/* [S XDG Base Directory Specification: $XDG_DATA_HOME, else $HOME/.local/share; a relative path is ignored]
 */
static void default_file(void **state) {
    (void)state;
    char path[RECORDS_PATH_MAX];
    struct problem problem = {0};
    assert_int_equal(setenv("HOME", "/home/x", 1), 0);
    assert_int_equal(setenv("XDG_DATA_HOME", "/data", 1), 0);
    assert_true(records_path(path, &problem));
    assert_string_equal(path, "/data/slotjig/records.sqlite");
    assert_int_equal(setenv("XDG_DATA_HOME", "data", 1), 0);
    assert_true(records_path(path, &problem));
    assert_string_equal(path, "/home/x/.local/share/slotjig/records.sqlite");
    assert_int_equal(unsetenv("XDG_DATA_HOME"), 0);
    assert_true(records_path(path, &problem));
    assert_string_equal(path, "/home/x/.local/share/slotjig/records.sqlite");
    assert_int_equal(unsetenv("HOME"), 0);
    assert_false(records_path(path, &problem));
    files_problem(&problem, PROBLEM_INPUT, "XDG_DATA_HOME");
    assert_int_equal(setenv("XDG_DATA_HOME", files_path("xdg"), 1), 0);
    struct records *records = NULL;
    assert_true(records_open(NULL, RECORDS_WRITE, &records, &problem));
    assert_string_equal(records_file(records), files_path("xdg/slotjig/records.sqlite"));
    records_close(records);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_there_to_read),
        cmocka_unit_test(not_a_file),
        cmocka_unit_test(no_database),
        cmocka_unit_test(another_programs),
        cmocka_unit_test(newer_ones),
        cmocka_unit_test(versions_that_never_were),
        cmocka_unit_test(empty_files_are_new_stores),
        cmocka_unit_test(folders_are_made),
        cmocka_unit_test(folders_without_permission),
        cmocka_unit_test(sqlites_own_names_are_files),
        cmocka_unit_test(default_file),
    };
    return cmocka_run_group_tests(tests, files_begin, files_end);
}
