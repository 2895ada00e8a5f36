/*
 * A disk that gets full while runs are put: one line that says so, nothing lost, and on with it when there is
 * room again. Also a store whose folder cannot be written, and one that is deleted while it is open.
 */
#include "record/full.h"
#include "record/look.h"
#include "record/records.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static struct filling *filling;
static struct folder folder;

static int make(void **state) {
    (void)state;
    filling = filling_new(1);
    folder_make(&folder, "slotjig-full");
    return 0;
}

static int clear(void **state) {
    (void)state;
    filling_free(filling);
    folder_remove(&folder);
    return 0;
}

/* How often each end was seen: a series in which one is missing tried nothing. */
struct ends {
    int tried, not_opened, refused, all_put;
};

static void try_sizes(enum full_kind kind, const long *sizes, size_t count, struct ends *ends) {
    *ends = (struct ends){0};
    for (size_t i = 0; i < count; i++) {
        for (size_t batch = 1; batch <= 5; batch += 4) {
            struct full_answer answer;
            full_at(filling, &folder, kind, sizes[i], batch, &answer);
            if (!answer.tried) {
                return;
            }
            if (!answer.good) {
                print_error("%ld bytes, batches of %zu, %zu acknowledged: %s\n", sizes[i], batch,
                            answer.acknowledged, answer.why);
            }
            assert_true(answer.good);
            ends->tried++;
            ends->not_opened += !answer.opened;
            ends->refused += answer.refused;
            ends->all_put += answer.opened && !answer.refused;
        }
    }
}

enum { KIB = 1024 };

static void no_file_may_be_larger(void **state) {
    (void)state;
    static const long sizes[] = {0,        1,         4 * KIB,   20 * KIB,  33 * KIB,  60 * KIB,
                                 90 * KIB, 130 * KIB, 200 * KIB, 301 * KIB, 4096 * KIB};
    struct ends ends;
    try_sizes(FULL_LIMIT, sizes, sizeof sizes / sizeof sizes[0], &ends);
    assert_true(ends.not_opened > 0 && ends.refused > 0 && ends.all_put > 0);
}

static void the_disk_is_full(void **state) {
    (void)state;
    static const long sizes[] = {4 * KIB,   40 * KIB,  100 * KIB, 180 * KIB,
                                 240 * KIB, 320 * KIB, 450 * KIB, 4096 * KIB};
    struct ends ends;
    try_sizes(FULL_DISK, sizes, sizeof sizes / sizeof sizes[0], &ends);
    if (ends.tried == 0) {
        print_message("no file system may be mounted here\n");
        skip();
    }
    assert_true(ends.not_opened > 0 && ends.refused > 0 && ends.all_put > 0);
}

/* Deleted while it is open: what is put then may go with it, but nothing hangs or breaks, and the next
 * opening makes a new store. */
static void deleted_under_it(void **state) {
    (void)state;
    char path[FOLDER_PATH_MAX];
    struct records *records;
    struct problem problem;
    const struct look_for nothing = {.filling = filling};
    struct look_found found;
    folder_path(&folder, "deleted", path);
    assert_true(records_open(path, RECORDS_WRITE, &records, &problem));
    assert_true(records_put(records, filling_run(filling, 0), &problem));
    folder_remove_store(path);
    if (!records_put(records, filling_run(filling, 1), &problem)) {
        assert_int_equal(problem.kind, PROBLEM_BENCH);
        assert_non_null(strstr(problem.text, path));
    }
    records_close(records);
    assert_true(look_at_store(path, &nothing, &found));
    assert_int_equal(found.more, 0);
}

static bool well_said(const struct problem *problem, const char *path) {
    fprintf(stderr, "%s\n", problem->text);
    return (problem->kind == PROBLEM_BENCH || problem->kind == PROBLEM_INPUT) &&
           strstr(problem->text, path) != NULL && strchr(problem->text, '\n') == NULL;
}

enum { CANNOT = 77 };

static int writing_is_refused(const char *path) {
    struct records *records;
    struct problem problem;
    if (!folder_as_nobody(folder.path)) {
        return CANNOT;
    }
    return !records_open(path, RECORDS_WRITE, &records, &problem) && well_said(&problem, path) ? 0 : 1;
}

static bool all_read(const char *path, struct problem *problem) {
    struct records *records;
    struct record_list list;
    const struct records_choice all = {.with_trouble = true};
    const bool good = records_open(path, RECORDS_READ, &records, problem) &&
                      records_select(records, &all, RECORDS_ALL, &list, problem);
    return good && list.count == FILLING_BASE;
}

static int reading_gives_all(const char *path) {
    struct problem problem = {0};
    return !folder_as_nobody(folder.path) ? CANNOT : all_read(path, &problem) ? 0 : 1;
}

/* All of them or a problem, never some. */
static int reading_gives_all_or_says_so(const char *path) {
    struct problem problem = {0};
    return !folder_as_nobody(folder.path)                          ? CANNOT
           : all_read(path, &problem) || well_said(&problem, path) ? 0
                                                                   : 1;
}

/* What it returns in a process of its own. */
static int apart(int (*what)(const char *path), const char *path) {
    int status = 1;
    fflush(NULL);
    const pid_t child = fork();
    if (child == 0) {
        _exit(what(path));
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static int put_and_close(const char *path) {
    struct records *records;
    struct problem problem;
    bool good = records_open(path, RECORDS_WRITE, &records, &problem);
    for (size_t i = 0; good && i < FILLING_BASE; i++) {
        good = records_put(records, filling_run(filling, i), &problem);
    }
    if (good && strstr(path, "left") == NULL) {
        records_close(records);
    }
    return good ? 0 : 1; /* and so leaves its WAL, where it did not close it */
}

static void folder_not_writable(void **state) {
    (void)state;
    char path[FOLDER_PATH_MAX], closed[FOLDER_PATH_MAX], left[FOLDER_PATH_MAX], shared[FOLDER_PATH_MAX + 8];
    folder_path(&folder, "refused", path);
    folder_path(&folder, "closed", closed);
    folder_path(&folder, "left", left);
    assert_int_equal(apart(put_and_close, closed), 0);
    assert_int_equal(apart(put_and_close, left), 0);
    snprintf(shared, sizeof shared, "%s-shm", left);
    unlink(shared);
    assert_int_equal(chmod(folder.path, 0555), 0);
    const int refused = apart(writing_is_refused, path), whole = apart(reading_gives_all, closed),
              half = apart(reading_gives_all_or_says_so, left);
    assert_int_equal(chmod(folder.path, 0700), 0);
    if (refused == CANNOT) {
        skip();
    }
    assert_int_equal(refused, 0);
    assert_int_equal(whole, 0);
    assert_int_equal(half, 0);
    assert_int_not_equal(access(path, F_OK), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_file_may_be_larger),
                                       cmocka_unit_test(the_disk_is_full), cmocka_unit_test(deleted_under_it),
                                       cmocka_unit_test(folder_not_writable)};
    return cmocka_run_group_tests(tests, make, clear);
}
