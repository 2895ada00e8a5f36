/* Several programs have one store open at once: all that each of them puts is there. */
#include "record/files.h"
#include "record/records_inside.h"
#include "record/same.h"

#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

enum { WRITERS = 2, CONSOLES = 20, REPEATS = 10, STEPS = 3 };

/* The seed is the writer's: its runs carry it, and so are told apart. */
static void write_runs(int writer, const char *path) {
    struct invented *shelf = invented_new((uint64_t)writer, CONSOLES, STEPS, REPEATS);
    struct records *records = NULL;
    struct problem problem = {0};
    bool good = records_open(path, RECORDS_WRITE, &records, &problem);
    for (size_t i = 0; i < shelf->runs.count && good; i++) {
        struct record_run *run = shelf->runs.runs[i];
        run->bench = writer == 0 ? "first" : "second";
        good = records_put(records, run, &problem);
    }
    if (!good) {
        fprintf(stderr, "%s\n", problem.text);
    }
    records_close(records);
    invented_free(shelf);
    _exit(!good);
}

static void compare(struct records *records, int writer) {
    struct invented *shelf = invented_new((uint64_t)writer, CONSOLES, STEPS, REPEATS);
    const struct records_choice choice = {.bench = writer == 0 ? "first" : "second", .with_trouble = true};
    struct record_list list;
    struct problem problem;
    assert_true(records_select(records, &choice, RECORDS_ALL, &list, &problem));
    assert_int_equal(list.count, shelf->runs.count);
    for (size_t i = 0; i < list.count; i++) {
        struct record_run *put = shelf->runs.runs[list.runs[i]->seed]; /* its number */
        char why[400] = "";
        put->bench = choice.bench;
        if (!record_same(put, list.runs[i], RECORDS_ALL, why, sizeof why)) {
            fail_msg("writer %d: %s", writer, why);
        }
    }
    record_list_free(&list);
    invented_free(shelf);
}

/* All begin with no file there, so that they also make it at once. */
static void all_writers_runs_are_there(void **state) {
    (void)state;
    pid_t children[WRITERS];
    fflush(NULL);
    for (int i = 0; i < WRITERS; i++) {
        children[i] = fork();
        assert_true(children[i] >= 0);
        if (children[i] == 0) {
            write_runs(i, files_path("shared/r.sqlite"));
        }
    }
    for (int i = 0; i < WRITERS; i++) {
        int status = 0;
        assert_int_equal(waitpid(children[i], &status, 0), children[i]);
        assert_int_equal(status, 0);
    }
    struct records *records = files_open("shared/r.sqlite", RECORDS_READ);
    struct problem problem = {0};
    for (int i = 0; i < WRITERS; i++) {
        compare(records, i);
    }
    if (!records_check(records, &problem)) {
        fail_msg("%s", problem.text);
    }
    records_close(records);
}

/* Many make a new store at the same moment. */
static void a_store_is_made_once(void **state) {
    (void)state;
    enum { MAKERS = 6, ROUNDS = 4 };
    for (int round = 0; round < ROUNDS; round++) {
        char name[32];
        int ready[2];
        pid_t children[MAKERS];
        snprintf(name, sizeof name, "made-%d", round);
        assert_int_equal(pipe(ready), 0);
        fflush(NULL);
        for (int i = 0; i < MAKERS; i++) {
            children[i] = fork();
            assert_true(children[i] >= 0);
            if (children[i] == 0) {
                struct records *records = NULL;
                struct problem problem = {0};
                char byte;
                close(ready[1]);
                if (read(ready[0], &byte, 1) != 0) { /* until the parent closes its end */
                    _exit(2);
                }
                const bool good = records_open(files_path(name), RECORDS_WRITE, &records, &problem);
                fputs(problem.text, stderr);
                records_close(records);
                _exit(!good);
            }
        }
        close(ready[0]);
        close(ready[1]);
        for (int i = 0; i < MAKERS; i++) {
            int status = 0;
            assert_int_equal(waitpid(children[i], &status, 0), children[i]);
            assert_int_equal(status, 0);
        }
        assert_int_equal(files_number(files_path(name), "PRAGMA user_version"), RECORDS_VERSION);
    }
}

/* One reads while another writes: it sees all or nothing of a batch. */
static void a_reader_sees_no_half_batch(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 4, STEPS, 1);
    struct records *writer = files_new("read"), *reader = files_open("read", RECORDS_READ);
    const struct records_choice all = {.with_trouble = true};
    struct record_list list;
    struct problem problem;
    assert_true(records_begin(writer, &problem));
    for (size_t i = 0; i < 4; i++) {
        assert_true(records_put(writer, shelf->runs.runs[i], &problem));
        assert_true(records_select(reader, &all, RECORDS_ALL, &list, &problem));
        assert_int_equal(list.count, 0);
        record_list_free(&list);
    }
    assert_true(records_end(writer, &problem));
    assert_true(records_select(reader, &all, RECORDS_ALL, &list, &problem));
    assert_int_equal(list.count, 4);
    record_list_free(&list);
    records_close(reader);
    records_close(writer);
    invented_free(shelf);
}

static void limit_pages(struct records *records, int pages) {
    char sql[64];
    snprintf(sql, sizeof sql, "PRAGMA max_page_count = %d", pages);
    assert_int_equal(sqlite3_exec(records->db, sql, NULL, NULL, NULL), SQLITE_OK);
}

/* A put that failed is forgotten, and the next one works: here the disk is full, by a limit of SQLite's own.
 */
static void the_next_put_works(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 4, 98, 1);
    struct records *records = files_new("full");
    struct problem problem = {0};
    static uint8_t noise[1 << 20];
    uint64_t seed = 1;
    for (size_t i = 0; i < sizeof noise; i++) {
        noise[i] = (uint8_t)(256 * invented_uniform(&seed));
    }
    const struct record_blob blob = {
        .name = "field", .type = "image/png", .bytes = noise, .size = sizeof noise};
    assert_true(records_put(records, shelf->runs.runs[0], &problem));
    limit_pages(records, 100);
    shelf->runs.runs[1]->blobs = &blob;
    shelf->runs.runs[1]->blob_count = 1;
    assert_false(records_put(records, shelf->runs.runs[1], &problem));
    files_problem(&problem, PROBLEM_BENCH, "the disk is full");
    assert_true(records_put(records, shelf->runs.runs[2], &problem)); /* small: there is room for it */
    assert_true(records_begin(records, &problem));
    assert_true(records_put(records, shelf->runs.runs[3], &problem));
    assert_false(records_put(records, shelf->runs.runs[1], &problem));
    const bool ended = records_end(records, &problem);
    limit_pages(records, 1 << 20);
    assert_true(records_put(records, shelf->runs.runs[1], &problem));
    struct record_list list;
    const struct records_choice all = {.with_trouble = true};
    assert_true(records_select(records, &all, RECORDS_ALL, &list, &problem));
    assert_int_equal(list.count, ended ? 4 : 3); /* the batch is whole or absent, as records_end() said */
    record_list_free(&list);
    assert_true(records_check(records, &problem));
    records_close(records);
    invented_free(shelf);
}

/* Puts of run 2 fail when their row is written already, for their steps are refused. */
static void refuse_steps(struct records *records, const char *how) {
    char sql[256];
    snprintf(sql, sizeof sql,
             "CREATE TEMP TRIGGER refuse BEFORE INSERT ON main.steps WHEN new.run = 2 BEGIN SELECT RAISE(%s, "
             "'refused'); END",
             how);
    assert_int_equal(sqlite3_exec(records->db, sql, NULL, NULL, NULL), SQLITE_OK);
}

static void a_failed_put_leaves_nothing_in_its_batch(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 3, STEPS, 1);
    struct records *records = files_new("failed");
    struct problem problem = {0};
    refuse_steps(records, "ABORT");
    assert_true(records_begin(records, &problem));
    assert_true(records_put(records, shelf->runs.runs[0], &problem));
    assert_false(records_put(records, shelf->runs.runs[1], &problem));
    shelf->runs.runs[2]->step_count = 0;
    assert_true(records_put(records, shelf->runs.runs[2], &problem));
    assert_true(records_end(records, &problem));
    assert_int_equal(shelf->runs.runs[1]->id, 0);
    assert_int_equal(shelf->runs.runs[2]->id, 2);
    records_close(records);
    assert_int_equal(files_number(files_path("failed"), "SELECT count(*) FROM runs"), 2);
    assert_int_equal(files_number(files_path("failed"), "SELECT count(*) FROM consoles"), 2);
    invented_free(shelf);
}

/* What a disk that fails does to a transaction: it is gone. None of the batch is kept, and that is said. */
static void a_lost_batch_is_said_to_be(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 3, STEPS, 1);
    struct records *records = files_new("lost");
    struct problem problem = {0};
    refuse_steps(records, "ROLLBACK");
    assert_true(records_begin(records, &problem));
    assert_true(records_put(records, shelf->runs.runs[0], &problem));
    assert_false(records_put(records, shelf->runs.runs[1], &problem));
    assert_false(records_put(records, shelf->runs.runs[2], &problem));
    files_problem(&problem, PROBLEM_BENCH, "begin again");
    assert_false(records_end(records, &problem));
    files_problem(&problem, PROBLEM_BENCH, "none of these runs is kept");
    assert_true(records_put(records, shelf->runs.runs[2], &problem)); /* and on it goes */
    records_close(records);
    assert_int_equal(files_number(files_path("lost"), "SELECT count(*) FROM runs"), 1);
    invented_free(shelf);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_writers_runs_are_there),
        cmocka_unit_test(a_store_is_made_once),
        cmocka_unit_test(a_reader_sees_no_half_batch),
        cmocka_unit_test(the_next_put_works),
        cmocka_unit_test(a_failed_put_leaves_nothing_in_its_batch),
        cmocka_unit_test(a_lost_batch_is_said_to_be),
    };
    return cmocka_run_group_tests(tests, files_begin, files_end);
}
