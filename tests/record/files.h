/* Files of stores for tests: a folder of their own, and what is done to them. */
#ifndef TESTS_RECORD_FILES_H
#define TESTS_RECORD_FILES_H

#include "record/invented.h"
#include "record/records.h"

#include <stdbool.h>

/* As setup and teardown of a cmocka group: a folder below TMPDIR, and gone again. */
int files_begin(void **state);
int files_end(void **state);
/* A path in it; good until eight more were asked for. */
const char *files_path(const char *name);
/* Fails the test where they cannot. */
void files_copy(const char *from, const char *to); /* with its -wal, if there is one */
void files_write(const char *path, const void *bytes, size_t size);
/* A new store of that name (what was there is gone), or one that is there. Fails the test where it cannot. */
struct records *files_new(const char *name);
struct records *files_open(const char *name, enum records_use use);
void files_put(struct records *records, const struct invented *invented);
/* The runs of a store by their ids against those put in; read one by one with all their parts. */
void files_compare(struct records *records, const struct record_list *runs);
/* One number, by the sqlite3 library alone. */
long long files_number(const char *path, const char *sql);
/* Fails the test where the problem is not of that kind, in one line, with the file's name and these words. */
void files_problem(const struct problem *problem, enum problem_kind kind, const char *words);

#endif
