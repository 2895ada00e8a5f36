/* What the ways of testing a cartridge saw, to one verdict: a pass needs all of it. */
#include "commands/ship.h"
#include "commands/ship_way.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct finding findings[2 * FINDINGS_MAX];

static struct ship judge(const struct ship_seen *console, const struct ship_seen *reader, bool wants_console,
                         bool wants_reader) {
    const struct ship_plan plan = {.console = wants_console, .reader = wants_reader};
    struct ship ship = {.end = RECORD_ENDS};
    ship_judge(console, reader, &plan, findings, &ship);
    return ship;
}

/* All pairs of ends: a fault that was seen stays one, then trouble, then what could not be read. */
static void both_ways(void **state) {
    (void)state;
    static const enum record_end graver[RECORD_ENDS][RECORD_ENDS] = {
        [RECORD_PASS] = {RECORD_PASS, RECORD_FAIL, RECORD_INCONCLUSIVE, RECORD_TROUBLE},
        [RECORD_FAIL] = {RECORD_FAIL, RECORD_FAIL, RECORD_FAIL, RECORD_FAIL},
        [RECORD_INCONCLUSIVE] = {RECORD_INCONCLUSIVE, RECORD_FAIL, RECORD_INCONCLUSIVE, RECORD_TROUBLE},
        [RECORD_TROUBLE] = {RECORD_TROUBLE, RECORD_FAIL, RECORD_TROUBLE, RECORD_TROUBLE}};
    for (int first = 0; first < RECORD_ENDS; first++) {
        for (int second = 0; second < RECORD_ENDS; second++) {
            const struct ship_seen console = {.end = (enum record_end)first, .run = 5},
                                   reader = {.end = (enum record_end)second, .run = 7};
            const struct ship ship = judge(&console, &reader, true, true);
            assert_int_equal(ship.end, graver[first][second]);
            assert_int_equal(ship.console_run, 5);
            assert_int_equal(ship.reader_run, 7);
        }
        const struct ship_seen one = {.end = (enum record_end)first, .run = 5};
        assert_int_equal(judge(&one, NULL, true, false).end, first);
        assert_int_equal(judge(NULL, &one, false, true).end, first);
        /* A way that was asked for and not come to is never a pass. */
        assert_int_equal(judge(&one, NULL, true, true).end,
                         first == RECORD_FAIL ? RECORD_FAIL : RECORD_TROUBLE);
        assert_int_equal(judge(NULL, &one, true, true).end,
                         first == RECORD_FAIL ? RECORD_FAIL : RECORD_TROUBLE);
    }
}

static struct ship_seen with_figure(enum record_end end, bool known, bool within) {
    return (struct ship_seen){
        .end = end, .figure_count = 1, .figures = {{"access", "ns", 200, 300, known, false, within}}};
}

static void every_limit(void **state) {
    (void)state;
    const struct ship_seen kept = with_figure(RECORD_PASS, true, true),
                           beyond = with_figure(RECORD_PASS, true, false),
                           unknown = with_figure(RECORD_PASS, false, false);
    assert_int_equal(judge(NULL, &kept, false, true).end, RECORD_PASS);
    assert_int_equal(judge(NULL, &beyond, false, true).end, RECORD_FAIL);
    assert_int_equal(judge(NULL, &unknown, false, true).end, RECORD_INCONCLUSIVE);
    assert_int_equal(judge(&unknown, &beyond, true, true).end, RECORD_FAIL);
    assert_int_equal(judge(&kept, &kept, true, true).figure_count, 2);
    const struct ship_seen lost =
        with_figure(RECORD_TROUBLE, true, false); /* broken off: its figures say nothing */
    assert_int_equal(judge(NULL, &lost, false, true).end, RECORD_TROUBLE);
    assert_int_equal(judge(NULL, &lost, false, true).figure_count, 0);
}

static void limits_hold_on_their_side(void **state) {
    (void)state;
    struct ship_plan plan = {.limit = {300, 40, 100, 20, 0, 3}};
    assert_true(ship_figure_of(&plan, SHIP_ACCESS, true, 300).within);
    assert_false(ship_figure_of(&plan, SHIP_ACCESS, true, 300.5).within);
    assert_true(ship_figure_of(&plan, SHIP_MARGIN, true, 40).within);
    assert_false(ship_figure_of(&plan, SHIP_MARGIN, true, 39.5).within);
    assert_true(ship_figure_of(&plan, SHIP_SOAK_ERRORS, true, 3).within);
    assert_false(ship_figure_of(&plan, SHIP_SOAK_ERRORS, true, 4).within);
    assert_false(ship_figure_of(&plan, SHIP_WAKE, false, 0).within);
}

static void findings_of_both_once(void **state) {
    (void)state;
    struct ship_seen console = {
        .end = RECORD_FAIL,
        .finding_count = 4,
        .findings = {{.kind = FINDING_NO_VIDEO, .reg = -1, .bit = -1},
                     {.kind = FINDING_CART_DEAD, .reg = -1, .bit = -1},
                     {.kind = FINDING_CART_SLOW, .reg = -1, .bit = -1, .explanation = 1},
                     {.kind = FINDING_CART_PAGE_WRONG, .reg = -1, .bit = -1, .explanation = 2}}};
    struct ship_seen reader = {
        .end = RECORD_FAIL,
        .finding_count = 2,
        .findings = {{.kind = FINDING_CART_ADDRESS_SHORTED, .reg = 7, .bit = 3, .explanation = 3},
                     {.kind = FINDING_CART_SLOW, .reg = -1, .bit = -1}}};
    struct ship ship = judge(&console, &reader, true, true);
    assert_int_equal(ship.finding_count, 3);
    assert_int_equal(ship.findings[0].kind, FINDING_CART_ADDRESS_SHORTED);
    assert_int_equal(ship.findings[1].kind, FINDING_CART_SLOW);
    assert_int_equal(ship.findings[2].kind, FINDING_CART_PAGE_WRONG);
    assert_int_equal(ship.findings[2].explanation, 5); /* behind those of the reader */
    /* With nothing from a reader, all that the console said. */
    reader.finding_count = 0;
    reader.end = RECORD_PASS;
    ship = judge(&console, &reader, true, true);
    assert_int_equal(ship.finding_count, 4);
    assert_int_equal(ship.findings[3].explanation, 2);
}

static void why_it_ended(void **state) {
    (void)state;
    struct ship_seen console = {.end = RECORD_TROUBLE}, reader = {.end = RECORD_TROUBLE};
    strcpy(console.problem, "its picture went away");
    assert_string_equal(judge(&console, &reader, true, true).problem, "its picture went away");
    strcpy(reader.problem, "nothing answers any more");
    assert_string_equal(judge(&console, &reader, true, true).problem, "nothing answers any more");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_ways),
        cmocka_unit_test(every_limit),
        cmocka_unit_test(limits_hold_on_their_side),
        cmocka_unit_test(findings_of_both_once),
        cmocka_unit_test(why_it_ended),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
