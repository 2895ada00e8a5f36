/* Sweeps: written whole. What became of their items is told by the runs alone. */
#include "record/records_inside.h"

#include <stdlib.h>
#include <string.h>

enum { ITEMS_MOST = 1 << 24 };

struct kept_sweep {
    struct record_sweep sweep; /* the first: what others see of it */
    struct arena arena;
};

static bool put_item(struct records *records, struct arena *arena, const struct record_item *item,
                     int64_t sweep, size_t place, int64_t *id, struct problem *problem) {
    int64_t state = 0;
    if (!state_find_or_put(records, arena, &item->console, &state, problem)) {
        return false;
    }
    sqlite3_stmt *put = sql_ready(records, SQL_ITEM_PUT);
    if (put == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(put, 1, sweep);
    sqlite3_bind_int64(put, 2, (int64_t)place);
    sql_text(put, 3, arena_clean(arena, item->plan, false, false));
    sqlite3_bind_int64(put, 4, state);
    sql_text(put, 5, arena_clean(arena, item->bench, false, false));
    sqlite3_bind_int(put, 6, item->repeat);
    if (!sql_done(put)) {
        return records_problem(records, problem);
    }
    *id = sqlite3_last_insert_rowid(records->db);
    return true;
}

static bool put_all(struct records *records, struct arena *arena, const struct record_sweep *sweep,
                    int64_t *ids, int64_t *id, struct problem *problem) {
    const char *definition = arena_clean(arena, sweep->definition, true, false);
    uint8_t key[KEY_BYTES];
    sqlite3_stmt *put = sql_ready(records, SQL_SWEEP_PUT);
    if (put == NULL) {
        return records_problem(records, problem);
    }
    key_of(&definition, 1, key);
    sql_bytes(put, 1, key, KEY_BYTES);
    sql_text(put, 2, arena_clean(arena, sweep->name, false, false));
    sql_text(put, 3, definition);
    sqlite3_bind_int64(put, 4, sweep->started_ms);
    sqlite3_bind_int(put, 5, sweep->repeats);
    sqlite3_bind_int(put, 6, sweep->retries);
    if (!sql_done(put)) {
        return records_problem(records, problem);
    }
    *id = sqlite3_last_insert_rowid(records->db);
    for (size_t i = 0; i < sweep->item_count; i++) {
        if (!put_item(records, arena, &sweep->items[i], *id, i, &ids[i], problem)) {
            return false;
        }
    }
    return !arena->failed || records_memory(records, problem);
}

bool records_sweep_put(struct records *records, struct record_sweep *sweep, struct problem *problem) {
    struct arena arena = {0};
    int64_t id = 0, *ids = calloc(sweep->item_count + 1, sizeof *ids);
    if (ids == NULL) {
        return records_memory(records, problem);
    }
    const bool good = records_change(records, problem) &&
                      records_changed(records, put_all(records, &arena, sweep, ids, &id, problem), problem);
    if (good) {
        sweep->id = id;
        for (size_t i = 0; i < sweep->item_count; i++) {
            sweep->items[i].id = ids[i];
        }
    }
    free(ids);
    arena_free(&arena);
    return good;
}

static bool read_items(struct records *records, struct kept_sweep *kept, struct problem *problem) {
    struct record_sweep *sweep = &kept->sweep;
    struct arena *arena = &kept->arena;
    sqlite3_stmt *row = sql_ready(records, SQL_ITEMS_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(row, 1, sweep->id);
    int step;
    size_t count = 0;
    while ((step = sqlite3_step(row)) == SQLITE_ROW && count < sweep->item_count) {
        sweep->items[count++] =
            (struct record_item){.id = sqlite3_column_int64(row, 0),
                                 .plan = sql_get_text(row, 1, arena),
                                 .console = {sql_get_text(row, 2, arena), sql_get_text(row, 3, arena),
                                             sql_get_text(row, 4, arena), sql_get_text(row, 5, arena)},
                                 .bench = sql_get_text(row, 6, arena),
                                 .repeat = sqlite3_column_int(row, 7)};
    }
    bool good = step == SQLITE_DONE || step == SQLITE_ROW || records_problem(records, problem);
    if (good && (step == SQLITE_ROW || count != sweep->item_count)) {
        good = records_damaged(records, "sweep", sweep->id, problem);
    }
    sqlite3_reset(row);
    return good;
}

/* The sweep of a row of SWEEP_COLUMNS. */
static struct kept_sweep *sweep_read(struct records *records, sqlite3_stmt *row, struct problem *problem) {
    struct kept_sweep *kept = calloc(1, sizeof *kept);
    if (kept == NULL) {
        records_memory(records, problem);
        return NULL;
    }
    const int64_t count = sqlite3_column_int64(row, 6);
    struct arena *arena = &kept->arena;
    kept->sweep = (struct record_sweep){.id = sqlite3_column_int64(row, 0),
                                        .name = sql_get_text(row, 1, arena),
                                        .definition = sql_get_text(row, 2, arena),
                                        .started_ms = sqlite3_column_int64(row, 3),
                                        .repeats = sqlite3_column_int(row, 4),
                                        .retries = sqlite3_column_int(row, 5)};
    if (count >= 0 && count <= ITEMS_MOST) {
        kept->sweep.item_count = (size_t)count;
        kept->sweep.items = arena_get(arena, (size_t)count, sizeof *kept->sweep.items);
    }
    bool good = kept->sweep.items != NULL || records_memory(records, problem);
    good = good && read_items(records, kept, problem) && (!arena->failed || records_memory(records, problem));
    if (!good) {
        record_sweep_free(&kept->sweep);
    }
    return good ? kept : NULL;
}

/* The first row of the statement, if there is one. */
static bool find(struct records *records, sqlite3_stmt *row, struct record_sweep **sweep,
                 struct problem *problem) {
    const int step = sqlite3_step(row);
    bool good = step == SQLITE_ROW || step == SQLITE_DONE || records_problem(records, problem);
    if (step == SQLITE_ROW) {
        struct kept_sweep *kept = sweep_read(records, row, problem);
        *sweep = kept == NULL ? NULL : &kept->sweep;
        good = kept != NULL;
    }
    sqlite3_reset(row);
    sqlite3_clear_bindings(row);
    return good;
}

bool records_sweep_find(struct records *records, const char *definition, const char *name,
                        struct record_sweep **sweep, struct problem *problem) {
    struct arena arena = {0};
    uint8_t key[KEY_BYTES];
    *sweep = NULL;
    sqlite3_stmt *row = sql_ready(records, definition != NULL ? SQL_SWEEP_BY_KEY
                                           : name != NULL     ? SQL_SWEEP_BY_NAME
                                                              : SQL_SWEEP_LATEST);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    if (definition != NULL) {
        const char *clean = arena_clean(&arena, definition, true, false);
        key_of(&clean, 1, key);
        sql_bytes(row, 1, key, KEY_BYTES);
    } else if (name != NULL) {
        sql_text(row, 1, arena_clean(&arena, name, false, false));
    }
    const bool good = arena.failed ? records_memory(records, problem) : find(records, row, sweep, problem);
    arena_free(&arena);
    return good;
}

static bool find_by_id(struct records *records, enum statement which, int64_t id, struct record_sweep **sweep,
                       struct problem *problem) {
    sqlite3_stmt *row = sql_ready(records, which);
    *sweep = NULL;
    if (row == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(row, 1, id);
    return find(records, row, sweep, problem);
}

bool records_sweep(struct records *records, int64_t id, struct record_sweep **sweep,
                   struct problem *problem) {
    return find_by_id(records, SQL_SWEEP_BY_ID, id, sweep, problem) &&
           (*sweep != NULL ||
            problem_set(problem, PROBLEM_INPUT, "%s: has no sweep %lld", records->file, (long long)id));
}

bool records_sweep_before(struct records *records, int64_t id, struct record_sweep **sweep,
                          struct problem *problem) {
    return find_by_id(records, SQL_SWEEP_BEFORE, id, sweep, problem);
}

void record_sweep_free(struct record_sweep *sweep) {
    if (sweep != NULL) {
        struct kept_sweep *kept = (struct kept_sweep *)(void *)sweep; /* its first member */
        arena_free(&kept->arena);
        free(kept);
    }
}
