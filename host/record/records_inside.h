/* What the files of the store share. */
#ifndef SLOTJIG_RECORD_RECORDS_INSIDE_H
#define SLOTJIG_RECORD_RECORDS_INSIDE_H

#include "record/arena.h"
#include "record/records.h"

#include <sqlite3.h>

enum {
    RECORDS_APPLICATION = 0x534A4947, /* "SJIG": application_id, at byte 68 of the file */
    KEY_BYTES = 16,                   /* of a SHA-256: names a row by all that is in it */
    CONTENT_BYTES = 32
};

/* Statements are prepared when first used and kept. */
enum statement {
    SQL_BEGIN,
    SQL_COMMIT,
    SQL_ROLLBACK,
    SQL_SAVE,
    SQL_RELEASE,
    SQL_BACK,
    SQL_SETUP_FIND,
    SQL_SETUP_PUT,
    SQL_SETUP_GET,
    SQL_CONSOLE_FIND,
    SQL_CONSOLE_PUT,
    SQL_STATE_FIND,
    SQL_STATE_PUT,
    SQL_PLAN_FIND,
    SQL_PLAN_PUT,
    SQL_PLAN_GET,
    SQL_RUN_PUT,
    SQL_RUN_GET,
    SQL_STEPS_PUT,
    SQL_STEPS_GET,
    SQL_TEXT_FIND,
    SQL_TEXT_PUT,
    SQL_CAUSE_FIND,
    SQL_CAUSE_PUT,
    SQL_FINDING_PUT,
    SQL_FINDINGS_GET,
    SQL_BLOB_FIND,
    SQL_BLOB_PUT,
    SQL_LABEL_FIND,
    SQL_LABEL_PUT,
    SQL_RUN_BLOB_PUT,
    SQL_RUN_BLOBS_GET,
    SQL_SWEEP_PUT,
    SQL_SWEEP_BY_KEY,
    SQL_SWEEP_BY_NAME,
    SQL_SWEEP_LATEST,
    SQL_SWEEP_BEFORE,
    SQL_SWEEP_BY_ID,
    SQL_ITEM_PUT,
    SQL_ITEMS_GET,
    SQL_ITEM_GET,
    SQL_RUN_PLAN,
    SQL_BASELINE_DROP_RUNS,
    SQL_BASELINE_DROP,
    SQL_BASELINE_PUT,
    SQL_BASELINE_RUN_PUT,
    SQL_BASELINES_CLEAR_RUNS,
    SQL_BASELINES_CLEAR,
    SQL_BASELINES,
    SQL_BASELINE_RUNS,
    SQL_BASELINE_OF_CONSOLE,
    SQL_BASELINE_OF_REVISION,
    SQL_CONSOLES,
    SQL_SHIP_ATTEMPTS,
    SQL_SHIP_REHEARSED,
    SQL_SHIP_PUT,
    SQL_SHIP_FIGURE_PUT,
    SQL_SHIP_FINDING_PUT,
    SQL_SHIPS_ALL,
    SQL_SHIPS_OF_SERIAL,
    SQL_SHIPS_OF_LOT,
    SQL_SHIP_FIGURES_GET,
    SQL_SHIP_FINDINGS_GET,
    STATEMENTS
};

/* Things many runs share: in memory once, while anything holds them. One thread only. */
struct kept_plan {
    int holders;
    int64_t row;
    struct record_plan plan;
    struct arena arena;
    struct kept_plan *next; /* of the store's */
};
enum { SETUP_CHAINS = 256 };
struct kept_setup {
    int holders;
    int64_t row;
    struct kept_plan *plan;
    struct record_run texts; /* of it only what belongs to a setup */
    struct arena arena;
    struct kept_setup *next; /* of the store's, in its chain */
};

/* The plan put last, as it was given: most runs are of the same one as the run before. */
struct put_plan {
    struct record_plan plan; /* without steps; its texts are owned here */
    int64_t row;             /* 0: none */
};

struct records {
    sqlite3 *db;
    char *file;
    enum records_use use;
    bool batch, lost; /* lost: the transaction is gone, records_end() must say so */
    sqlite3_stmt *statements[STATEMENTS];
    struct kept_plan *plans;
    struct put_plan put_plan;
    struct kept_setup *setups[SETUP_CHAINS]; /* by row */
};

/* records_problem.c: why the last call of SQLite's failed. */
bool records_problem(struct records *records, struct problem *problem);
bool records_memory(struct records *records, struct problem *problem);
bool records_damaged(struct records *records, const char *what, int64_t id, struct problem *problem);

/* records.c */
bool records_open_db(struct records *records, const char *name, int flags);
bool records_set(struct records *records, const char *sql); /* what answers nothing that matters */

/* records_read.c: name as SQLite takes it. */
bool records_open_read(struct records *records, const char *name, struct problem *problem);

/* records_sql.c */
sqlite3_stmt *sql_ready(struct records *records, enum statement which); /* NULL: records_problem() */
void sql_text(sqlite3_stmt *statement, int place, const char *text);    /* stays where it is until the step */
void sql_bytes(sqlite3_stmt *statement, int place, const void *bytes, size_t size);
bool sql_done(sqlite3_stmt *statement); /* runs to the end, and resets */
bool sql_run(struct records *records, enum statement which);
/* One number: 1 found, 0 none, -1 failed. Resets. */
int sql_number(sqlite3_stmt *statement, int64_t *number);
const char *sql_get_text(sqlite3_stmt *statement, int column, struct arena *arena);
char *sql_strdup(sqlite3_stmt *statement, int column); /* to be freed; NULL: out of memory */
void sql_finalize_all(struct records *records);

/* records_schema.c: brings db up to RECORDS_VERSION, within a transaction of its own. */
bool schema_version(struct records *records, int *version, struct problem *problem);
bool schema_migrate(struct records *records, struct problem *problem);

/* records_keys.c: keys of rows by what is in them. */
void key_of(const char *const *texts, size_t count, uint8_t key[KEY_BYTES]);

/* records_put.c: a change to the store is whole or not at all: within a transaction of its own, or of
 * records_begin()'s. records_changed() ends it; good: what it came to; returns whether it stands. */
bool records_change(struct records *records, struct problem *problem);
bool records_changed(struct records *records, bool good, struct problem *problem);

/* records_setup.c: what a run has in common with others. */
bool state_find_or_put(struct records *records, struct arena *arena, const struct record_console *console,
                       int64_t *row, struct problem *problem);
bool setup_find_or_put(struct records *records, struct arena *arena, const struct record_run *run,
                       int64_t *row, struct problem *problem);
/* Held once more; let go of with setup_release(). */
struct kept_setup *setup_get(struct records *records, int64_t row, struct problem *problem);
void setup_release(struct kept_setup *setup);
void setups_forget(struct records *records);

/* records_plan.c */
bool plan_find_or_put(struct records *records, struct arena *arena, const struct record_plan *plan,
                      int64_t *row, struct problem *problem);
struct kept_plan *plan_get(struct records *records, int64_t row, struct problem *problem);
void plan_release(struct kept_plan *plan);
void plans_forget(struct records *records);

/* records_findings.c, records_blobs.c */
bool findings_put(struct records *records, struct arena *arena, const struct record_run *run, int64_t id);
bool text_find_or_put(struct records *records, const char *text, int64_t *row); /* of a clean text */
bool cause_find_or_put(struct records *records, struct arena *arena, const struct finding *finding,
                       int64_t *row);
/* Of a row whose columns are those of SQL_FINDINGS_GET. False: damaged, or of a kind not known. */
bool finding_read(sqlite3_stmt *row, struct finding *finding);
bool findings_get(struct records *records, struct arena *arena, struct record_run *run,
                  struct problem *problem);
bool blobs_put(struct records *records, struct arena *arena, const struct record_run *run, int64_t id);
bool blobs_get(struct records *records, struct arena *arena, struct record_run *run, struct problem *problem);

/* records_figures.c: a run's own numbers as whole ones, in the order of RUN_FIGURES. */
enum { FIGURES = 22 };
#define RUN_FIGURES                                                                                          \
    "started_ms, took_ms, minutes_on, seed, \"end\", exit, margin, fields_seen, fields_judged, "             \
    "fields_unreadable, coverage_seen, coverage_of, coverage_wrong, coverage_open, noise, raster_left, "     \
    "raster_top, raster_clock, raster_black, raster_white, raster_slant, frame_lines"
#define FIGURES_PLACES "?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?"
struct figures {
    int64_t value[FIGURES];
    bool none[FIGURES];
};
void figures_of(const struct record_run *run, struct figures *figures);
/* False for what no run can have. */
bool figures_give(const struct figures *figures, struct record_run *run);
/* A check of a run's row: all of its columns. */
struct run_row {
    struct figures figures;
    const char *problem;
    int64_t setup, item, attempt; /* item 0: none */
    int64_t parts;                /* what its other tables hold of it (records_parts.c); 0: does not say */
};
/* As the column `sum` has it: a CRC-32 of the rest, and above it the parts. */
int64_t run_row_sum(const struct run_row *row);
enum { RUN_SUM_BITS = 32 };
enum { SUM_NUMBERS_MOST = 32 };
unsigned long sum_numbers(unsigned long sum, const uint64_t *values, size_t count);
unsigned long sum_number(unsigned long sum, uint64_t value); /* a CRC-32, gone on with */

/* records_parts.c: whether steps, findings or blobs of a run are missing or are another's cannot be seen from
 * what is left, so its row has a check of each. Never 0, below 2^31. */
int64_t parts_of(struct arena *arena, const struct record_run *run);
/* read: RECORDS_STEPS and so on, those that run has by now. */
bool parts_agree(struct arena *arena, int64_t parts, const struct record_run *run, unsigned read);

/* records_get.c: a run of its row: RUN_COLUMNS of runs. NULL: *problem. */
#define RUN_COLUMNS "id, setup, problem, sum, item, attempt, " RUN_FIGURES /* after "runs." too */
struct record_run *run_read(struct records *records, sqlite3_stmt *row, unsigned parts,
                            struct problem *problem);

#endif
