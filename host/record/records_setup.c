/*
 * Setups: all that a run has in common with others (whose, and with what), one row for each that ever was,
 * found by a key over its texts.
 */
#include "record/records_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TEXTS = 12, PLACES = TEXTS + 3, NUMBER_SIZE = 24, PLAN_LIMIT = RECORD_ID_TEXT };

/* A setup's texts, clean, in the order of its key. */
struct texts {
    const char *name, *revision, *markings, *modifications;
    const char *station, *bench, *cartridge, *serial, *firmware, *tool, *command, *settings;
};

static struct texts texts_of(struct arena *arena, const struct record_run *run) {
    return (struct texts){
        .name = arena_clean(arena, run->console.name, false, false),
        .revision = arena_clean(arena, run->console.revision, false, false),
        .markings = arena_clean(arena, run->console.markings, false, false),
        .modifications = arena_clean(arena, run->console.modifications, false, false),
        .station = arena_clean(arena, run->station, false, false),
        .bench = arena_clean(arena, run->bench, false, false),
        .cartridge = arena_clean(arena, run->cartridge.kind, false, false),
        .serial = arena_clean(arena, run->cartridge.serial, false, false),
        .firmware = arena_clean(arena, run->cartridge.firmware, false, false),
        .tool = arena_clean(arena, run->tool, false, false),
        .command = arena_clean(arena, run->command, false, false),
        .settings = arena_clean(arena, run->settings, true, false),
    };
}

static void key_of_setup(const struct texts *t, int64_t plan, int image_hash, bool by_eye,
                         uint8_t key[KEY_BYTES]) {
    char number[3][NUMBER_SIZE];
    snprintf(number[0], NUMBER_SIZE, "%lld", (long long)plan);
    snprintf(number[1], NUMBER_SIZE, "%d", image_hash);
    snprintf(number[2], NUMBER_SIZE, "%d", by_eye);
    const char *const all[PLACES] = {t->name,    t->revision,  t->markings, t->modifications, t->station,
                                     t->bench,   t->cartridge, t->serial,   t->firmware,      t->tool,
                                     t->command, t->settings,  number[0],   number[1],        number[2]};
    key_of(all, PLACES, key);
}

/* The row found by `find`, or made by `put`; bind fills either's places. */
static bool find_or_put(struct records *records, enum statement find, enum statement put,
                        void (*bind)(sqlite3_stmt *statement, const struct texts *texts, int64_t number),
                        const struct texts *texts, int64_t number, int64_t *row) {
    sqlite3_stmt *statement = sql_ready(records, find);
    if (statement == NULL) {
        return false;
    }
    bind(statement, texts, number);
    const int found = sql_number(statement, row);
    if (found != 0) {
        return found > 0;
    }
    statement = sql_ready(records, put);
    if (statement == NULL) {
        return false;
    }
    bind(statement, texts, number);
    if (!sql_done(statement)) {
        return false;
    }
    *row = sqlite3_last_insert_rowid(records->db);
    return true;
}

static void bind_console(sqlite3_stmt *statement, const struct texts *texts, int64_t number) {
    (void)number;
    sql_text(statement, 1, texts->name);
}

static void bind_state(sqlite3_stmt *statement, const struct texts *texts, int64_t console) {
    sqlite3_bind_int64(statement, 1, console);
    sql_text(statement, 2, texts->revision);
    sql_text(statement, 3, texts->markings);
    sql_text(statement, 4, texts->modifications);
}

static bool find_or_put_state(struct records *records, const struct texts *texts, int64_t *row) {
    int64_t console = 0;
    return find_or_put(records, SQL_CONSOLE_FIND, SQL_CONSOLE_PUT, bind_console, texts, 0, &console) &&
           find_or_put(records, SQL_STATE_FIND, SQL_STATE_PUT, bind_state, texts, console, row);
}

bool state_find_or_put(struct records *records, struct arena *arena, const struct record_console *console,
                       int64_t *row, struct problem *problem) {
    const struct record_run run = {.console = *console};
    const struct texts texts = texts_of(arena, &run);
    if (texts.name[0] == '\0') {
        return problem_set(problem, PROBLEM_INPUT, "%s: a console without a name cannot be recorded",
                           records->file);
    }
    return find_or_put_state(records, &texts, row) || records_problem(records, problem);
}

static bool put_setup(struct records *records, const struct texts *texts, const uint8_t key[KEY_BYTES],
                      int64_t plan, const struct record_run *run) {
    int64_t state = 0;
    if (!find_or_put_state(records, texts, &state)) {
        return false;
    }
    sqlite3_stmt *put = sql_ready(records, SQL_SETUP_PUT);
    if (put == NULL) {
        return false;
    }
    const char *const rest[] = {texts->station,  texts->bench, texts->cartridge, texts->serial,
                                texts->firmware, texts->tool,  texts->command,   texts->settings};
    enum { REST = sizeof rest / sizeof *rest, FIRST = 4 };
    sql_bytes(put, 1, key, KEY_BYTES);
    sqlite3_bind_int64(put, 2, state);
    sqlite3_bind_int64(put, 3, plan);
    for (int i = 0; i < REST; i++) {
        sql_text(put, FIRST + i, rest[i]);
    }
    sqlite3_bind_int(put, FIRST + REST, run->image_hash);
    sqlite3_bind_int(put, FIRST + REST + 1, run->seen_by_eye);
    return sql_done(put);
}

bool setup_find_or_put(struct records *records, struct arena *arena, const struct record_run *run,
                       int64_t *row, struct problem *problem) {
    const struct texts texts = texts_of(arena, run);
    uint8_t key[KEY_BYTES];
    int64_t plan = 0;
    if (texts.name[0] == '\0') {
        return problem_set(problem, PROBLEM_INPUT, "%s: a run of a console without a name cannot be recorded",
                           records->file);
    }
    if (!plan_find_or_put(records, arena, run->plan, &plan, problem)) {
        return false;
    }
    key_of_setup(&texts, plan, run->image_hash, run->seen_by_eye, key);
    sqlite3_stmt *find = sql_ready(records, SQL_SETUP_FIND);
    if (find == NULL) {
        return records_problem(records, problem);
    }
    sql_bytes(find, 1, key, KEY_BYTES);
    const int found = sql_number(find, row);
    if (found != 0) {
        return found > 0 || records_problem(records, problem);
    }
    if (!put_setup(records, &texts, key, plan, run)) {
        return records_problem(records, problem);
    }
    *row = sqlite3_last_insert_rowid(records->db);
    return true;
}

static bool read_setup(sqlite3_stmt *row, struct kept_setup *kept, int64_t *plan) {
    struct record_run *run = &kept->texts;
    struct arena *arena = &kept->arena;
    run->console = (struct record_console){sql_get_text(row, 1, arena), sql_get_text(row, 2, arena),
                                           sql_get_text(row, 3, arena), sql_get_text(row, 4, arena)};
    *plan = sqlite3_column_int64(row, 5);
    run->station = sql_get_text(row, 6, arena);
    run->bench = sql_get_text(row, 7, arena);
    run->cartridge = (struct record_cartridge){sql_get_text(row, 8, arena), sql_get_text(row, 9, arena),
                                               sql_get_text(row, 10, arena)};
    run->tool = sql_get_text(row, 11, arena);
    run->command = sql_get_text(row, 12, arena);
    run->settings = sql_get_text(row, 13, arena);
    run->image_hash = (uint16_t)sqlite3_column_int(row, 14);
    run->seen_by_eye = sqlite3_column_int(row, 15) != 0;
    const struct texts texts = {run->console.name,
                                run->console.revision,
                                run->console.markings,
                                run->console.modifications,
                                run->station,
                                run->bench,
                                run->cartridge.kind,
                                run->cartridge.serial,
                                run->cartridge.firmware,
                                run->tool,
                                run->command,
                                run->settings};
    uint8_t key[KEY_BYTES];
    key_of_setup(&texts, *plan, run->image_hash, run->seen_by_eye, key);
    return sqlite3_column_bytes(row, 0) == KEY_BYTES &&
           memcmp(key, sqlite3_column_blob(row, 0), KEY_BYTES) == 0;
}

static bool fill(struct records *records, struct kept_setup *kept, struct problem *problem) {
    sqlite3_stmt *row = sql_ready(records, SQL_SETUP_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    int64_t plan = 0;
    sqlite3_bind_int64(row, 1, kept->row);
    const int step = sqlite3_step(row);
    bool good = step == SQLITE_ROW && read_setup(row, kept, &plan);
    if (step != SQLITE_ROW && step != SQLITE_DONE) {
        records_problem(records, problem);
    } else if (!good) {
        kept->arena.failed ? records_memory(records, problem)
                           : records_damaged(records, "setup", kept->row, problem);
    }
    sqlite3_reset(row);
    kept->plan = good ? plan_get(records, plan, problem) : NULL;
    return kept->plan != NULL;
}

static struct kept_setup **chain_of(struct records *records, int64_t row) {
    return &records->setups[(uint64_t)row % SETUP_CHAINS];
}

/* The first holder is the store. */
static struct kept_setup *load(struct records *records, int64_t id, struct problem *problem) {
    struct kept_setup *kept = calloc(1, sizeof *kept), **chain = chain_of(records, id);
    if (kept == NULL) {
        records_memory(records, problem);
        return NULL;
    }
    kept->holders = 1;
    kept->row = id;
    if (!fill(records, kept, problem)) {
        setup_release(kept);
        return NULL;
    }
    kept->texts.plan = &kept->plan->plan;
    kept->next = *chain;
    *chain = kept;
    return kept;
}

struct kept_setup *setup_get(struct records *records, int64_t id, struct problem *problem) {
    struct kept_setup *kept = *chain_of(records, id);
    while (kept != NULL && kept->row != id) {
        kept = kept->next;
    }
    kept = kept == NULL ? load(records, id, problem) : kept;
    if (kept != NULL) {
        kept->holders++;
    }
    return kept;
}

void setup_release(struct kept_setup *setup) {
    if (setup != NULL && --setup->holders == 0) {
        plan_release(setup->plan);
        arena_free(&setup->arena);
        free(setup);
    }
}

void setups_forget(struct records *records) {
    for (int i = 0; i < SETUP_CHAINS; i++) {
        while (records->setups[i] != NULL) {
            struct kept_setup *next = records->setups[i]->next;
            setup_release(records->setups[i]);
            records->setups[i] = next;
        }
    }
}
