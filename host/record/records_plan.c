/* Plans: each once, in the file and in memory. */
#include "record/pack.h"
#include "record/records_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const kind_names[] = {[PLAN_STEPS] = "steps",
                                         [PLAN_COLOURS] = "colours",
                                         [PLAN_EVERY] = "every",
                                         [PLAN_MOMENTS] = "moments",
                                         [PLAN_CARTRIDGE] = "cartridge"};
enum { KINDS = sizeof kind_names / sizeof *kind_names };

static void plan_key(const struct record_plan *plan, const char *name, const char *text,
                     uint8_t key[KEY_BYTES]) {
    const char *const all[] = {plan->id, name, standard_table[plan->standard].name, kind_names[plan->kind],
                               text};
    key_of(all, sizeof all / sizeof *all, key);
}

static bool put(struct records *records, const struct record_plan *plan, const char *name, const char *text,
                const uint8_t key[KEY_BYTES], struct problem *problem) {
    uint8_t *steps = NULL;
    size_t size = 0;
    if (!pack_plan(plan->steps, plan->step_count, &steps, &size)) {
        return records_memory(records, problem);
    }
    sqlite3_stmt *statement = sql_ready(records, SQL_PLAN_PUT);
    bool good = statement != NULL;
    if (good) {
        sql_bytes(statement, 1, key, KEY_BYTES);
        sql_text(statement, 2, plan->id);
        sql_text(statement, 3, name);
        sql_text(statement, 4, standard_table[plan->standard].name);
        sql_text(statement, 5, kind_names[plan->kind]);
        sql_text(statement, 6, text);
        sql_bytes(statement, 7, steps, size);
        good = sql_done(statement);
    }
    free(steps);
    return good || records_problem(records, problem);
}

static bool same_text(const char *a, const char *b) {
    return strcmp(a == NULL ? "" : a, b == NULL ? "" : b) == 0;
}

static bool is_put_plan(const struct put_plan *last, const struct record_plan *plan) {
    return last->row != 0 && last->plan.standard == plan->standard && last->plan.kind == plan->kind &&
           strcmp(last->plan.id, plan->id) == 0 && same_text(last->plan.name, plan->name) &&
           same_text(last->plan.text, plan->text);
}

static void put_plan_forget(struct put_plan *last) {
    free((void *)last->plan.name);
    free((void *)last->plan.text);
    *last = (struct put_plan){0};
}

static void put_plan_keep(struct put_plan *last, const struct record_plan *plan, int64_t row) {
    put_plan_forget(last);
    last->plan = *plan;
    last->plan.name = strdup(plan->name == NULL ? "" : plan->name);
    last->plan.text = strdup(plan->text == NULL ? "" : plan->text);
    last->row = row;
    if (last->plan.name == NULL || last->plan.text == NULL) {
        put_plan_forget(last); /* it is only slower without */
    }
}

static bool find_or_put(struct records *records, struct arena *arena, const struct record_plan *plan,
                        int64_t *row, struct problem *problem) {
    const char *name = arena_clean(arena, plan->name, false, false);
    const char *text = arena_clean(arena, plan->text, true, false);
    uint8_t key[KEY_BYTES];
    if ((unsigned)plan->standard >= STANDARD_COUNT || (unsigned)plan->kind >= KINDS || plan->id[0] == '\0') {
        return problem_set(problem, PROBLEM_INPUT, "%s: plan \"%s\" has no id and cannot be recorded",
                           records->file, name);
    }
    plan_key(plan, name, text, key);
    sqlite3_stmt *find = sql_ready(records, SQL_PLAN_FIND);
    if (find == NULL) {
        return records_problem(records, problem);
    }
    sql_bytes(find, 1, key, KEY_BYTES);
    const int found = sql_number(find, row);
    if (found != 0) {
        return found > 0 || records_problem(records, problem);
    }
    if (!put(records, plan, name, text, key, problem)) {
        return false;
    }
    *row = sqlite3_last_insert_rowid(records->db);
    return true;
}

bool plan_find_or_put(struct records *records, struct arena *arena, const struct record_plan *plan,
                      int64_t *row, struct problem *problem) {
    struct put_plan *last = &records->put_plan;
    if (!is_put_plan(last, plan)) {
        if (!find_or_put(records, arena, plan, row, problem)) {
            return false;
        }
        put_plan_keep(last, plan, *row);
    }
    *row = last->row != 0 ? last->row : *row;
    return true;
}

static bool kind_from_name(const char *name, enum plan_kind *kind) {
    for (int i = 0; i < KINDS; i++) {
        if (strcmp(kind_names[i], name) == 0) {
            *kind = (enum plan_kind)i;
            return true;
        }
    }
    return false;
}

static bool read_plan(sqlite3_stmt *row, struct kept_plan *kept) {
    struct arena *arena = &kept->arena;
    struct record_plan *plan = &kept->plan;
    uint8_t key[KEY_BYTES];
    const char *id = sql_get_text(row, 1, arena);
    snprintf(plan->id, sizeof plan->id, "%s", id);
    plan->name = sql_get_text(row, 2, arena);
    plan->text = sql_get_text(row, 5, arena);
    if (!standard_from_name(sql_get_text(row, 3, arena), &plan->standard) ||
        !kind_from_name(sql_get_text(row, 4, arena), &plan->kind)) {
        return false;
    }
    plan_key(plan, plan->name, plan->text, key);
    struct record_plan_step *steps = NULL;
    const bool good = strlen(id) < sizeof plan->id && sqlite3_column_bytes(row, 0) == KEY_BYTES &&
                      memcmp(key, sqlite3_column_blob(row, 0), KEY_BYTES) == 0 &&
                      unpack_plan(sqlite3_column_blob(row, 6), (size_t)sqlite3_column_bytes(row, 6), arena,
                                  &steps, &plan->step_count);
    plan->steps = steps;
    return good;
}

static struct kept_plan *plan_load(struct records *records, int64_t id, struct problem *problem) {
    sqlite3_stmt *row = sql_ready(records, SQL_PLAN_GET);
    struct kept_plan *kept = calloc(1, sizeof *kept);
    if (row == NULL || kept == NULL) {
        free(kept);
        row == NULL ? records_problem(records, problem) : records_memory(records, problem);
        return NULL;
    }
    sqlite3_bind_int64(row, 1, id);
    const int step = sqlite3_step(row);
    const bool good = step == SQLITE_ROW && read_plan(row, kept);
    *kept = (struct kept_plan){.holders = 1, .row = id, .plan = kept->plan, .arena = kept->arena};
    if (step != SQLITE_ROW && step != SQLITE_DONE) {
        records_problem(records, problem);
    } else if (!good) {
        kept->arena.failed ? records_memory(records, problem) : records_damaged(records, "plan", id, problem);
    }
    sqlite3_reset(row);
    if (!good) {
        plan_release(kept);
        return NULL;
    }
    return kept;
}

struct kept_plan *plan_get(struct records *records, int64_t id, struct problem *problem) {
    struct kept_plan *kept = records->plans;
    while (kept != NULL && kept->row != id) {
        kept = kept->next;
    }
    if (kept == NULL) {
        kept = plan_load(records, id, problem);
        if (kept == NULL) {
            return NULL;
        }
        kept->next = records->plans;
        records->plans = kept;
    }
    kept->holders++;
    return kept;
}

void plan_release(struct kept_plan *plan) {
    if (plan != NULL && --plan->holders == 0) {
        arena_free(&plan->arena);
        free(plan);
    }
}

void plans_forget(struct records *records) {
    put_plan_forget(&records->put_plan);
    while (records->plans != NULL) {
        struct kept_plan *next = records->plans->next;
        plan_release(records->plans);
        records->plans = next;
    }
}
