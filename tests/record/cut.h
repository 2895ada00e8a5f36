/*
 * A place below SQLite where the program dies: its default VFS with every call counted that changes, syncs or
 * locks a file. For a child process that has opened no store yet, for there is no way back.
 */
#ifndef TESTS_RECORD_CUT_H
#define TESTS_RECORD_CUT_H

#include <stdbool.h>
#include <stdint.h>

struct cut {
    long at;            /* the call in which the process gets SIGKILL: before it, after it, or in the midst of
                           its bytes; from 1; 0: in none */
    bool only_database; /* count writes, truncations and syncs of the database file alone: a checkpoint's */
    bool power; /* some of the writes that were not synced are taken back first: what a power cut may leave */
    uint64_t seed; /* for all of that */
};

void cut_install(const struct cut *cut);
long cut_calls(void); /* so far */

#endif
