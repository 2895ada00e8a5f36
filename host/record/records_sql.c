/* All statements of fixed text, and how values go in and out of them. */
#include "record/records_inside.h"

#include <string.h>

#define SWEEP_COLUMNS                                                                                        \
    "id, name, definition, started_ms, repeats, retries, (SELECT count(*) FROM items WHERE sweep = "         \
    "sweeps.id) "                                                                                            \
    "FROM sweeps"

#define OF_NAMED_PLAN                                                                                        \
    "WHERE (console = ?1 OR revision = ?2) AND (?3 IS NULL OR plan IN (SELECT id FROM plans WHERE name = "   \
    "?3))"

/* Whether a run of it was on a virtual bench. */
#define REHEARSED                                                                                            \
    "EXISTS (SELECT 1 FROM runs JOIN setups ON setups.id = runs.setup "                                      \
    "WHERE runs.id IN (ships.console_run, ships.reader_run) AND setups.cartridge = 'virtual')"
#define SHIPS                                                                                                \
    "SELECT ships.id, serial, attempt, lot, started_ms, \"end\", problem, tool, text, console_run, "         \
    "reader_run, sum, " REHEARSED " FROM ships JOIN texts ON texts.id = ships.limits"

static const char *const texts[STATEMENTS] = {
    [SQL_BEGIN] = "BEGIN IMMEDIATE",
    [SQL_COMMIT] = "COMMIT",
    [SQL_ROLLBACK] = "ROLLBACK",
    [SQL_SAVE] = "SAVEPOINT run",
    [SQL_RELEASE] = "RELEASE run",
    [SQL_BACK] = "ROLLBACK TO run",
    [SQL_SETUP_FIND] = "SELECT id FROM setups WHERE key = ?",
    [SQL_SETUP_PUT] =
        "INSERT INTO setups (key, state, plan, station, bench, cartridge, serial, firmware, tool, "
        "command, settings, image_hash, by_eye) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    [SQL_SETUP_GET] =
        "SELECT setups.key, consoles.name, revision, markings, modifications, plan, station, bench, "
        "cartridge, serial, firmware, tool, command, settings, image_hash, "
        "by_eye FROM setups JOIN states ON states.id = setups.state JOIN consoles ON consoles.id = "
        "states.console WHERE setups.id = ?",
    [SQL_CONSOLE_FIND] = "SELECT id FROM consoles WHERE name = ?",
    [SQL_CONSOLE_PUT] = "INSERT INTO consoles (name) VALUES (?)",
    [SQL_STATE_FIND] =
        "SELECT id FROM states WHERE console = ? AND revision = ? AND markings = ? AND modifications = ?",
    [SQL_STATE_PUT] = "INSERT INTO states (console, revision, markings, modifications) VALUES (?, ?, ?, ?)",
    [SQL_PLAN_FIND] = "SELECT id FROM plans WHERE key = ?",
    [SQL_PLAN_PUT] =
        "INSERT INTO plans (key, hash, name, standard, kind, text, steps) VALUES (?, ?, ?, ?, ?, ?, ?)",
    [SQL_PLAN_GET] = "SELECT key, hash, name, standard, kind, text, steps FROM plans WHERE id = ?",
    [SQL_RUN_PUT] = "INSERT INTO runs (setup, problem, sum, item, attempt, " RUN_FIGURES
                    ") VALUES (?, ?, ?, ?, ?, " FIGURES_PLACES ")",
    [SQL_RUN_GET] = "SELECT " RUN_COLUMNS " FROM runs WHERE id = ?",
    [SQL_STEPS_PUT] = "INSERT INTO steps (run, packed) VALUES (?, ?)",
    [SQL_STEPS_GET] = "SELECT packed FROM steps WHERE run = ?",
    [SQL_TEXT_FIND] = "SELECT id FROM texts WHERE key = ?",
    [SQL_TEXT_PUT] = "INSERT INTO texts (key, text) VALUES (?, ?)",
    [SQL_CAUSE_FIND] =
        "SELECT id FROM causes WHERE kind = ? AND reg = ? AND bit = ? AND text = ? AND next = ?",
    [SQL_CAUSE_PUT] = "INSERT INTO causes (kind, reg, bit, text, next) VALUES (?, ?, ?, ?, ?)",
    [SQL_FINDING_PUT] =
        "INSERT INTO findings (run, number, trouble, cause, alternative, explanation, rate, rate_low, "
        "rate_high) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
    [SQL_FINDINGS_GET] =
        "SELECT trouble, kind, reg, bit, alternative, explanation, rate, rate_low, rate_high, said.key, "
        "said.text, advice.key, advice.text FROM findings JOIN causes ON causes.id = findings.cause JOIN "
        "texts AS said ON said.id = causes.text JOIN texts AS advice ON advice.id = causes.next WHERE "
        "run = ? ORDER BY number",
    [SQL_BLOB_FIND] = "SELECT id FROM blobs WHERE content = ?",
    [SQL_BLOB_PUT] = "INSERT INTO blobs (content, size, packed, bytes) VALUES (?, ?, ?, ?)",
    [SQL_LABEL_FIND] = "SELECT id FROM labels WHERE name = ? AND type = ?",
    [SQL_LABEL_PUT] = "INSERT INTO labels (name, type) VALUES (?, ?)",
    [SQL_RUN_BLOB_PUT] = "INSERT INTO run_blobs (run, number, label, blob) VALUES (?, ?, ?, ?)",
    [SQL_RUN_BLOBS_GET] =
        "SELECT name, type, content, size, packed, bytes FROM run_blobs JOIN labels ON labels.id = "
        "run_blobs.label JOIN blobs ON blobs.id = run_blobs.blob WHERE run = ? ORDER BY number",
    [SQL_SWEEP_PUT] =
        "INSERT INTO sweeps (key, name, definition, started_ms, repeats, retries) VALUES (?, ?, ?, ?, ?, ?)",
    [SQL_SWEEP_BY_KEY] = "SELECT " SWEEP_COLUMNS " WHERE key = ? ORDER BY id DESC LIMIT 1",
    [SQL_SWEEP_BY_NAME] = "SELECT " SWEEP_COLUMNS " WHERE name = ? ORDER BY id DESC LIMIT 1",
    [SQL_SWEEP_LATEST] = "SELECT " SWEEP_COLUMNS " ORDER BY id DESC LIMIT 1",
    [SQL_SWEEP_BEFORE] = "SELECT " SWEEP_COLUMNS " WHERE id < ? ORDER BY id DESC LIMIT 1",
    [SQL_SWEEP_BY_ID] = "SELECT " SWEEP_COLUMNS " WHERE id = ?",
    [SQL_ITEM_GET] = "SELECT sweep, repeat FROM items WHERE id = ?",
    [SQL_ITEM_PUT] = "INSERT INTO items (sweep, place, plan, state, bench, repeat) VALUES (?, ?, ?, ?, ?, ?)",
    [SQL_ITEMS_GET] =
        "SELECT items.id, plan, consoles.name, revision, markings, modifications, bench, "
        "repeat FROM items JOIN states ON states.id = items.state JOIN consoles ON consoles.id = "
        "states.console WHERE sweep = ? ORDER BY place",
    [SQL_RUN_PLAN] = "SELECT plan FROM runs JOIN setups ON setups.id = runs.setup WHERE runs.id = ?",
    [SQL_BASELINE_DROP_RUNS] =
        "DELETE FROM baseline_runs WHERE baseline IN (SELECT id FROM baselines WHERE (console = ?1 OR "
        "revision = ?2) AND plan = ?3)",
    [SQL_BASELINE_DROP] = "DELETE FROM baselines WHERE (console = ?1 OR revision = ?2) AND plan = ?3",
    [SQL_BASELINE_PUT] = "INSERT INTO baselines (console, revision, plan, made_ms) VALUES (?, ?, ?, ?)",
    [SQL_BASELINE_RUN_PUT] = "INSERT OR IGNORE INTO baseline_runs (baseline, run) VALUES (?, ?)",
    [SQL_BASELINES_CLEAR_RUNS] =
        "DELETE FROM baseline_runs WHERE baseline IN (SELECT id FROM baselines " OF_NAMED_PLAN ")",
    [SQL_BASELINES_CLEAR] = "DELETE FROM baselines " OF_NAMED_PLAN,
    [SQL_BASELINES] =
        "SELECT baselines.id, made_ms, consoles.name, revision, plans.name, "
        "plans.hash FROM baselines LEFT JOIN consoles ON consoles.id = console JOIN plans ON plans.id = "
        "plan ORDER BY consoles.name, revision, plans.name, baselines.id",
    [SQL_BASELINE_RUNS] =
        "SELECT run FROM baseline_runs JOIN runs ON runs.id = run WHERE baseline = ? ORDER BY "
        "started_ms, run",
    [SQL_BASELINE_OF_CONSOLE] =
        "SELECT id FROM baselines WHERE console = (SELECT id FROM consoles WHERE name = ?) AND plan IN "
        "(SELECT id FROM plans WHERE name = ?) ORDER BY made_ms DESC, id DESC LIMIT 1",
    [SQL_BASELINE_OF_REVISION] =
        "SELECT id FROM baselines WHERE revision = ? AND plan IN (SELECT id FROM plans WHERE name = ?) "
        "ORDER BY plan IN (SELECT plan FROM setups WHERE state IN (SELECT id FROM states WHERE console = "
        "(SELECT id FROM consoles WHERE name = ?))) DESC, made_ms DESC, id DESC LIMIT 1",
    /* Of the row that has the largest number SQLite gives the other columns too. */
    [SQL_CONSOLES] =
        "SELECT name, revision, markings, modifications, standard, sum(count), max(latest), "
        "(SELECT \"end\" FROM runs WHERE runs.setup = setups.id AND started_ms = latest ORDER BY id DESC "
        "LIMIT 1) FROM (SELECT setup, count(*) AS count, max(started_ms) AS latest FROM runs GROUP BY "
        "setup) AS had JOIN setups ON setups.id = had.setup JOIN states ON states.id = setups.state JOIN "
        "consoles ON consoles.id = states.console JOIN (SELECT id AS plan_id, "
        "standard FROM plans) ON plan_id = setups.plan GROUP BY consoles.id ORDER BY name",
    [SQL_SHIP_ATTEMPTS] = "SELECT coalesce(max(attempt), 0) FROM ships WHERE serial = ?",
    [SQL_SHIP_REHEARSED] = "SELECT " REHEARSED " FROM ships WHERE id = ?",
    [SQL_SHIP_PUT] =
        "INSERT INTO ships (serial, attempt, lot, started_ms, \"end\", problem, tool, limits, console_run, "
        "reader_run, sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    [SQL_SHIP_FIGURE_PUT] =
        "INSERT INTO ship_figures (ship, number, name, unit, value, bound, at_least, within) VALUES (?, ?, "
        "?, ?, ?, ?, ?, ?)",
    [SQL_SHIP_FINDING_PUT] =
        "INSERT INTO ship_findings (ship, number, cause, alternative, explanation, rate, rate_low, "
        "rate_high) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
    [SQL_SHIPS_ALL] = SHIPS " ORDER BY ships.id",
    [SQL_SHIPS_OF_SERIAL] = SHIPS " WHERE serial = ? ORDER BY ships.id",
    [SQL_SHIPS_OF_LOT] = SHIPS " WHERE lot = ? ORDER BY ships.id",
    [SQL_SHIP_FIGURES_GET] =
        "SELECT name, unit, value, bound, at_least, within FROM ship_figures WHERE ship = ? ORDER BY number",
    [SQL_SHIP_FINDINGS_GET] =
        "SELECT 0, kind, reg, bit, alternative, explanation, rate, rate_low, rate_high, said.key, "
        "said.text, advice.key, advice.text FROM ship_findings JOIN causes ON causes.id = "
        "ship_findings.cause JOIN texts AS said ON said.id = causes.text JOIN texts AS advice ON advice.id = "
        "causes.next WHERE ship = ? ORDER BY number",
};

sqlite3_stmt *sql_ready(struct records *records, enum statement which) {
    sqlite3_stmt **statement = &records->statements[which];
    if (*statement == NULL) {
        sqlite3_prepare_v3(records->db, texts[which], -1, SQLITE_PREPARE_PERSISTENT, statement, NULL);
    }
    return *statement;
}

void sql_text(sqlite3_stmt *statement, int place, const char *text) {
    sqlite3_bind_text(statement, place, text, -1, SQLITE_STATIC);
}

void sql_bytes(sqlite3_stmt *statement, int place, const void *bytes, size_t size) {
    sqlite3_bind_blob64(statement, place, size > 0 ? bytes : "", size, SQLITE_STATIC);
}

bool sql_done(sqlite3_stmt *statement) {
    int step;
    do {
        step = sqlite3_step(statement);
    } while (step == SQLITE_ROW);
    /* The reset repeats the step's error, and leaves it to be read. */
    const bool good = sqlite3_reset(statement) == SQLITE_OK && step == SQLITE_DONE;
    sqlite3_clear_bindings(statement);
    return good;
}

bool sql_run(struct records *records, enum statement which) {
    sqlite3_stmt *statement = sql_ready(records, which);
    return statement != NULL && sql_done(statement);
}

int sql_number(sqlite3_stmt *statement, int64_t *number) {
    const int step = sqlite3_step(statement);
    if (step == SQLITE_ROW) {
        *number = sqlite3_column_int64(statement, 0);
    }
    const bool good = sqlite3_reset(statement) == SQLITE_OK;
    sqlite3_clear_bindings(statement);
    return !good ? -1 : step == SQLITE_ROW ? 1 : 0;
}

const char *sql_get_text(sqlite3_stmt *statement, int column, struct arena *arena) {
    const char *text = (const char *)sqlite3_column_text(statement, column);
    const int length = sqlite3_column_bytes(statement, column);
    const char *copy = arena_copy(arena, text, text == NULL ? 0 : (size_t)length);
    return copy == NULL ? "" : copy;
}

char *sql_strdup(sqlite3_stmt *statement, int column) {
    const char *text = (const char *)sqlite3_column_text(statement, column);
    return strdup(text == NULL ? "" : text);
}

void sql_finalize_all(struct records *records) {
    for (int i = 0; i < STATEMENTS; i++) {
        sqlite3_finalize(records->statements[i]);
        records->statements[i] = NULL;
    }
}
