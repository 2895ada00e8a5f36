/*
 * The store: one SQLite file, by default $XDG_DATA_HOME/slotjig/records.sqlite (or ~/.local/share/...). WAL,
 * foreign keys, a schema version in user_version; an older file is brought up to date when it is opened for
 * writing, and read in memory, the file left as it is, when it is opened for reading. A newer one is refused.
 * Several programs may have it open at once; none may be carried over a fork().
 *
 * Measured figures come back as whole multiples of what is worth keeping (the nearest): margins and levels
 * 0.0001, offsets and places of the raster 0.001, colour differences, black and white 0.01 codes, minutes and
 * decibels 0.01, the raster's clock width and slant 0.000001. Of a colour with count 0 nothing is kept. Bytes
 * that are no UTF-8, and control characters, are '?' (line feed and tab stay in plans, settings and
 * definitions of sweeps); names that are asked for are treated alike.
 *
 * Problems: PROBLEM_INPUT for what is no store, a newer one, or a name that is not in it; PROBLEM_BENCH for a
 * disk that is full, a file that is damaged, or a lock that was not got within RECORDS_WAIT_S. Nothing is
 * lost then: what records_put() has said true to is on the disk.
 */
#ifndef SLOTJIG_RECORD_RECORDS_H
#define SLOTJIG_RECORD_RECORDS_H

#include "base/problem.h"
#include "record/record.h"

#include <stdbool.h>

enum { RECORDS_VERSION = 4, RECORDS_WAIT_S = 20, RECORDS_PATH_MAX = 4096 };

struct records;

/* The default file. PROBLEM_INPUT where neither XDG_DATA_HOME nor HOME says where. */
bool records_path(char path[RECORDS_PATH_MAX], struct problem *problem);

enum records_use {
    RECORDS_READ, /* of a file that must be there */
    RECORDS_WRITE /* made, with its folder, where it is not there */
};
/* path NULL: the default one. */
bool records_open(const char *path, enum records_use use, struct records **records, struct problem *problem);
void records_close(struct records *records); /* NULL: nothing */
const char *records_file(const struct records *records);

/* Writes a run whole or not at all, and sets its id. True: it is on the disk. PROBLEM_INPUT for a console or
 * plan without a name or id, and for an item of no sweep. The next one works again, whatever became of this.
 */
bool records_put(struct records *records, struct record_run *run, struct problem *problem);
/* Between the two, records_put()s are one: all of them that were true are on the disk when records_end() is
 * true, else none. */
bool records_begin(struct records *records, struct problem *problem);
bool records_end(struct records *records, struct problem *problem);

/* What is read of each run beside its own figures. */
enum {
    RECORDS_STEPS = 1,
    RECORDS_FINDINGS = 2,
    RECORDS_BLOBS = 4,
    RECORDS_PLAN = 8, /* its text and steps, which are in memory once for all runs: they are always there */
    RECORDS_ALL = 15
};

/* Which runs; NULL, 0 and -1 as noted: whatever they are. Names must match whole. */
struct records_choice {
    const char *console, *revision, *bench, *station;
    const char *plan;           /* name */
    const char *plan_id;        /* this very plan */
    int64_t since_ms, until_ms; /* started at or after; before; 0: any */
    int64_t sweep;              /* 0: any */
    int64_t after_id;           /* with a larger id; 0: any */
    int last;                   /* that many of the latest; 0: all */
    bool with_trouble;          /* also runs that ended as bench trouble */
};
bool records_run(struct records *records, int64_t id, unsigned parts, struct record_run **run,
                 struct problem *problem);
/* In the order of started_ms, then id. An empty list is no problem. */
bool records_select(struct records *records, const struct records_choice *choice, unsigned parts,
                    struct record_list *list, struct problem *problem);
/* The same one by one, each good until the function returns; false from it ends the walk. */
bool records_each(struct records *records, const struct records_choice *choice, unsigned parts,
                  bool (*each)(void *user, const struct record_run *run), void *user,
                  struct problem *problem);
void record_free(struct record_run *run); /* NULL: nothing */
void record_list_free(struct record_list *list);

/* Consoles that have runs, by name, as their latest run describes them. */
struct record_console_known {
    struct record_console console;
    enum standard standard;
    int64_t runs, latest_ms;
    enum record_end latest;
};
struct record_consoles {
    size_t count;
    struct record_console_known *consoles;
};
bool records_consoles(struct records *records, struct record_consoles *list, struct problem *problem);
void record_consoles_free(struct record_consoles *list);

/* Baselines: runs that later ones of the same plan are held against; of one console, or of all of a revision
 * that have none of their own. One each and plan; setting it again replaces it. */
struct record_baseline {
    int64_t id, made_ms;
    const char *console, *revision; /* one of them is "" */
    const char *plan, *plan_id;
    size_t count;
    int64_t *runs; /* ids */
};
struct record_baselines {
    size_t count;
    struct record_baseline *baselines;
};
/* console or revision is NULL. The runs must be of one plan. */
bool records_baseline_set(struct records *records, const char *console, const char *revision,
                          const int64_t *runs, size_t count, struct problem *problem);
bool records_baseline_clear(struct records *records, const char *console, const char *revision,
                            const char *plan, size_t *cleared, struct problem *problem);
bool records_baselines(struct records *records, struct record_baselines *list, struct problem *problem);
/* The baseline that counts for a console and a plan (by name; the one made last where several plans have that
 * name): its own, else its revision's; of a revision's the one of a plan that this console ran. An empty list
 * where there is none. */
bool records_baseline_runs(struct records *records, const char *console, const char *revision,
                           const char *plan, unsigned parts, struct record_list *list,
                           struct problem *problem);
void record_baselines_free(struct record_baselines *list);

/* Sweeps. Written whole; items get their ids. An item is done by its runs alone: see standing.h. */
bool records_sweep_put(struct records *records, struct record_sweep *sweep, struct problem *problem);
/* The latest sweep of that definition, or where definition is NULL of that name, or where both are NULL of
 * all; *sweep is NULL where there is none. */
bool records_sweep_find(struct records *records, const char *definition, const char *name,
                        struct record_sweep **sweep, struct problem *problem);
bool records_sweep(struct records *records, int64_t id, struct record_sweep **sweep, struct problem *problem);
/* The latest one with a smaller id; *sweep is NULL where there is none. */
bool records_sweep_before(struct records *records, int64_t id, struct record_sweep **sweep,
                          struct problem *problem);
void record_sweep_free(struct record_sweep *sweep);

/* SQLite's own check of the whole file, and of foreign keys. PROBLEM_BENCH says what it found. */
bool records_check(struct records *records, struct problem *problem);

#endif
