/* All statements of fixed text, and how values go in and out of them. */
#include "record/records_inside.h"

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
        "cartridge, "
        "serial, firmware, tool, command, settings, image_hash, by_eye FROM setups JOIN states ON "
        "states.id = setups.state JOIN consoles ON consoles.id = states.console WHERE setups.id = ?",
    [SQL_CONSOLE_FIND] = "SELECT id FROM consoles WHERE name = ?",
    [SQL_CONSOLE_PUT] = "INSERT INTO consoles (name) VALUES (?)",
    [SQL_STATE_FIND] =
        "SELECT id FROM states WHERE console = ? AND revision = ? AND markings = ? AND modifications = ?",
    [SQL_STATE_PUT] = "INSERT INTO states (console, revision, markings, modifications) VALUES (?, ?, ?, ?)",
    [SQL_PLAN_FIND] = "SELECT id FROM plans WHERE key = ?",
    [SQL_PLAN_PUT] =
        "INSERT INTO plans (key, hash, name, standard, kind, text, steps) VALUES (?, ?, ?, ?, ?, ?, ?)",
    [SQL_PLAN_GET] = "SELECT key, hash, name, standard, kind, text, steps FROM plans WHERE id = ?",
    [SQL_RUN_PUT] =
        "INSERT INTO runs (setup, problem, sum, " RUN_FIGURES ") VALUES (?, ?, ?, " FIGURES_PLACES ")",
    [SQL_RUN_GET] = "SELECT " RUN_COLUMNS " FROM runs WHERE id = ?",
    [SQL_STEPS_PUT] = "INSERT INTO steps (run, packed) VALUES (?, ?)",
    [SQL_STEPS_GET] = "SELECT packed FROM steps WHERE run = ?",
    [SQL_TEXT_FIND] = "SELECT id FROM texts WHERE key = ?",
    [SQL_TEXT_PUT] = "INSERT INTO texts (key, text) VALUES (?, ?)",
    [SQL_CAUSE_FIND] =
        "SELECT id FROM causes WHERE kind = ? AND reg = ? AND bit = ? AND text = ? AND next = ?",
    [SQL_CAUSE_PUT] = "INSERT INTO causes (kind, reg, bit, text, next) VALUES (?, ?, ?, ?, ?)",
    [SQL_FINDING_PUT] = "INSERT INTO findings (run, number, trouble, cause, alternative, explanation, rate, "
                        "rate_low, rate_high) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
    [SQL_FINDINGS_GET] =
        "SELECT trouble, kind, reg, bit, alternative, explanation, rate, rate_low, rate_high, said.key, "
        "said.text, "
        "advice.key, advice.text FROM findings JOIN causes ON causes.id = findings.cause JOIN texts AS said "
        "ON "
        "said.id = causes.text JOIN texts AS advice ON advice.id = causes.next WHERE run = ? ORDER BY number",
    [SQL_BLOB_FIND] = "SELECT id FROM blobs WHERE content = ?",
    [SQL_BLOB_PUT] = "INSERT INTO blobs (content, size, packed, bytes) VALUES (?, ?, ?, ?)",
    [SQL_LABEL_FIND] = "SELECT id FROM labels WHERE name = ? AND type = ?",
    [SQL_LABEL_PUT] = "INSERT INTO labels (name, type) VALUES (?, ?)",
    [SQL_RUN_BLOB_PUT] = "INSERT INTO run_blobs (run, number, label, blob) VALUES (?, ?, ?, ?)",
    [SQL_RUN_BLOBS_GET] =
        "SELECT name, type, content, size, packed, bytes FROM run_blobs JOIN labels ON "
        "labels.id = run_blobs.label JOIN blobs ON blobs.id = run_blobs.blob WHERE run = ? ORDER BY number",
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

void sql_finalize_all(struct records *records) {
    for (int i = 0; i < STATEMENTS; i++) {
        sqlite3_finalize(records->statements[i]);
        records->statements[i] = NULL;
    }
}
