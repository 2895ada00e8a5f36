/* Which runs: a choice as a query. The text is put together of fixed pieces; names are bound, never written.
 */
#include "record/records_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SQL_SIZE = 4096, PARAMETERS = 16 };

struct query {
    char sql[SQL_SIZE];
    size_t length;
    bool conditions;
    int count;
    struct parameter {
        const char *text; /* NULL: the number */
        int64_t number;
    } parameters[PARAMETERS];
};

static void add(struct query *query, const char *sql) {
    const size_t length = strlen(sql);
    if (query->length + length < sizeof query->sql) {
        memcpy(query->sql + query->length, sql, length + 1);
        query->length += length;
    }
}

static void condition(struct query *query, const char *sql) {
    add(query, query->conditions ? " AND " : " WHERE ");
    add(query, sql);
    query->conditions = true;
}

static void with_text(struct query *query, const char *sql, const char *text) {
    if (text != NULL) {
        condition(query, sql);
        query->parameters[query->count++] = (struct parameter){.text = text};
    }
}

static void with_number(struct query *query, const char *sql, int64_t number) {
    if (number != 0) {
        condition(query, sql);
        query->parameters[query->count++] = (struct parameter){.number = number};
    }
}

static void of_setup(struct query *query, const struct records_choice *choice) {
    with_text(
        query,
        "setups.state IN (SELECT states.id FROM consoles CROSS JOIN states ON states.console = consoles.id "
        "WHERE consoles.name = ?)",
        choice->console);
    with_text(query, "setups.state IN (SELECT id FROM states WHERE revision = ?)", choice->revision);
    with_text(query, "setups.plan IN (SELECT id FROM plans WHERE name = ?)", choice->plan);
    with_text(query, "setups.plan IN (SELECT id FROM plans WHERE hash = ?)", choice->plan_id);
    with_text(query, "setups.bench = ?", choice->bench);
    with_text(query, "setups.station = ?", choice->station);
}

/* From the narrowest table to the widest: CROSS JOIN keeps that order. */
static void make_query(struct query *query, const struct records_choice *choice) {
    const bool setups = choice->console != NULL || choice->revision != NULL || choice->plan != NULL ||
                        choice->plan_id != NULL || choice->bench != NULL || choice->station != NULL;
    add(query, choice->last > 0 ? "SELECT * FROM (" : "");
    add(query, "SELECT runs." RUN_COLUMNS " FROM ");
    add(query, choice->sweep != 0 ? "items CROSS JOIN runs ON runs.item = items.id"
               : setups           ? "setups"
                                  : "runs");
    if (setups) {
        add(query, choice->sweep != 0 ? " CROSS JOIN setups ON setups.id = runs.setup"
                                      : " CROSS JOIN runs ON runs.setup = setups.id");
    }
    with_number(query, "items.sweep = ?", choice->sweep);
    of_setup(query, choice);
    with_number(query, "started_ms >= ?", choice->since_ms);
    with_number(query, "started_ms < ?", choice->until_ms);
    with_number(query, "runs.id > ?", choice->after_id);
    if (!choice->with_trouble) {
        with_number(query, "\"end\" <> ?", RECORD_TROUBLE);
    }
    if (choice->last > 0) {
        add(query, " ORDER BY started_ms DESC, runs.id DESC LIMIT ?)");
        query->parameters[query->count++] = (struct parameter){.number = choice->last};
    }
    add(query, choice->last > 0 ? " ORDER BY started_ms, id" : " ORDER BY started_ms, runs.id");
}

static bool bind(sqlite3_stmt *statement, const struct query *query, struct arena *arena) {
    for (int i = 0; i < query->count; i++) {
        const struct parameter *parameter = &query->parameters[i];
        if (parameter->text == NULL) {
            sqlite3_bind_int64(statement, i + 1, parameter->number);
        } else {
            sql_text(statement, i + 1, arena_clean(arena, parameter->text, false, false));
        }
    }
    return !arena->failed;
}

/* Hands each run over; keep: to `each`, which then frees it. */
static bool walk(struct records *records, const struct records_choice *choice, unsigned parts, bool keep,
                 bool (*each)(void *user, struct record_run *run), void *user, struct problem *problem) {
    struct query query = {0};
    struct arena arena = {0};
    sqlite3_stmt *row = NULL;
    make_query(&query, choice);
    bool good = sqlite3_prepare_v2(records->db, query.sql, -1, &row, NULL) == SQLITE_OK;
    good = good ? bind(row, &query, &arena) || records_memory(records, problem)
                : records_problem(records, problem);
    bool more = good;
    while (more) {
        const int step = sqlite3_step(row);
        struct record_run *run = step == SQLITE_ROW ? run_read(records, row, parts, problem) : NULL;
        good = step == SQLITE_ROW ? run != NULL : step == SQLITE_DONE || records_problem(records, problem);
        more = run != NULL && each(user, run);
        if (!keep) {
            record_free(run);
        }
    }
    sqlite3_finalize(row);
    arena_free(&arena);
    return good;
}

struct caller {
    bool (*each)(void *user, const struct record_run *run);
    void *user;
};

static bool show(void *user, struct record_run *run) {
    const struct caller *caller = user;
    return caller->each(caller->user, run);
}

bool records_each(struct records *records, const struct records_choice *choice, unsigned parts,
                  bool (*each)(void *user, const struct record_run *run), void *user,
                  struct problem *problem) {
    struct caller caller = {each, user};
    return walk(records, choice, parts, false, show, &caller, problem);
}

struct collector {
    struct record_list *list;
    size_t room;
    bool failed;
};

static bool collect(void *user, struct record_run *run) {
    struct collector *collector = user;
    struct record_list *list = collector->list;
    if (list->count == collector->room) {
        const size_t room = 2 * collector->room + 16;
        struct record_run **runs = realloc(list->runs, room * sizeof(struct record_run *));
        if (runs == NULL) {
            record_free(run);
            collector->failed = true;
            return false;
        }
        list->runs = runs;
        collector->room = room;
    }
    list->runs[list->count++] = run;
    return true;
}

bool records_select(struct records *records, const struct records_choice *choice, unsigned parts,
                    struct record_list *list, struct problem *problem) {
    struct collector collector = {.list = list};
    *list = (struct record_list){0};
    bool good = walk(records, choice, parts, true, collect, &collector, problem);
    good = good && (!collector.failed || records_memory(records, problem));
    if (!good) {
        record_list_free(list);
    }
    return good;
}
