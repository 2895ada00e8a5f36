/* Tests of cartridges in the store: what is put in comes out, attempts count on, nothing is written over,
 * damage is noticed; and a lot's numbers. */
#include "record/files.h"
#include "record/lot.h"
#include "record/shipped.h"
#include "record/varied.h"

#include <math.h>
#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void put(struct records *records, struct ship *ship) {
    struct problem problem;
    if (!records_put_ship(records, ship, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static struct ship_list get(struct records *records, const char *serial, const char *lot) {
    struct ship_list list;
    struct problem problem;
    if (!records_ships(records, serial, lot, &list, &problem)) {
        fail_msg("%s", problem.text);
    }
    return list;
}

static void same_finding(const struct finding *put, const struct finding *got) {
    assert_int_equal(put->kind, got->kind);
    assert_int_equal(put->reg, got->reg);
    assert_int_equal(put->bit, got->bit);
    assert_int_equal(put->alternative, got->alternative);
    assert_int_equal(put->explanation, got->explanation);
    assert_true(put->rate == got->rate && put->rate_low == got->rate_low && put->rate_high == got->rate_high);
    assert_string_equal(put->text, got->text);
    assert_string_equal(put->next, got->next);
}

static void same_ship(const struct ship *put, const struct ship *got) {
    assert_int_equal(put->started_ms, got->started_ms);
    assert_string_equal(put->serial, got->serial);
    assert_string_equal(put->lot, got->lot);
    assert_string_equal(put->limits, got->limits);
    assert_string_equal(put->tool, got->tool);
    assert_string_equal(put->problem, got->problem);
    assert_int_equal(put->end, got->end);
    assert_int_equal(put->console_run, got->console_run);
    assert_int_equal(put->reader_run, got->reader_run);
    assert_int_equal(put->figure_count, got->figure_count);
    for (size_t i = 0; i < put->figure_count; i++) {
        const struct ship_figure *a = &put->figures[i], *b = &got->figures[i];
        assert_string_equal(a->name, b->name);
        assert_string_equal(a->unit, b->unit);
        assert_true(a->known == b->known && a->at_least == b->at_least && a->within == b->within);
        assert_true(a->limit == b->limit && (!a->known || a->value == b->value));
    }
    assert_int_equal(put->finding_count, got->finding_count);
    for (size_t i = 0; i < put->finding_count; i++) {
        same_finding(&put->findings[i], &got->findings[i]);
    }
}

/* A store that has runs for ships to belong to. */
static struct records *with_runs(const char *name) {
    struct records *records = files_new(name);
    struct invented *varied = varied_new();
    files_put(records, varied);
    invented_free(varied);
    return records;
}

static void what_is_put_in_comes_out(void **state) {
    (void)state;
    struct records *records = with_runs("ships");
    struct finding findings[2];
    struct problem problem;
    for (int i = 0; i < 2; i++) {
        struct ship ship = shipped_kept(i, findings);
        put(records, &ship);
        assert_int_equal(ship.id, i + 1);
        assert_int_equal(ship.attempt, 1);
    }
    records_close(records);
    records = files_open("ships", RECORDS_READ);
    struct ship_list list = get(records, NULL, NULL);
    assert_int_equal(list.count, 2);
    for (int i = 0; i < 2; i++) {
        const struct ship ship = shipped_kept(i, findings);
        same_ship(&ship, list.ships[i]);
    }
    ship_list_free(&list);
    assert_true(records_check(records, &problem));
    records_close(records);
}

static void attempts_count_on_and_all_stay(void **state) {
    (void)state;
    struct records *records = with_runs("attempts");
    struct finding findings[2];
    for (int i = 1; i <= 3; i++) {
        struct ship ship = shipped_kept(0, findings);
        ship.end = i == 2 ? RECORD_TROUBLE : RECORD_PASS;
        put(records, &ship);
        assert_int_equal(ship.attempt, i);
        struct ship other = shipped_kept(1, findings);
        other.serial = i == 1 ? "other" : "S\xC3\xA9rie 1 "; /* a serial with a blank more is another one */
        put(records, &other);
        assert_int_equal(other.attempt, i == 3 ? 2 : 1);
    }
    struct ship_list list = get(records, "S\xC3\xA9rie 1", NULL);
    assert_int_equal(list.count, 3);
    for (size_t i = 0; i < list.count; i++) {
        assert_int_equal(list.ships[i]->attempt, i + 1);
        assert_int_equal(list.ships[i]->end, i == 1 ? RECORD_TROUBLE : RECORD_PASS);
    }
    ship_list_free(&list);
    list = get(records, NULL, "lot \"one\"");
    assert_int_equal(list.count, 3);
    ship_list_free(&list);
    list = get(records, "'; DROP TABLE ships; --", NULL);
    assert_int_equal(list.count, 0);
    ship_list_free(&list);
    records_close(records);
}

static void hostile_texts_are_kept_as_texts(void **state) {
    (void)state;
    static const char *const serials[] = {"'; DROP TABLE ships; --", "<script>alert(1)</script>",
                                          "\"\\u0000%s%n", "\xE2\x80\xAEtxt.exe"};
    struct records *records = with_runs("hostile");
    struct finding findings[2];
    for (int i = 0; i < 4; i++) {
        struct ship ship = shipped_kept(0, findings);
        ship.serial = ship.lot = ship.problem = serials[i];
        put(records, &ship);
        struct ship_list list = get(records, serials[i], NULL);
        assert_int_equal(list.count, 1);
        same_ship(&ship, list.ships[0]);
        ship_list_free(&list);
    }
    struct ship bad = shipped_kept(0, findings);
    bad.serial = "a\x01\xFF";
    put(records, &bad);
    struct ship_list list = get(records, "a??", NULL);
    assert_int_equal(list.count, 1);
    ship_list_free(&list);
    records_close(records);
}

static void what_cannot_be_kept_is_refused(void **state) {
    (void)state;
    struct records *records = with_runs("refused");
    struct finding findings[2];
    struct problem problem;
    struct ship ship = shipped_kept(0, findings);
    ship.serial = "";
    assert_false(records_put_ship(records, &ship, &problem));
    files_problem(&problem, PROBLEM_INPUT, "serial");
    ship = shipped_kept(0, findings);
    ship.figures[1].limit = NAN;
    assert_false(records_put_ship(records, &ship, &problem));
    files_problem(&problem, PROBLEM_INPUT, "no number");
    ship = shipped_kept(0, findings);
    ship.console_run = 4711; /* of no run */
    assert_false(records_put_ship(records, &ship, &problem));
    struct ship_list list = get(records, NULL, NULL);
    assert_int_equal(list.count, 0);
    ship_list_free(&list);
    assert_int_equal(files_number(files_path("refused"), "SELECT count(*) FROM ship_figures"), 0);
    records_close(records);
}

/* ---- damage ---- */

static bool alter(const char *table, const char *column, const char *type) {
    const char *other = strcmp(type, "TEXT") == 0 ? "\"%s\" || 'x'" : "coalesce(\"%s\", 0) + 1003";
    char value[128], sql[512];
    sqlite3 *db = NULL;
    snprintf(value, sizeof value, other, column);
    snprintf(sql, sizeof sql, "UPDATE %s SET \"%s\" = %s", table, column, value);
    files_copy(files_path("whole"), files_path("altered"));
    assert_int_equal(sqlite3_open(files_path("altered"), &db), SQLITE_OK);
    const bool done = sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK;
    sqlite3_close(db);
    return done;
}

static bool noticed(void) {
    struct records *records = files_open("altered", RECORDS_READ);
    struct problem problem = {0};
    struct ship_list list;
    bool all = records_ships(records, NULL, NULL, &list, &problem);
    if (all) {
        all = list.count == 2; /* a row that is not found any more */
        ship_list_free(&list);
    } else {
        assert_true(problem.kind == PROBLEM_BENCH && strstr(problem.text, "damaged") != NULL);
    }
    records_close(records);
    return !all;
}

static void each_column_is_checked(void **state) {
    (void)state;
    static const char *const tables[] = {"ships", "ship_figures", "ship_findings"};
    struct records *records = with_runs("whole");
    struct finding findings[2];
    int tried = 0;
    for (int i = 0; i < 2; i++) {
        struct ship ship = shipped_kept(i, findings);
        put(records, &ship);
    }
    records_close(records);
    for (int i = 0; i < 3; i++) {
        sqlite3 *db = NULL;
        sqlite3_stmt *row = NULL;
        char sql[128];
        snprintf(sql, sizeof sql, "SELECT name, type FROM pragma_table_info('%s')", tables[i]);
        assert_int_equal(sqlite3_open(files_path("whole"), &db), SQLITE_OK);
        assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &row, NULL), SQLITE_OK);
        while (sqlite3_step(row) == SQLITE_ROW) {
            const char *column = (const char *)sqlite3_column_text(row, 0);
            if (strcmp(column, "id") == 0 || strcmp(column, "number") == 0) {
                continue; /* names and order: what belongs to the row is noticed by the others */
            }
            if (alter(tables[i], column, (const char *)sqlite3_column_text(row, 1))) {
                tried++;
                if (!noticed()) {
                    fail_msg("%s.%s: nobody noticed", tables[i], column);
                }
            }
        }
        sqlite3_finalize(row);
        sqlite3_close(db);
    }
    print_message("%d columns\n", tried);
    assert_true(tried > 20);
}

/* ---- a lot ---- */

/* All by arithmetic of how shipped_new() makes them [A]: of 100, ten fail (5 slow, 5 stuck); 1, 26, 51 and 76
 * were trouble first, 2 and 52 failed first. */
static void a_lot_is_counted(void **state) {
    (void)state;
    struct shipped shipped;
    shipped_new(3, 100, &shipped);
    struct lot *lot = lot_make(&shipped.list);
    assert_non_null(lot);
    assert_int_equal(lot->tests, 106);
    assert_int_equal(lot->count, 100);
    assert_int_equal(lot->tested, 100);
    assert_int_equal(lot->passed, 90);
    assert_int_equal(lot->first_passed, 88);
    assert_int_equal(lot->again, 2);
    assert_int_equal(lot->by_end[RECORD_PASS], 90);
    assert_int_equal(lot->by_end[RECORD_FAIL], 10);
    assert_int_equal(lot->by_end[RECORD_TROUBLE] + lot->by_end[RECORD_INCONCLUSIVE], 0);
    /* Wilson, 90 of 100: (p + z2/2n +- z sqrt(p(1-p)/n + z2/4n2)) / (1 + z2/n), z = 1.959964 [A, by hand] */
    assert_true(fabs(lot->yield.low - 0.82563) < 5e-5 && fabs(lot->yield.high - 0.94478) < 5e-5);
    assert_int_equal(lot->cause_count, 2);
    assert_int_equal(lot->causes[0].first + lot->causes[1].first, 10);
    assert_int_equal(lot->causes[0].first, 5);
    assert_int_equal(lot->causes[0].any, 5);
    assert_int_equal(lot->figure_count, 4);
    assert_string_equal(lot->figures[0].name, "access");
    assert_int_equal(lot->figures[0].count, 100);
    assert_int_equal(lot->figures[0].beyond, 5);
    lot_free(lot);
    shipped_free(&shipped);
}

/* What is not tested does not count, whatever comes after it; a verdict stays until the next one. */
static void trouble_is_no_verdict(void **state) {
    (void)state;
    static const struct {
        enum record_end ends[3];
        int count;
        enum record_end counts;
        size_t tested, first_passed, again;
    } cases[] = {
        {{RECORD_TROUBLE}, 1, RECORD_TROUBLE, 0, 0, 0},
        {{RECORD_TROUBLE, RECORD_INCONCLUSIVE}, 2, RECORD_INCONCLUSIVE, 0, 0, 0},
        {{RECORD_FAIL, RECORD_TROUBLE}, 2, RECORD_FAIL, 1, 0, 0},
        {{RECORD_PASS, RECORD_TROUBLE}, 2, RECORD_PASS, 1, 1, 0},
        {{RECORD_TROUBLE, RECORD_PASS}, 2, RECORD_PASS, 1, 1, 0},
        {{RECORD_PASS, RECORD_FAIL}, 2, RECORD_FAIL, 1, 1, 1},
        {{RECORD_FAIL, RECORD_FAIL, RECORD_PASS}, 3, RECORD_PASS, 1, 0, 1},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct ship ships[3], *list[3];
        for (int k = 0; k < cases[i].count; k++) {
            ships[k] = (struct ship){.serial = "one", .attempt = k + 1, .end = cases[i].ends[k]};
            list[cases[i].count - 1 - k] = &ships[k]; /* in any order */
        }
        struct lot *lot = lot_make(&(struct ship_list){(size_t)cases[i].count, list});
        assert_non_null(lot);
        assert_int_equal(lot->count, 1);
        assert_int_equal(lot->entries[0].counts->end, cases[i].counts);
        assert_int_equal(lot->entries[0].tests, cases[i].count);
        assert_int_equal(lot->tested, cases[i].tested);
        assert_int_equal(lot->first_passed, cases[i].first_passed);
        assert_int_equal(lot->again, cases[i].again);
        lot_free(lot);
    }
}

static void causes_are_told_apart(void **state) {
    (void)state;
    struct finding findings[3] = {
        {.kind = FINDING_CART_SLOW}, {.kind = FINDING_CART_SLOW}, {.kind = FINDING_CART_CONTACT}};
    struct ship ships[3] = {{.serial = "a", .end = RECORD_FAIL, .finding_count = 3, .findings = findings},
                            {.serial = "b",
                             .end = RECORD_FAIL,
                             .figure_count = 1,
                             .figures = {{"wake", "ms", 30, 20, true, false, false}}},
                            {.serial = "c", .end = RECORD_FAIL}};
    struct ship *list[] = {&ships[0], &ships[1], &ships[2]};
    struct lot *lot = lot_make(&(struct ship_list){3, list});
    assert_non_null(lot);
    assert_int_equal(lot->cause_count, 4);
    size_t first = 0;
    for (size_t i = 0; i < 4; i++) {
        first += lot->causes[i].first;
        assert_int_equal(lot->causes[i].any, 1);
    }
    assert_int_equal(first, 3);
    assert_string_equal(lot->causes[3].name, "cartridge_contact"); /* never the first named */
    lot_free(lot);
    lot = lot_make(&(struct ship_list){0, NULL});
    assert_non_null(lot);
    assert_true(lot->yield.low == 0 && lot->yield.high == 1);
    lot_free(lot);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_put_in_comes_out),        cmocka_unit_test(attempts_count_on_and_all_stay),
        cmocka_unit_test(hostile_texts_are_kept_as_texts), cmocka_unit_test(what_cannot_be_kept_is_refused),
        cmocka_unit_test(each_column_is_checked),          cmocka_unit_test(a_lot_is_counted),
        cmocka_unit_test(trouble_is_no_verdict),           cmocka_unit_test(causes_are_told_apart),
    };
    return cmocka_run_group_tests(tests, files_begin, files_end);
}
