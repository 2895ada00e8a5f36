/* Cartridges tested to be shipped: each test a row of its own, with a check over all that it says. */
#include "base/utf8.h"
#include "record/records_inside.h"
#include "record/ships.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { FINDINGS_MOST = 4096 };

struct kept_ship {
    struct ship ship; /* the first: what others see of it */
    struct arena arena;
};

bool ship_is_verdict(const struct ship *ship) {
    return ship->end == RECORD_PASS || ship->end == RECORD_FAIL;
}

/* ---- the check ---- */

static unsigned long add_text(unsigned long sum, const char *text) {
    return crc32(sum, (const Bytef *)text, (uInt)strlen(text) + 1); /* with its final 0 */
}

static unsigned long add_real(unsigned long sum, double real) {
    const double plain = real + 0.0; /* -0 is kept as 0 */
    uint64_t bits;
    memcpy(&bits, &plain, sizeof bits);
    return sum_number(sum, bits);
}

static unsigned long add_figure(unsigned long sum, const struct ship_figure *figure) {
    sum = add_text(add_text(sum, figure->name), figure->unit);
    sum = add_real(add_real(sum, figure->known ? figure->value : 0), figure->limit);
    return sum_number(sum, (uint64_t)(figure->known * 4 + figure->at_least * 2 + figure->within));
}

static unsigned long add_finding(unsigned long sum, const struct finding *finding) {
    sum = add_text(add_text(sum, finding_name(finding->kind)), finding_reg(finding));
    sum = add_text(add_text(sum, finding->text), finding->next);
    sum = sum_number(sum, (uint64_t)finding->bit);
    sum = sum_number(sum, (uint64_t)finding->explanation * 2 + finding->alternative);
    return add_real(add_real(add_real(sum, finding->rate), finding->rate_low), finding->rate_high);
}

/* Of a ship as it is kept: all texts clean. */
static int64_t sum_of(const struct ship *ship) {
    const uint64_t numbers[] = {
        (uint64_t)ship->started_ms, (uint64_t)ship->end, (uint64_t)ship->attempt, (uint64_t)ship->console_run,
        (uint64_t)ship->reader_run, ship->figure_count,  ship->finding_count};
    unsigned long sum = sum_numbers(crc32(0, NULL, 0), numbers, sizeof numbers / sizeof numbers[0]);
    const char *const texts[] = {ship->serial, ship->lot, ship->problem, ship->tool, ship->limits};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        sum = add_text(sum, texts[i]);
    }
    for (size_t i = 0; i < ship->figure_count; i++) {
        sum = add_figure(sum, &ship->figures[i]);
    }
    for (size_t i = 0; i < ship->finding_count; i++) {
        sum = add_finding(sum, &ship->findings[i]);
    }
    return (int64_t)sum;
}

/* ---- in ---- */

static bool clean_findings(struct arena *arena, struct ship *ship) {
    struct finding *findings = arena_get(arena, ship->finding_count + 1, sizeof *findings);
    for (size_t i = 0; i < ship->finding_count && findings != NULL; i++) {
        findings[i] = ship->findings[i];
        utf8_clean(ship->findings[i].text, findings[i].text, sizeof findings[i].text, false);
        utf8_clean(ship->findings[i].next, findings[i].next, sizeof findings[i].next, false);
    }
    ship->findings = findings;
    return findings != NULL;
}

/* As it is kept. */
static bool clean_ship(struct arena *arena, struct ship *ship) {
    ship->serial = arena_clean(arena, ship->serial, false, false);
    ship->lot = arena_clean(arena, ship->lot, false, false);
    ship->problem = arena_clean(arena, ship->problem, false, false);
    ship->tool = arena_clean(arena, ship->tool, false, false);
    ship->limits = arena_clean(arena, ship->limits, true, false);
    for (size_t i = 0; i < ship->figure_count; i++) {
        struct ship_figure *figure = &ship->figures[i];
        figure->name = arena_clean(arena, figure->name, false, false);
        figure->unit = arena_clean(arena, figure->unit, false, false);
        figure->known = figure->known && isfinite(figure->value);
        figure->within = figure->known && figure->within;
    }
    return clean_findings(arena, ship) && !arena->failed;
}

static bool put_row(struct records *records, struct ship *ship) {
    int64_t before = 0, limits = 0;
    sqlite3_stmt *attempts = sql_ready(records, SQL_SHIP_ATTEMPTS), *put = sql_ready(records, SQL_SHIP_PUT);
    if (attempts == NULL || put == NULL || !text_find_or_put(records, ship->limits, &limits)) {
        return false;
    }
    sql_text(attempts, 1, ship->serial);
    if (sql_number(attempts, &before) != 1) {
        return false;
    }
    ship->attempt = (int)before + 1;
    sql_text(put, 1, ship->serial);
    sqlite3_bind_int(put, 2, ship->attempt);
    sql_text(put, 3, ship->lot);
    sqlite3_bind_int64(put, 4, ship->started_ms);
    sqlite3_bind_int(put, 5, (int)ship->end);
    sql_text(put, 6, ship->problem);
    sql_text(put, 7, ship->tool);
    sqlite3_bind_int64(put, 8, limits);
    if (ship->console_run != 0) {
        sqlite3_bind_int64(put, 9, ship->console_run);
    }
    if (ship->reader_run != 0) {
        sqlite3_bind_int64(put, 10, ship->reader_run);
    }
    sqlite3_bind_int64(put, 11, sum_of(ship));
    if (!sql_done(put)) {
        return false;
    }
    ship->id = sqlite3_last_insert_rowid(records->db);
    return true;
}

static bool find_rehearsed(struct records *records, struct ship *ship) {
    int64_t rehearsed = 0;
    sqlite3_stmt *get = sql_ready(records, SQL_SHIP_REHEARSED);
    if (get == NULL) {
        return false;
    }
    sqlite3_bind_int64(get, 1, ship->id);
    const bool good = sql_number(get, &rehearsed) == 1;
    ship->rehearsed = rehearsed != 0;
    return good;
}

static bool put_figures(struct records *records, const struct ship *ship) {
    sqlite3_stmt *put = sql_ready(records, SQL_SHIP_FIGURE_PUT);
    for (size_t i = 0; i < ship->figure_count && put != NULL; i++) {
        const struct ship_figure *figure = &ship->figures[i];
        sqlite3_bind_int64(put, 1, ship->id);
        sqlite3_bind_int(put, 2, (int)i);
        sql_text(put, 3, figure->name);
        sql_text(put, 4, figure->unit);
        if (figure->known) {
            sqlite3_bind_double(put, 5, figure->value);
        }
        sqlite3_bind_double(put, 6, figure->limit);
        sqlite3_bind_int(put, 7, figure->at_least);
        sqlite3_bind_int(put, 8, figure->within);
        if (!sql_done(put)) {
            return false;
        }
    }
    return put != NULL;
}

static bool put_finding(struct records *records, struct arena *arena, const struct finding *finding,
                        int64_t ship, int number) {
    int64_t cause = 0;
    sqlite3_stmt *put = sql_ready(records, SQL_SHIP_FINDING_PUT);
    if (put == NULL || !cause_find_or_put(records, arena, finding, &cause)) {
        return false;
    }
    sqlite3_bind_int64(put, 1, ship);
    sqlite3_bind_int(put, 2, number);
    sqlite3_bind_int64(put, 3, cause);
    sqlite3_bind_int(put, 4, finding->alternative);
    sqlite3_bind_int(put, 5, finding->explanation);
    sqlite3_bind_double(put, 6, finding->rate);
    sqlite3_bind_double(put, 7, finding->rate_low);
    sqlite3_bind_double(put, 8, finding->rate_high);
    return sql_done(put);
}

static bool put_all(struct records *records, struct arena *arena, struct ship *ship,
                    struct problem *problem) {
    if (!clean_ship(arena, ship)) {
        return records_memory(records, problem);
    }
    bool good = put_row(records, ship) && find_rehearsed(records, ship) && put_figures(records, ship);
    for (size_t i = 0; i < ship->finding_count && good; i++) {
        good = put_finding(records, arena, &ship->findings[i], ship->id, (int)i);
    }
    return good || records_problem(records, problem);
}

static bool can_be_kept(struct records *records, const struct ship *ship, struct problem *problem) {
    if (ship->serial == NULL || ship->serial[0] == '\0') {
        return problem_set(problem, PROBLEM_INPUT, "%s: a cartridge needs a serial", records->file);
    }
    for (size_t i = 0; i < ship->figure_count; i++) {
        if (!isfinite(ship->figures[i].limit)) {
            return problem_set(problem, PROBLEM_INPUT, "%s: the limit of %s is no number", records->file,
                               ship->figures[i].name);
        }
    }
    return true;
}

bool records_put_ship(struct records *records, struct ship *ship, struct problem *problem) {
    struct arena arena = {0};
    struct ship kept = *ship;
    const bool good = can_be_kept(records, ship, problem) && records_change(records, problem) &&
                      records_changed(records, put_all(records, &arena, &kept, problem), problem);
    if (good) {
        ship->id = kept.id;
        ship->attempt = kept.attempt;
        ship->rehearsed = kept.rehearsed;
    }
    arena_free(&arena);
    return good;
}

/* ---- out ---- */

static bool read_figures(struct records *records, struct kept_ship *kept, struct problem *problem) {
    struct ship *ship = &kept->ship;
    sqlite3_stmt *row = sql_ready(records, SQL_SHIP_FIGURES_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(row, 1, ship->id);
    int step;
    while ((step = sqlite3_step(row)) == SQLITE_ROW && ship->figure_count < SHIP_FIGURES_MAX) {
        ship->figures[ship->figure_count++] =
            (struct ship_figure){.name = sql_get_text(row, 0, &kept->arena),
                                 .unit = sql_get_text(row, 1, &kept->arena),
                                 .value = sqlite3_column_double(row, 2),
                                 .known = sqlite3_column_type(row, 2) != SQLITE_NULL,
                                 .limit = sqlite3_column_double(row, 3),
                                 .at_least = sqlite3_column_int(row, 4) != 0,
                                 .within = sqlite3_column_int(row, 5) != 0};
    }
    const bool good =
        step == SQLITE_DONE || (step == SQLITE_ROW ? records_damaged(records, "the test", ship->id, problem)
                                                   : records_problem(records, problem));
    sqlite3_reset(row);
    return good;
}

static bool read_findings(struct records *records, struct kept_ship *kept, struct problem *problem) {
    struct ship *ship = &kept->ship;
    struct finding *list = NULL;
    size_t room = 0;
    sqlite3_stmt *row = sql_ready(records, SQL_SHIP_FINDINGS_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    sqlite3_bind_int64(row, 1, ship->id);
    int step;
    bool reads = true;
    while (reads && (step = sqlite3_step(row)) == SQLITE_ROW) {
        if (ship->finding_count == room) {
            struct finding *larger = arena_get(&kept->arena, room = 2 * room + 2, sizeof *larger);
            if (larger == NULL || room > FINDINGS_MOST) {
                reads = false;
                break;
            }
            if (list != NULL) {
                memcpy(larger, list, ship->finding_count * sizeof *list);
            }
            list = larger;
        }
        reads = finding_read(row, &list[ship->finding_count]);
        ship->finding_count += reads;
    }
    ship->findings = list;
    const bool good = !reads ? records_damaged(records, "a finding of the test", ship->id, problem)
                             : step == SQLITE_DONE || records_problem(records, problem);
    sqlite3_reset(row);
    return good;
}

/* The ship of a row of SQL_SHIPS_ALL. */
static struct kept_ship *ship_read(struct records *records, sqlite3_stmt *row, struct problem *problem) {
    struct kept_ship *kept = calloc(1, sizeof *kept);
    if (kept == NULL) {
        records_memory(records, problem);
        return NULL;
    }
    struct arena *arena = &kept->arena;
    const int64_t end = sqlite3_column_int64(row, 5);
    kept->ship = (struct ship){.id = sqlite3_column_int64(row, 0),
                               .serial = sql_get_text(row, 1, arena),
                               .attempt = sqlite3_column_int(row, 2),
                               .lot = sql_get_text(row, 3, arena),
                               .started_ms = sqlite3_column_int64(row, 4),
                               .end = (enum record_end)end,
                               .problem = sql_get_text(row, 6, arena),
                               .tool = sql_get_text(row, 7, arena),
                               .limits = sql_get_text(row, 8, arena),
                               .console_run = sqlite3_column_int64(row, 9),
                               .reader_run = sqlite3_column_int64(row, 10),
                               .rehearsed = sqlite3_column_int(row, 12) != 0};
    bool good = read_figures(records, kept, problem) && read_findings(records, kept, problem);
    if (good && arena->failed) {
        good = records_memory(records, problem);
    }
    if (good && (end < 0 || end >= RECORD_ENDS || sum_of(&kept->ship) != sqlite3_column_int64(row, 11))) {
        good = records_damaged(records, "the test", kept->ship.id, problem);
    }
    if (!good) {
        arena_free(&kept->arena);
        free(kept);
    }
    return good ? kept : NULL;
}

static bool add(struct records *records, struct ship_list *list, struct ship *ship, size_t *room,
                struct problem *problem) {
    if (list->count == *room) {
        *room = 2 * *room + 16;
        struct ship **larger = realloc(list->ships, *room * sizeof(struct ship *));
        if (larger == NULL) {
            return records_memory(records, problem);
        }
        list->ships = larger;
    }
    list->ships[list->count++] = ship;
    return true;
}

static bool read_all(struct records *records, sqlite3_stmt *row, struct ship_list *list,
                     struct problem *problem) {
    size_t room = 0;
    int step;
    while ((step = sqlite3_step(row)) == SQLITE_ROW) {
        struct kept_ship *kept = ship_read(records, row, problem);
        if (kept == NULL) {
            return false;
        }
        if (!add(records, list, &kept->ship, &room, problem)) {
            arena_free(&kept->arena);
            free(kept);
            return false;
        }
    }
    return step == SQLITE_DONE || records_problem(records, problem);
}

bool records_ships(struct records *records, const char *serial, const char *lot, struct ship_list *list,
                   struct problem *problem) {
    struct arena arena = {0};
    *list = (struct ship_list){0};
    sqlite3_stmt *row = sql_ready(records, serial != NULL ? SQL_SHIPS_OF_SERIAL
                                           : lot != NULL  ? SQL_SHIPS_OF_LOT
                                                          : SQL_SHIPS_ALL);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    if (serial != NULL || lot != NULL) {
        sql_text(row, 1, arena_clean(&arena, serial != NULL ? serial : lot, false, false));
    }
    const bool good = arena.failed ? records_memory(records, problem) : read_all(records, row, list, problem);
    sqlite3_reset(row);
    sqlite3_clear_bindings(row);
    arena_free(&arena);
    if (!good) {
        ship_list_free(list);
    }
    return good;
}

void ship_list_free(struct ship_list *list) {
    for (size_t i = 0; i < list->count; i++) {
        struct kept_ship *kept = (struct kept_ship *)(void *)list->ships[i]; /* its first member */
        arena_free(&kept->arena);
        free(kept);
    }
    free(list->ships);
    *list = (struct ship_list){0};
}
