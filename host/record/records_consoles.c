/* Which consoles there are. */
#include "record/records_inside.h"

#include <stdlib.h>

/* Appends the row's; what it points to is the list's. */
static bool read_row(struct records *records, sqlite3_stmt *row, struct record_consoles *list,
                     struct problem *problem) {
    struct record_console_known *larger = realloc(list->consoles, (list->count + 1) * sizeof *larger);
    if (larger == NULL) {
        return records_memory(records, problem);
    }
    list->consoles = larger;
    struct record_console_known *known = &list->consoles[list->count++];
    *known = (struct record_console_known){
        .console = {sql_strdup(row, 0), sql_strdup(row, 1), sql_strdup(row, 2), sql_strdup(row, 3)},
        .runs = sqlite3_column_int64(row, 5),
        .latest_ms = sqlite3_column_int64(row, 6),
        .latest = (enum record_end)sqlite3_column_int(row, 7)};
    char *standard = sql_strdup(row, 4);
    bool good = known->console.name != NULL && known->console.revision != NULL &&
                known->console.markings != NULL && known->console.modifications != NULL && standard != NULL;
    if (!good) {
        records_memory(records, problem);
    } else if (!standard_from_name(standard, &known->standard) || (unsigned)known->latest >= RECORD_ENDS) {
        good = records_damaged(records, "console", (int64_t)list->count, problem);
    }
    free(standard);
    return good;
}

bool records_consoles(struct records *records, struct record_consoles *list, struct problem *problem) {
    *list = (struct record_consoles){0};
    sqlite3_stmt *row = sql_ready(records, SQL_CONSOLES);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    int step;
    bool good = true;
    while (good && (step = sqlite3_step(row)) == SQLITE_ROW) {
        good = read_row(records, row, list, problem);
    }
    good = good && (step == SQLITE_DONE || records_problem(records, problem));
    sqlite3_reset(row);
    if (!good) {
        record_consoles_free(list);
    }
    return good;
}

void record_consoles_free(struct record_consoles *list) {
    for (size_t i = 0; i < list->count; i++) {
        const struct record_console *console = &list->consoles[i].console;
        free((void *)console->name);
        free((void *)console->revision);
        free((void *)console->markings);
        free((void *)console->modifications);
    }
    free(list->consoles);
    *list = (struct record_consoles){0};
}
