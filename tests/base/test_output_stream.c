/* Files that are printed to bit by bit: whole under their name, or not there at all. */
#include "base/output.h"

#include <dirent.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

enum { LONG = 300000 };

static char folder[] = "/tmp/slotjig-output-XXXXXX";
static char file[64];

static int make_folder(void **state) {
    (void)state;
    const bool made = mkdtemp(folder) != NULL;
    snprintf(file, sizeof file, "%s/file", folder);
    return made ? 0 : -1;
}

static int remove_folder(void **state) {
    (void)state;
    unlink(file);
    return rmdir(folder);
}

/* What is in the folder, beside its own two entries. */
static int entries(void) {
    int count = 0;
    DIR *list = opendir(folder);
    assert_non_null(list);
    while (readdir(list) != NULL) {
        count++;
    }
    closedir(list);
    return count - 2;
}

static void holds(const char *wanted) {
    char text[100] = "";
    FILE *stream = fopen(file, "r");
    assert_non_null(stream);
    text[fread(text, 1, sizeof text - 1, stream)] = '\0';
    fclose(stream);
    assert_string_equal(text, wanted);
}

static void whole(void **state) {
    (void)state;
    struct output output;
    struct problem problem = {0};
    struct stat facts;
    assert_true(output_open(file, &output, &problem));
    fprintf(output.stream, "the first");
    assert_int_not_equal(access(file, F_OK), 0); /* not before it is whole */
    assert_true(output_close(&output, true, &problem));
    holds("the first");
    assert_int_equal(stat(file, &facts), 0);
    assert_int_equal(facts.st_mode & 0777, 0644);
    assert_int_equal(entries(), 1);
}

static void thrown_away(void **state) {
    (void)state;
    struct output output;
    struct problem problem = {0};
    assert_true(output_open(file, &output, &problem));
    fprintf(output.stream, "another");
    assert_false(output_close(&output, false, &problem));
    assert_int_equal(problem.kind, PROBLEM_NONE); /* the caller has its own reason */
    holds("the first");
    assert_int_equal(entries(), 1);
}

/* A quota, as a disk that is full. */
static void no_room(void **state) {
    (void)state;
    struct output output;
    struct problem problem = {0};
    struct rlimit before, limit;
    getrlimit(RLIMIT_FSIZE, &before);
    limit = (struct rlimit){1000, before.rlim_max};
    signal(SIGXFSZ, SIG_IGN);
    assert_true(output_open(file, &output, &problem));
    setrlimit(RLIMIT_FSIZE, &limit);
    for (int i = 0; i < LONG; i++) {
        fputc('x', output.stream);
    }
    const bool good = output_close(&output, true, &problem);
    setrlimit(RLIMIT_FSIZE, &before);
    signal(SIGXFSZ, SIG_DFL);
    assert_false(good);
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    holds("the first");
    assert_int_equal(entries(), 1);
}

static void where_it_cannot_be(void **state) {
    (void)state;
    struct output output;
    struct problem problem = {0};
    assert_false(output_open("/nowhere/file", &output, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_false(output_open("", &output, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_false(output_open(folder, &output, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_true(output_open("/dev/full", &output, &problem)); /* a device stays one */
    fprintf(output.stream, "text");
    assert_false(output_close(&output, true, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
}

/* [S sqlite.org, file format, 1.3: how every database begins] */
static void a_database_is_never_replaced(void **state) {
    (void)state;
    static const char head[] = "SQLite format 3\0 and pages";
    struct output output;
    struct problem problem = {0};
    char other[80];
    snprintf(other, sizeof other, "%s/link", folder);
    FILE *stream = fopen(file, "w");
    assert_non_null(stream);
    fwrite(head, 1, sizeof head, stream);
    fclose(stream);
    assert_int_equal(symlink(file, other), 0);
    const char *const names[] = {file, other};
    for (size_t i = 0; i < 2; i++) {
        assert_false(output_ready(names[i], &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        assert_false(output_write(names[i], "x", 1, &problem));
        assert_false(output_open(names[i], &output, &problem));
        assert_non_null(strstr(problem.text, "never written over"));
    }
    holds("SQLite format 3");
    assert_int_equal(unlink(other), 0);
    assert_int_equal(truncate(file, 15), 0); /* no database yet */
    assert_true(output_ready(file, &problem) && output_write(file, "x", 1, &problem));
    holds("x");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(whole), cmocka_unit_test(thrown_away),
                                       cmocka_unit_test(no_room), cmocka_unit_test(where_it_cannot_be),
                                       cmocka_unit_test(a_database_is_never_replaced)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
