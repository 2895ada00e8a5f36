/*
 * A child process writes to a store and dies; what it leaves is held against what it had been told was on the
 * disk.
 */
#ifndef TESTS_RECORD_CRASH_H
#define TESTS_RECORD_CRASH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What it is at. */
enum crash_scene {
    CRASH_CREATE,     /* the first opening of a store, and a few runs */
    CRASH_OPEN,       /* opening one that another process left without closing it, and a run */
    CRASH_MIGRATE,    /* opening one of an older version, and two runs */
    CRASH_PUT,        /* single runs */
    CRASH_BATCH,      /* runs between records_begin() and records_end() */
    CRASH_CHECKPOINT, /* writes to the database file itself, where runs go from the WAL */
    CRASH_REST,       /* a sweep, its runs, a baseline, two tests of cartridges */
    CRASH_TWO,        /* single runs, while another process puts others and must get all of them in */
    CRASH_SCENES
};
extern const char *const crash_scene_names[CRASH_SCENES];

/* How it dies. */
enum crash_manner {
    CRASH_CLOCK, /* killed by another process after some time */
    CRASH_CALL,  /* in a call that changes, syncs or locks a file, or in the midst of a write's bytes */
    CRASH_POWER, /* likewise, and writes that were not synced are lost or not, each by chance */
    CRASH_MANNERS
};
extern const char *const crash_manner_names[CRASH_MANNERS];

struct crash_moment {
    enum crash_scene scene;
    enum crash_manner manner;
    uint64_t seed; /* chooses the moment, and what of a write or of the unsynced writes stays */
};
/* The one of that number in a series: scenes and manners by turns. */
struct crash_moment crash_moment_of(uint64_t seed, uint64_t number);

struct crash_answer {
    bool good;
    bool killed;         /* else it was done before its moment came */
    size_t acknowledged; /* runs that it was told were on the disk */
    size_t more;         /* runs that are there, whole, though it was not told so yet */
    char why[800];
};

struct crash; /* a folder with stores to start from, and the runs */
struct crash *crash_new(uint64_t seed, const char *older_files_folder); /* NULL: standard error says why */
void crash_free(struct crash *crash);

/* Moments may be tried by several processes at once, forked after crash_new(). */
void crash_at(const struct crash *crash, const struct crash_moment *moment, struct crash_answer *answer);

#endif
