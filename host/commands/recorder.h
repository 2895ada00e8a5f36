/*
 * What `run` and `judge` do to keep a run: make sure of the store before anything is shown, and put the run's
 * record into it at the end. The store is open only while one of these works, so that a program may be
 * started, or a process forked, in between.
 */
#ifndef SLOTJIG_COMMANDS_RECORDER_H
#define SLOTJIG_COMMANDS_RECORDER_H

#include "commands/run_once.h"
#include "commands/run_record.h"
#include "record/records.h"

#include <time.h>

struct recorder {
    const struct options *options;
    const struct run_place *place; /* NULL: of its own */
    bool keeps;                    /* in the store */
    bool wanted;                   /* a record is made: for the store, or for the page of --out */
    char store[RECORDS_PATH_MAX];  /* where it keeps */
    int64_t started_ms;
    struct timespec since; /* the same by the monotonic clock */
    double switched_min;   /* minutes from when slotjig switched the console on to the first look; below 0: it
                              did not */
    struct run_record *record; /* made by recorder_keep(); NULL: not yet */
    bool kept;
};

/* What a run has at its end; all borrowed. */
struct recorder_end {
    const struct report *report;        /* whose `problem` says why it ended early */
    const struct bench_settings *bench; /* NULL: none: a recording, or a person's own means */
    const struct bench_board *board;    /* NULL: none was opened */
    const struct keeper *keeper;        /* NULL: no field was kept */
    const char *cartridge;              /* its kind where there is no bench */
    bool seen_by_eye;
    bool stopped; /* by a person, before it was done: kept, but not within a sweep, which does it again */
};

/* The run begins now. keeps: into the store, which can be written or else this is false. Checks the names
 * that the options give. */
bool recorder_start(struct recorder *recorder, const struct options *options, const struct run_place *place,
                    bool keeps, struct problem *problem);
/* What the console is called, by whoever says; "" where nobody does. bench may be NULL. */
const char *recorder_console(const struct recorder *recorder, const struct bench_settings *bench);
/* Watching begins now: the board may tell when the console was switched on. */
void recorder_look(struct recorder *recorder, const struct bench_board *board);
/* Makes the record and puts it into the store. False: it is not in there. */
bool recorder_keep(struct recorder *recorder, const struct recorder_end *end, struct problem *problem);
/* The same with the end's report, which then says where the record is, or why there is none. */
bool recorder_keep_report(struct recorder *recorder, struct report *report, const struct recorder_end *end,
                          struct problem *problem);
/* Object `record`, null where the run was not kept. */
json_t *recorder_json(const struct recorder *recorder);
/* A line about it, where the report went, unless --quiet. */
void recorder_tell(const struct recorder *recorder);
/* DIR/report.html, of the record. */
bool recorder_page(const struct recorder *recorder, const char *folder, struct problem *problem);
void recorder_free(struct recorder *recorder);

#endif
