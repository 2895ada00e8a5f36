/*
 * Files written whole or not at all: the bytes go to a temporary name in the same folder, which is renamed
 * when everything stands. A database that stands there is never replaced: PROBLEM_INPUT.
 */
#ifndef SLOTJIG_BASE_OUTPUT_H
#define SLOTJIG_BASE_OUTPUT_H

#include "base/problem.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

/* Writes bytes to path; "-" is standard output; a device or pipe is written to as it stands. PROBLEM_INPUT
 * when the file cannot be created there, PROBLEM_BENCH when the disk fails in the middle; then nothing is
 * left behind. */
bool output_write(const char *path, const void *bytes, size_t size, struct problem *problem);

/* The same for what is too long to be gathered in memory: whatever is printed to the stream stands under its
 * name when output_close() is true. keep false: it is thrown away, and the answer is false. */
struct output {
    FILE *stream;
    char *place, *temporary; /* NULL: written to as it stands */
};
bool output_open(const char *path, struct output *output, struct problem *problem);
bool output_close(struct output *output, bool keep, struct problem *problem);

/* Whether output_write() could begin, found out before long work: PROBLEM_INPUT when it could not. Leaves
 * nothing behind, and promises nothing: the disk may still fill up. path may be NULL: fine. */
bool output_ready(const char *path, struct problem *problem);

/* Whether a database, such as a store of records, stands there. */
bool output_is_database(const char *path);

/* Whether one file stands under both names, or the names are the same. NULL and standard output are no file.
 */
bool output_same(const char *one, const char *other);
/* False, and PROBLEM_INPUT: what would be written at this path is one of these, which are needed. */
bool output_spares(const char *path, const char *const *needed, size_t count, struct problem *problem);

/* Makes a folder and those above it; one that exists is fine. PROBLEM_INPUT else. */
bool output_folder(const char *path, struct problem *problem);

#endif
