/* Findings: their texts and what they name are kept once; a run has only what is its own. */
#include "record/records_inside.h"

#include <stdio.h>
#include <string.h>

bool text_find_or_put(struct records *records, const char *text, int64_t *row) {
    uint8_t key[KEY_BYTES];
    key_of(&text, 1, key);
    sqlite3_stmt *find = sql_ready(records, SQL_TEXT_FIND), *put = sql_ready(records, SQL_TEXT_PUT);
    if (find == NULL || put == NULL) {
        return false;
    }
    sql_bytes(find, 1, key, KEY_BYTES);
    const int found = sql_number(find, row);
    if (found != 0) {
        return found > 0;
    }
    sql_bytes(put, 1, key, KEY_BYTES);
    sql_text(put, 2, text);
    if (!sql_done(put)) {
        return false;
    }
    *row = sqlite3_last_insert_rowid(records->db);
    return true;
}

static void bind_cause(sqlite3_stmt *statement, const struct finding *finding, int64_t text, int64_t next) {
    sql_text(statement, 1, finding_name(finding->kind));
    sql_text(statement, 2, finding_reg(finding));
    sqlite3_bind_int(statement, 3, finding->bit);
    sqlite3_bind_int64(statement, 4, text);
    sqlite3_bind_int64(statement, 5, next);
}

bool cause_find_or_put(struct records *records, struct arena *arena, const struct finding *finding,
                       int64_t *row) {
    int64_t text = 0, next = 0;
    if (!text_find_or_put(records, arena_clean(arena, finding->text, false, false), &text) ||
        !text_find_or_put(records, arena_clean(arena, finding->next, false, false), &next)) {
        return false;
    }
    sqlite3_stmt *find = sql_ready(records, SQL_CAUSE_FIND), *put = sql_ready(records, SQL_CAUSE_PUT);
    if (find == NULL || put == NULL) {
        return false;
    }
    bind_cause(find, finding, text, next);
    const int found = sql_number(find, row);
    if (found != 0) {
        return found > 0;
    }
    bind_cause(put, finding, text, next);
    if (!sql_done(put)) {
        return false;
    }
    *row = sqlite3_last_insert_rowid(records->db);
    return true;
}

static bool finding_put(struct records *records, struct arena *arena, const struct finding *finding,
                        int64_t run, int number, bool trouble) {
    int64_t cause = 0;
    sqlite3_stmt *put = sql_ready(records, SQL_FINDING_PUT);
    if (put == NULL || !cause_find_or_put(records, arena, finding, &cause)) {
        return false;
    }
    sqlite3_bind_int64(put, 1, run);
    sqlite3_bind_int(put, 2, number);
    sqlite3_bind_int(put, 3, trouble);
    sqlite3_bind_int64(put, 4, cause);
    sqlite3_bind_int(put, 5, finding->alternative);
    sqlite3_bind_int(put, 6, finding->explanation);
    sqlite3_bind_double(put, 7, finding->rate);
    sqlite3_bind_double(put, 8, finding->rate_low);
    sqlite3_bind_double(put, 9, finding->rate_high);
    return sql_done(put);
}

bool findings_put(struct records *records, struct arena *arena, const struct record_run *run, int64_t id) {
    int number = 0;
    for (size_t i = 0; i < run->finding_count; i++) {
        if (!finding_put(records, arena, &run->findings[i], id, number++, false)) {
            return false;
        }
    }
    for (size_t i = 0; i < run->trouble_count; i++) {
        if (!finding_put(records, arena, &run->troubles[i], id, number++, true)) {
            return false;
        }
    }
    return true;
}

/* False where it is not the text that its key is of. */
static bool read_said(sqlite3_stmt *row, int column, char *to, size_t size) {
    const char *text = (const char *)sqlite3_column_text(row, column + 1);
    uint8_t key[KEY_BYTES];
    if (text == NULL || sqlite3_column_bytes(row, column) != KEY_BYTES) {
        return false;
    }
    key_of(&text, 1, key);
    snprintf(to, size, "%s", text);
    return memcmp(key, sqlite3_column_blob(row, column), KEY_BYTES) == 0;
}

bool finding_read(sqlite3_stmt *row, struct finding *finding) {
    const char *kind = (const char *)sqlite3_column_text(row, 1);
    const char *reg = (const char *)sqlite3_column_text(row, 2);
    *finding = (struct finding){.reg = -1,
                                .bit = sqlite3_column_int(row, 3),
                                .alternative = sqlite3_column_int(row, 4) != 0,
                                .explanation = sqlite3_column_int(row, 5),
                                .rate = sqlite3_column_double(row, 6),
                                .rate_low = sqlite3_column_double(row, 7),
                                .rate_high = sqlite3_column_double(row, 8)};
    if (kind == NULL || reg == NULL || !finding_from_name(kind, &finding->kind)) {
        return false;
    }
    finding->reg = finding_reg_from(finding->kind, reg);
    return read_said(row, 9, finding->text, sizeof finding->text) &&
           read_said(row, 11, finding->next, sizeof finding->next);
}

enum { LIST_MOST = 4096 };

/* Findings as they come, then troubles: one list, of which troubles are the end. */
static bool read_all(struct arena *arena, sqlite3_stmt *row, struct record_run *run, int *step) {
    struct finding *list = NULL;
    size_t count = 0, room = 0;
    while ((*step = sqlite3_step(row)) == SQLITE_ROW) {
        if (count == room) {
            struct finding *larger = arena_get(arena, room = 2 * room + 2, sizeof *larger);
            if (larger == NULL || room > LIST_MOST) {
                return false;
            }
            list = count == 0 ? larger : memcpy(larger, list, count * sizeof *list);
        }
        const bool trouble = sqlite3_column_int(row, 0) != 0;
        if (!finding_read(row, &list[count]) || (!trouble && run->trouble_count > 0)) {
            return false;
        }
        count++;
        *(trouble ? &run->trouble_count : &run->finding_count) += 1;
    }
    run->findings = list;
    run->troubles = list == NULL ? NULL : list + run->finding_count;
    return *step == SQLITE_DONE;
}

/* The row is the one that did not read. */
static void why_not(struct records *records, struct arena *arena, sqlite3_stmt *row, int step, int64_t run,
                    struct problem *problem) {
    const char *kind = step == SQLITE_ROW ? (const char *)sqlite3_column_text(row, 1) : NULL;
    enum finding_kind known;
    if (step != SQLITE_DONE && step != SQLITE_ROW) {
        records_problem(records, problem);
    } else if (arena->failed) {
        records_memory(records, problem);
    } else if (kind != NULL && !finding_from_name(kind, &known)) {
        problem_set(
            problem, PROBLEM_INPUT,
            "%s: run %lld has a finding \"%.60s\", which this version does not know: use a newer slotjig",
            records->file, (long long)run, kind);
    } else {
        records_damaged(records, "a finding of run", run, problem);
    }
}

bool findings_get(struct records *records, struct arena *arena, struct record_run *run,
                  struct problem *problem) {
    sqlite3_stmt *row = sql_ready(records, SQL_FINDINGS_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    int step = SQLITE_ERROR;
    sqlite3_bind_int64(row, 1, run->id);
    const bool good = read_all(arena, row, run, &step);
    if (!good) {
        why_not(records, arena, row, step, run->id, problem);
    }
    sqlite3_reset(row);
    return good;
}
