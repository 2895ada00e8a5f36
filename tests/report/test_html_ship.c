/* The page for a cartridge's box, and a lot's page: what they say, and that no text of others is markup. How
 * they look, print and read is for tests/pages. SLOTJIG_TEST_PAGES=DIR keeps them. */
#include "record/shipped.h"
#include "report/html.h"
#include "report/ship_json.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static char *page; /* the last one made */

static void done(const char *name) {
    const char *folder = getenv("SLOTJIG_TEST_PAGES");
    char path[500];
    if (folder != NULL) {
        snprintf(path, sizeof path, "%s/%s.html", folder, name);
        FILE *file = fopen(path, "w");
        assert_non_null(file);
        fputs(page, file);
        assert_int_equal(fclose(file), 0);
    }
}

static void make_ship(const struct ship *ship) {
    size_t size = 0;
    free(page);
    FILE *stream = open_memstream(&page, &size);
    assert_non_null(stream);
    html_ship(stream, ship);
    assert_int_equal(fclose(stream), 0);
}

static void make_lot(const char *name, const struct ship_list *list) {
    size_t size = 0;
    struct lot *lot = lot_make(list);
    assert_non_null(lot);
    free(page);
    FILE *stream = open_memstream(&page, &size);
    assert_non_null(stream);
    html_lot(stream, name, lot);
    assert_int_equal(fclose(stream), 0);
    lot_free(lot);
}

static void says(const char *what) {
    if (strstr(page, what) == NULL) {
        fail_msg("\"%s\" is not in %s", what, strstr(page, "<main"));
    }
}

static void says_not(const char *what) {
    if (strstr(page, what) != NULL) {
        fail_msg("\"%s\" is in %.300s", what, strstr(page, what) - 100);
    }
}

static long count(const char *what) {
    long found = 0;
    for (const char *at = page; (at = strstr(at, what)) != NULL; at++) {
        found++;
    }
    return found;
}

static void a_failed_one(void **state) {
    (void)state;
    struct finding findings[2];
    struct ship ship = shipped_kept(0, findings);
    ship.id = 12;
    ship.attempt = 3;
    make_ship(&ship);
    done("ship-fail");
    says("data-verdict=fail data-attempt=3");
    says("<strong>A3 A7 cartridge address shorted</strong> and 1 more finding");
    says("access: 312.5 ns, at most 300 ns allowed");
    says("lot &quot;one&quot;");
    says("F8, 8 KiB");
    says("data-within=0 data-value=\"312.5\" data-limit=\"300\"");
    says("12.5 beyond");
    says("57.5 left");
    says("not measured");
    says("number 3 of this serial");
    says("<strong>In a console</strong>, <strong>not seen to its end</strong>:"); /* no round is known */
    says("(or another of these)");
    says("from an address to its right data");
    says_not("Rehearsed");
    ship.figures[ship.figure_count++] = (struct ship_figure){"rounds", "", 2, 2, true, true, true};
    ship.rehearsed = true;
    make_ship(&ship);
    says("<strong>In a console</strong>:");
    says("Rehearsed on a virtual bench: no cartridge was tested.");
    says("another supply voltage, another temperature");
    says_not("<script");
    says_not("http:");
    says_not("https:");
}

static void other_ends(void **state) {
    (void)state;
    struct finding findings[2];
    struct ship ship = shipped_kept(1, findings);
    make_ship(&ship);
    says("data-verdict=trouble");
    says("it counts as not tested");
    says("It ended early: nothing answers any more");
    says("<strong>In a console</strong>, <strong>not done</strong>:");
    says("None was measured");
    says_not("Findings");
    ship.end = RECORD_PASS;
    ship.problem = "";
    ship.limits = "[ship]\nscheme = F4\nram = yes\nways = reader, console\nimage = game.bin\nsoak = 30\n";
    make_ship(&ship);
    says("every test asked for passed, and every limit was kept");
    says("32 KiB, 128 bytes of RAM");
    says("then 30 minutes more");
    says("the image it is sold with");
    says("put on it afterwards");
    assert_true(strstr(page, "On a reader") < strstr(page, "In a console"));
    ship.limits = "[ship]\nscheme = 4K\nways = console\n";
    make_ship(&ship);
    says("no reader was asked for");
    says_not("On a reader");
    ship.limits = "[ship]\nscheme = 4K\nways = reader\n";
    make_ship(&ship);
    says("no console was asked for");
    ship.limits = "of another time";
    make_ship(&ship);
    says("does not understand the limits file");
}

/* So that it stays a sheet. */
static void many_findings(void **state) {
    (void)state;
    struct finding findings[FINDINGS_MAX], two[2];
    struct ship ship = shipped_kept(0, two);
    for (int i = 0; i < FINDINGS_MAX; i++) {
        findings[i] = two[0];
        findings[i].bit = i % 13;
    }
    ship.findings = findings;
    ship.finding_count = FINDINGS_MAX;
    make_ship(&ship);
    assert_int_equal(count("<li data-kind="), 4);
    says("20 more are in the record");
}

static void hostile(void **state) {
    (void)state;
    static const char evil[] =
        "</title></bdi><script>window.ran=1</script>\"'<img src=x onerror=alert(1)>%s%n";
    static char serials[20][120];
    struct shipped shipped;
    struct finding finding = {.kind = FINDING_CART_CONTACT, .reg = -1, .bit = -1};
    shipped_new(4, 10, &shipped);
    snprintf(finding.text, sizeof finding.text, "%s", evil);
    snprintf(finding.next, sizeof finding.next, "%s", evil);
    for (size_t i = 0; i < shipped.list.count; i++) {
        struct ship *ship = shipped.list.ships[i];
        snprintf(serials[i], sizeof serials[i], "%s%zu", evil, i);
        ship->lot = ship->problem = ship->tool = ship->limits = evil;
        ship->serial = serials[i];
        ship->figures[0].name = ship->figures[0].unit = evil;
        ship->findings = &finding;
        ship->finding_count = i % 2; /* without one, the cause is a figure's name */
        ship->figures[0].within = false;
        ship->end = RECORD_FAIL;
    }
    make_ship(shipped.list.ships[3]);
    says_not("<script");
    says_not("<img");
    says("&lt;script&gt;window.ran=1");
    make_lot(evil, &shipped.list);
    done("lot-hostile");
    says_not("<script");
    says_not("<img");
    says("&lt;script&gt;window.ran=1");
    says("data-cause=\"limit of &lt;/title&gt;");
    shipped_free(&shipped);
}

/* The numbers of shipped_new() [A], as tests/record/test_ships.c counts them. */
static void a_lot(void **state) {
    (void)state;
    struct shipped shipped;
    shipped_new(3, 100, &shipped);
    make_lot("invented", &shipped.list);
    done("lot");
    says("data-tested=100 data-passed=90 data-failed=10 data-first=88");
    says("<b>90 of 100 cartridges passed</b>: a yield of 90.0 % (95 %: 82.6 to 94.5 %)");
    says("88.0 % (95 %: ");
    says("data-end=fail data-count=10");
    says("data-cause=\"cartridge_slow\" data-first=5 data-any=5");
    says("data-cause=\"cartridge_data_stuck\" data-first=5 data-any=5");
    says("data-figure=\"access\" data-count=100 data-beyond=5");
    says("limit: at most 300");
    says("limit: at least 40");
    assert_int_equal(count("<tr data-tests="), 100);
    assert_int_equal(count("<tr data-tests=2"), 6);
    assert_int_equal(count("<svg"), 5); /* four figures, and what all pictures of cells share */
    shipped_free(&shipped);
}

/* Every cartridge is in a bar, also one that lies so far out that the axis ends before. */
static void bars_hold_all(void **state) {
    (void)state;
    struct shipped shipped;
    shipped_new(3, 100, &shipped);
    shipped.list.ships[50]->figures[0].value = 1e6;
    shipped.list.ships[51]->figures[0].value = -1e6;
    make_lot("far", &shipped.list);
    done("lot-far");
    says("2 beyond the axis are in the bars at its ends");
    long sum = 0, bars = 0;
    const char *chart = strstr(page, "access, ns"),
               *end = strstr(strstr(page, "<svg class=\"chart\""), "</svg>");
    assert_non_null(chart);
    for (const char *at = strstr(page, "<svg class=\"chart\"");
         (at = strstr(at, "data-y=\"")) != NULL && at < end; at++) {
        sum += strtol(at + 8, NULL, 10);
        bars++;
    }
    assert_int_equal(sum, 100);
    assert_true(bars >= 4 && bars < 64);
    shipped_free(&shipped);
}

/* The middle of the only bar in a chart of the page. */
static double only_bar(int chart) {
    const char *at = page;
    for (int i = 0; i <= chart; i++) {
        at = strstr(at + 1, "<svg class=\"chart\"");
        assert_non_null(at);
    }
    const char *bar = strstr(at, "data-x=\""), *next = strstr(bar + 1, "data-x=\"");
    assert_true(next == NULL || next > strstr(at, "</svg>"));
    return strtod(bar + 8, NULL);
}

/* A figure that is just its limit keeps it: no bar of it lies beyond the line. */
static void bars_of_what_just_keeps_its_limit(void **state) {
    (void)state;
    enum { ACCESS, MARGIN, DIFFERING };
    struct shipped shipped;
    shipped_new(3, 20, &shipped);
    for (size_t i = 0; i < shipped.list.count; i++) {
        struct ship *ship = shipped.list.ships[i];
        for (int figure = ACCESS; figure <= DIFFERING; figure++) {
            ship->figures[figure].limit = figure == DIFFERING ? 0 : ship->figures[figure].limit;
            ship->figures[figure].value = ship->figures[figure].limit;
            ship->figures[figure].known = true;
        }
    }
    make_lot("just", &shipped.list);
    assert_true(only_bar(ACCESS) < 300);
    assert_true(only_bar(MARGIN) > 40);
    assert_true(only_bar(DIFFERING) < 0);
    shipped.list.ships[7]->figures[ACCESS].value = 250;
    make_lot("near", &shipped.list);
    assert_null(strstr(strstr(page, "<svg class=\"chart\""), "data-x=\"30"));
    shipped_free(&shipped);
}

static void an_empty_lot(void **state) {
    (void)state;
    make_lot("", &(struct ship_list){0, NULL});
    says("all cartridges");
    says("No cartridge of it was tested to a verdict");
    says("None failed");
    struct ship one = {
        .serial = "x", .lot = "", .problem = "", .tool = "", .limits = "", .end = RECORD_TROUBLE};
    struct ship *list[] = {&one};
    make_lot("one", &(struct ship_list){1, list});
    says("data-end=trouble data-count=1");
    assert_int_equal(count("<tr data-tests=1 data-verdict=trouble"), 1);
}

static void as_json(void **state) {
    (void)state;
    struct finding findings[2];
    const struct ship ship = shipped_kept(0, findings);
    json_t *json = ship_json(&ship);
    assert_non_null(json);
    const json_t *figure = json_array_get(json_object_get(json, "figures"), 2);
    assert_true(json_is_null(json_object_get(figure, "value")));
    assert_string_equal(json_string_value(json_object_get(figure, "is")), "most");
    const json_t *finding = json_array_get(json_object_get(json, "findings"), 0);
    assert_string_equal(json_string_value(json_object_get(finding, "lines")), "A3 A7");
    assert_true(json_is_null(json_object_get(finding, "register")));
    assert_string_equal(json_string_value(json_object_get(json, "started")), "2026-01-01T00:00:00.000Z");
    json_decref(json);
    struct shipped shipped;
    shipped_new(3, 100, &shipped);
    struct lot *lot = lot_make(&shipped.list);
    json = lot_json("", lot);
    assert_true(json_is_null(json_object_get(json, "lot")));
    assert_int_equal(json_array_size(json_object_get(json, "each")), 100);
    assert_int_equal(json_integer_value(json_object_get(json, "tested_again")), 2);
    json_decref(json);
    lot_free(lot);
    shipped_free(&shipped);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_failed_one),
        cmocka_unit_test(other_ends),
        cmocka_unit_test(many_findings),
        cmocka_unit_test(hostile),
        cmocka_unit_test(a_lot),
        cmocka_unit_test(bars_hold_all),
        cmocka_unit_test(bars_of_what_just_keeps_its_limit),
        cmocka_unit_test(an_empty_lot),
        cmocka_unit_test(as_json),
    };
    const int failed = cmocka_run_group_tests(tests, NULL, NULL);
    free(page);
    return failed;
}
