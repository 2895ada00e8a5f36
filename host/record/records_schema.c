/*
 * The tables, as they came to be: each version is what the one before it was, and what was done to it. A new
 * file goes through all of them, so that it is the same as an old one brought up to date.
 *
 * A version that any program has ever written is never changed. To add one: append its SQL, raise
 * RECORDS_VERSION, and keep a file that the version before it made in tests/record/old.
 *
 * Numbers that were measured are whole multiples of a quantum (records_figures.c, pack.h): they take two or
 * three bytes then, not eight.
 */
#include "record/records_inside.h"

#include <stdio.h>

/* Version 1: runs, and what they have in common. */
static const char first[] =
    "CREATE TABLE consoles (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT;"
    "CREATE TABLE states (id INTEGER PRIMARY KEY, console INTEGER NOT NULL REFERENCES consoles, "
    "revision TEXT NOT NULL, markings TEXT NOT NULL, modifications TEXT NOT NULL, UNIQUE (console, "
    "revision, markings, modifications)) STRICT;"
    "CREATE TABLE plans (id INTEGER PRIMARY KEY, key BLOB NOT NULL UNIQUE, hash TEXT NOT NULL, "
    "name TEXT NOT NULL, standard TEXT NOT NULL, kind TEXT NOT NULL, text TEXT NOT NULL, "
    "steps BLOB NOT NULL) STRICT;"
    "CREATE INDEX plans_by_hash ON plans (hash);"
    "CREATE INDEX plans_by_name ON plans (name);"
    "CREATE INDEX states_by_revision ON states (revision);"
    "CREATE TABLE setups (id INTEGER PRIMARY KEY, key BLOB NOT NULL UNIQUE, "
    "state INTEGER NOT NULL REFERENCES states, plan INTEGER NOT NULL REFERENCES plans, "
    "station TEXT NOT NULL, bench TEXT NOT NULL, cartridge TEXT NOT NULL, serial TEXT NOT NULL, "
    "firmware TEXT NOT NULL, tool TEXT NOT NULL, command TEXT NOT NULL, settings TEXT NOT NULL, "
    "image_hash INTEGER NOT NULL, by_eye INTEGER NOT NULL) STRICT;"
    "CREATE INDEX setups_by_state ON setups (state);"
    "CREATE INDEX setups_by_plan ON setups (plan);"
    "CREATE TABLE runs (id INTEGER PRIMARY KEY, setup INTEGER NOT NULL REFERENCES setups, "
    "started_ms INTEGER NOT NULL, took_ms INTEGER NOT NULL, minutes_on INTEGER, seed INTEGER, "
    "\"end\" INTEGER NOT NULL, exit INTEGER NOT NULL, margin INTEGER NOT NULL, "
    "fields_seen INTEGER NOT NULL, fields_judged INTEGER NOT NULL, fields_unreadable INTEGER NOT NULL, "
    "coverage_seen INTEGER NOT NULL, coverage_of INTEGER NOT NULL, coverage_wrong INTEGER NOT NULL, "
    "coverage_open INTEGER NOT NULL, noise INTEGER NOT NULL, raster_left INTEGER, raster_top INTEGER, "
    "raster_clock INTEGER, raster_black INTEGER, raster_white INTEGER, raster_slant INTEGER, "
    "frame_lines INTEGER NOT NULL, problem TEXT, sum INTEGER NOT NULL) STRICT;"
    "CREATE INDEX runs_by_setup ON runs (setup, started_ms);"
    "CREATE TABLE steps (run INTEGER PRIMARY KEY REFERENCES runs, packed BLOB NOT NULL) STRICT;"
    "CREATE TABLE texts (id INTEGER PRIMARY KEY, key BLOB NOT NULL UNIQUE, text TEXT NOT NULL) STRICT;"
    "CREATE TABLE causes (id INTEGER PRIMARY KEY, kind TEXT NOT NULL, reg TEXT NOT NULL, "
    "bit INTEGER NOT NULL, text INTEGER NOT NULL REFERENCES texts, "
    "next INTEGER NOT NULL REFERENCES texts, UNIQUE (text, next, kind, reg, bit)) STRICT;"
    "CREATE TABLE findings (run INTEGER NOT NULL REFERENCES runs, number INTEGER NOT NULL, "
    "trouble INTEGER NOT NULL, cause INTEGER NOT NULL REFERENCES causes, alternative INTEGER NOT NULL, "
    "explanation INTEGER NOT NULL, rate REAL NOT NULL, rate_low REAL NOT NULL, rate_high REAL NOT NULL, "
    "PRIMARY KEY (run, number)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE labels (id INTEGER PRIMARY KEY, name TEXT NOT NULL, type TEXT NOT NULL, UNIQUE (name, "
    "type)) STRICT;"
    "CREATE TABLE blobs (id INTEGER PRIMARY KEY, content BLOB NOT NULL UNIQUE, size INTEGER NOT NULL, "
    "packed INTEGER NOT NULL, bytes BLOB NOT NULL) STRICT;"
    "CREATE TABLE run_blobs (run INTEGER NOT NULL REFERENCES runs, number INTEGER NOT NULL, "
    "label INTEGER NOT NULL REFERENCES labels, blob INTEGER NOT NULL REFERENCES blobs, "
    "PRIMARY KEY (run, number)) STRICT, WITHOUT ROWID;";

/* Version 2: sweeps. */
static const char second[] =
    "CREATE TABLE sweeps (id INTEGER PRIMARY KEY, key BLOB NOT NULL, name TEXT NOT NULL, "
    "definition TEXT NOT NULL, started_ms INTEGER NOT NULL, repeats INTEGER NOT NULL, "
    "retries INTEGER NOT NULL) STRICT;"
    "CREATE INDEX sweeps_by_key ON sweeps (key);"
    "CREATE INDEX sweeps_by_name ON sweeps (name);"
    "CREATE TABLE items (id INTEGER PRIMARY KEY, sweep INTEGER NOT NULL REFERENCES sweeps, "
    "place INTEGER NOT NULL, plan TEXT NOT NULL, state INTEGER NOT NULL REFERENCES states, "
    "bench TEXT NOT NULL, repeat INTEGER NOT NULL, UNIQUE (sweep, place)) STRICT;"
    "ALTER TABLE runs ADD COLUMN item INTEGER REFERENCES items;"
    "ALTER TABLE runs ADD COLUMN attempt INTEGER;" /* none: the first */
    "CREATE INDEX runs_by_item ON runs (item) WHERE item IS NOT NULL;";

/* Version 3: baselines, and runs in the order of time. */
static const char third[] =
    "CREATE TABLE baselines (id INTEGER PRIMARY KEY, console INTEGER REFERENCES consoles, "
    "revision TEXT, plan INTEGER NOT NULL REFERENCES plans, made_ms INTEGER NOT NULL, UNIQUE (console, "
    "plan), UNIQUE (revision, plan), CHECK ((console IS NULL) <> (revision IS NULL))) STRICT;"
    "CREATE TABLE baseline_runs (baseline INTEGER NOT NULL REFERENCES baselines, "
    "run INTEGER NOT NULL REFERENCES runs, PRIMARY KEY (baseline, run)) STRICT, WITHOUT ROWID;"
    "CREATE INDEX runs_by_time ON runs (started_ms);";

/* Version 4: cartridges tested to be shipped. `sum`: a CRC-32 of the row and of those that belong to it. */
static const char fourth[] =
    "CREATE TABLE ships (id INTEGER PRIMARY KEY, serial TEXT NOT NULL, attempt INTEGER NOT NULL, "
    "lot TEXT NOT NULL, started_ms INTEGER NOT NULL, \"end\" INTEGER NOT NULL, problem TEXT NOT NULL, "
    "tool TEXT NOT NULL, limits INTEGER NOT NULL REFERENCES texts, "
    "console_run INTEGER REFERENCES runs, reader_run INTEGER REFERENCES runs, sum INTEGER NOT NULL, "
    "UNIQUE (serial, attempt)) STRICT;"
    "CREATE INDEX ships_by_lot ON ships (lot);"
    "CREATE TABLE ship_figures (ship INTEGER NOT NULL REFERENCES ships, number INTEGER NOT NULL, "
    "name TEXT NOT NULL, unit TEXT NOT NULL, value REAL, bound REAL NOT NULL, at_least INTEGER NOT NULL, "
    "within INTEGER NOT NULL, PRIMARY KEY (ship, number)) STRICT, WITHOUT ROWID;"
    "CREATE TABLE ship_findings (ship INTEGER NOT NULL REFERENCES ships, number INTEGER NOT NULL, "
    "cause INTEGER NOT NULL REFERENCES causes, alternative INTEGER NOT NULL, explanation INTEGER NOT NULL, "
    "rate REAL NOT NULL, rate_low REAL NOT NULL, rate_high REAL NOT NULL, "
    "PRIMARY KEY (ship, number)) STRICT, WITHOUT ROWID;";

static const char *const versions[] = {first, second, third, fourth};
_Static_assert(sizeof versions / sizeof *versions == RECORDS_VERSION, "each version has its SQL");

/* At one moment: another program may be making the same file. */
static bool read_marks(struct records *records, int64_t marks[3], struct problem *problem) {
    static const char sql[] =
        "SELECT application_id, user_version, (SELECT count(*) FROM sqlite_schema) FROM "
        "pragma_application_id, pragma_user_version";
    sqlite3_stmt *statement = NULL;
    const bool good = sqlite3_prepare_v2(records->db, sql, -1, &statement, NULL) == SQLITE_OK &&
                      sqlite3_step(statement) == SQLITE_ROW;
    for (int i = 0; good && i < 3; i++) {
        marks[i] = sqlite3_column_int64(statement, i);
    }
    if (!good) {
        records_problem(records, problem);
    }
    sqlite3_finalize(statement);
    return good;
}

bool schema_version(struct records *records, int *version, struct problem *problem) {
    int64_t marks[3];
    if (!read_marks(records, marks, problem)) {
        return false;
    }
    const int64_t application = marks[0], number = marks[1], things = marks[2];
    const bool empty = application == 0 && number == 0 && things == 0;
    if (!empty && application != RECORDS_APPLICATION) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: a database of another program, no store of records: name another file by --store",
            records->file);
    }
    if (number > RECORDS_VERSION) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%s: written by a newer slotjig (version %lld of the store, this one knows %d): use that one",
            records->file, (long long)number, RECORDS_VERSION);
    }
    if (number < 0 || (number == 0) != empty) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "%s: the file is damaged (version %lld of the store): put back a copy, or move it away "
            "and begin a new one",
            records->file, (long long)number);
    }
    *version = (int)number;
    return true;
}

static bool one_up(struct records *records, int version) {
    char mark[64];
    snprintf(mark, sizeof mark, "PRAGMA user_version = %d", version + 1);
    return sqlite3_exec(records->db, versions[version], NULL, NULL, NULL) == SQLITE_OK &&
           sqlite3_exec(records->db, mark, NULL, NULL, NULL) == SQLITE_OK;
}

bool schema_migrate(struct records *records, struct problem *problem) {
    char application[64];
    snprintf(application, sizeof application, "PRAGMA application_id = %d", RECORDS_APPLICATION);
    if (!sql_run(records, SQL_BEGIN)) {
        return records_problem(records, problem);
    }
    int version = 0;
    bool good = schema_version(records, &version, problem); /* another program may have been faster */
    if (good && version == 0) {
        good = sqlite3_exec(records->db, application, NULL, NULL, NULL) == SQLITE_OK ||
               records_problem(records, problem);
    }
    for (; good && version < RECORDS_VERSION; version++) {
        good = one_up(records, version) || records_problem(records, problem);
    }
    if (good && sql_run(records, SQL_COMMIT)) {
        return true;
    }
    if (good) {
        records_problem(records, problem);
    }
    if (!sqlite3_get_autocommit(records->db)) {
        sql_run(records, SQL_ROLLBACK);
    }
    return false;
}
