/* What came of a plan's repeats on a console, against a table worked out by hand from the rules in
 * standing.h. Each line of the table is [A] from these rules; Wilson's intervals are checked in tests/stats.
 */
#include "record/standing.h"

#include "stats/stats.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum { RUNS_MAX = 32, ITEMS_MAX = 4 };

/* Repeats are parted by blanks; each letter is a run in the order of its attempts: p pass, f fail, i
 * inconclusive, t trouble; - is a repeat that had none. */
struct row {
    const char *runs;
    int retries;
    enum standing_kind kind;
    int done, passed, attempts, retried;
};

static const struct row table[] = {
    /* each repeat at its first attempt */
    {"p", 1, STANDING_PASS, 1, 1, 1, 0},
    {"p p p", 1, STANDING_PASS, 3, 3, 3, 0},
    {"p p p", 0, STANDING_PASS, 3, 3, 3, 0},
    /* all alike, tried again in vain */
    {"f", 0, STANDING_FAIL, 1, 0, 1, 0},
    {"ff", 1, STANDING_FAIL, 1, 0, 2, 1},
    {"ff ff ff", 1, STANDING_FAIL, 3, 0, 6, 3},
    {"ii ii ii", 1, STANDING_INCONCLUSIVE, 3, 0, 6, 3},
    {"tt tt tt", 1, STANDING_TROUBLE, 3, 0, 6, 3},
    {"fff", 2, STANDING_FAIL, 1, 0, 3, 1},
    /* a repeat ends as a fail where any attempt did, else as inconclusive, else as trouble */
    {"ft", 1, STANDING_FAIL, 1, 0, 2, 1},
    {"tf", 1, STANDING_FAIL, 1, 0, 2, 1},
    {"if", 1, STANDING_FAIL, 1, 0, 2, 1},
    {"it", 1, STANDING_INCONCLUSIVE, 1, 0, 2, 1},
    {"ti", 1, STANDING_INCONCLUSIVE, 1, 0, 2, 1},
    /* a retry earns unsteady, never a pass */
    {"fp", 1, STANDING_UNSTEADY, 1, 0, 2, 1},
    {"ip", 1, STANDING_UNSTEADY, 1, 0, 2, 1},
    {"tp", 1, STANDING_UNSTEADY, 1, 0, 2, 1},
    {"fp fp fp", 1, STANDING_UNSTEADY, 3, 0, 6, 3},
    {"p p fp", 1, STANDING_UNSTEADY, 3, 2, 4, 1},
    {"ffp", 2, STANDING_UNSTEADY, 1, 0, 3, 1},
    /* some passed and some failed */
    {"p ff", 1, STANDING_UNSTEADY, 2, 1, 3, 1},
    {"p f", 0, STANDING_UNSTEADY, 2, 1, 2, 0},
    {"fp ff", 1, STANDING_UNSTEADY, 2, 0, 4, 2},
    {"p fi", 1, STANDING_UNSTEADY, 2, 1, 3, 1},
    /* trouble beside passes blames no console */
    {"p i", 0, STANDING_INCONCLUSIVE, 2, 1, 2, 0},
    {"p t", 0, STANDING_TROUBLE, 2, 1, 2, 0},
    {"p tt", 1, STANDING_TROUBLE, 2, 1, 3, 1},
    {"p p it", 1, STANDING_INCONCLUSIVE, 3, 2, 4, 1},
    /* and none of them as a pass */
    {"f i", 0, STANDING_FAIL, 2, 0, 2, 0},
    {"f t", 0, STANDING_FAIL, 2, 0, 2, 0},
    {"i t", 0, STANDING_INCONCLUSIVE, 2, 0, 2, 0},
    {"t i t", 0, STANDING_INCONCLUSIVE, 3, 0, 3, 0},
    /* not all done */
    {"-", 1, STANDING_OPEN, 0, 0, 0, 0},
    {"p p -", 1, STANDING_OPEN, 2, 2, 2, 0},
    {"p f p", 1, STANDING_OPEN, 2, 2, 3, 0},
    {"ff -", 1, STANDING_OPEN, 1, 0, 2, 1},
    {"f", 1, STANDING_OPEN, 0, 0, 1, 0},
    {"t -", 1, STANDING_OPEN, 0, 0, 1, 0},
};

struct shelf {
    struct record_item items[ITEMS_MAX];
    size_t item_count;
    struct record_run store[RUNS_MAX], *runs[RUNS_MAX];
    struct record_list list;
};

static void add_run(struct shelf *shelf, int64_t item, int attempt, enum record_end end) {
    struct record_run *run = &shelf->store[shelf->list.count];
    *run = (struct record_run){.item = item, .attempt = attempt, .end = end};
    shelf->runs[shelf->list.count++] = run;
}

/* backwards: the runs in the other order, and some that are none of the items'. */
static void make_shelf(const char *text, bool backwards, struct shelf *shelf) {
    static const char letters[] = "pfit";
    *shelf = (struct shelf){.list = {0, shelf->runs}};
    if (backwards) {
        add_run(shelf, 0, 1, RECORD_FAIL);
        add_run(shelf, 999, 1, RECORD_PASS);
    }
    for (const char *at = text; *at != '\0'; shelf->item_count++) {
        struct record_item *item = &shelf->items[shelf->item_count];
        *item =
            (struct record_item){.id = 10 + (int64_t)shelf->item_count, .repeat = (int)shelf->item_count + 1};
        for (int attempt = 1; *at != '\0' && *at != ' '; at++, attempt++) {
            const char *letter = strchr(letters, *at);
            if (letter != NULL) {
                add_run(shelf, item->id, attempt, (enum record_end)(letter - letters));
            }
        }
        at += *at == ' ';
    }
    for (size_t i = 0; backwards && i < shelf->list.count / 2; i++) {
        struct record_run *first = shelf->runs[i];
        shelf->runs[i] = shelf->runs[shelf->list.count - 1 - i];
        shelf->runs[shelf->list.count - 1 - i] = first;
    }
}

static void check_row(const struct row *row, bool backwards) {
    struct shelf shelf;
    struct standing standing;
    make_shelf(row->runs, backwards, &shelf);
    standing_of(shelf.items, shelf.item_count, row->retries, &shelf.list, &standing);
    const struct interval rate = wilson_interval(row->passed, row->done);
    if (standing.kind != row->kind || standing.done != row->done || standing.passed != row->passed ||
        standing.attempts != row->attempts || standing.retried != row->retried ||
        standing.repeats != (int)shelf.item_count || standing.rate_low != rate.low ||
        standing.rate_high != rate.high) {
        fail_msg("\"%s\", %d retries%s: %s, %d done, %d passed, %d attempts, %d retried, %.3f to %.3f",
                 row->runs, row->retries, backwards ? ", backwards" : "", standing_name(standing.kind),
                 standing.done, standing.passed, standing.attempts, standing.retried, standing.rate_low,
                 standing.rate_high);
    }
}

static void each_row_of_the_table_holds(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        check_row(&table[i], false);
        check_row(&table[i], true);
    }
}

/* Whatever the runs, a pass needs each first attempt to have passed. All of two repeats with up to two
 * attempts each: 21 ways a repeat can go (none; 4; 16), 441 pairs. */
static void a_pass_is_never_earned_by_a_retry(void **state) {
    (void)state;
    static const char letters[] = "pfit";
    char ways[21][3] = {"-"}, text[128];
    size_t count = 1;
    for (int a = 0; a < 4; a++) {
        snprintf(ways[count++], 3, "%c", letters[a]);
        for (int b = 0; b < 4; b++) {
            snprintf(ways[count++], 3, "%c%c", letters[a], letters[b]);
        }
    }
    for (size_t a = 0; a < count; a++) {
        for (size_t b = 0; b < count; b++) {
            struct shelf shelf;
            struct standing standing;
            snprintf(text, sizeof text, "%s %s", ways[a], ways[b]);
            make_shelf(text, false, &shelf);
            standing_of(shelf.items, shelf.item_count, 1, &shelf.list, &standing);
            const bool both = ways[a][0] == 'p' && ways[b][0] == 'p';
            if ((standing.kind == STANDING_PASS) != both || (standing_exit(&standing, 1) == 0) != both) {
                fail_msg("\"%s\" is %s", text, standing_name(standing.kind));
            }
        }
    }
}

/* 1 over 3 over 4 over 0, by the rule in standing.h: all 64 sets of kinds. */
static void the_exit_is_the_gravest(void **state) {
    (void)state;
    for (unsigned set = 0; set < 1u << STANDING_KINDS; set++) {
        struct standing standings[STANDING_KINDS];
        size_t count = 0;
        for (int kind = 0; kind < STANDING_KINDS; kind++) {
            if ((set >> kind & 1) != 0) {
                standings[count++] = (struct standing){.kind = (enum standing_kind)kind};
            }
        }
        const bool one = (set & (1u << STANDING_FAIL | 1u << STANDING_UNSTEADY)) != 0;
        const bool three = (set & (1u << STANDING_TROUBLE | 1u << STANDING_OPEN)) != 0;
        const bool four_only = (set & 1u << STANDING_INCONCLUSIVE) != 0;
        assert_int_equal(standing_exit(standings, count), one ? 1 : three ? 3 : four_only ? 4 : 0);
    }
}

static void names_are_told_apart(void **state) {
    (void)state;
    static const char *const names[] = {"open", "pass", "unsteady", "fail", "inconclusive", "trouble"};
    for (int kind = 0; kind < STANDING_KINDS; kind++) {
        assert_string_equal(standing_name((enum standing_kind)kind), names[kind]);
    }
    assert_string_equal(standing_name(STANDING_KINDS), "");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_row_of_the_table_holds),
        cmocka_unit_test(a_pass_is_never_earned_by_a_retry),
        cmocka_unit_test(the_exit_is_the_gravest),
        cmocka_unit_test(names_are_told_apart),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
