/* Records as rows: JSON Lines against Jansson and against json_result() of the same run; CSV against RFC
 * 4180's grammar and, read back, by sqlite3's own reader. */
#include "report/rows.h"

#include "base/utf8.h"
#include "commands/program.h"
#include "plan/plan.h"
#include "record/invented.h"
#include "report/json.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

enum { SEED = 5, CONSOLES = 7, STEPS = 98, REPEATS = 2, COLUMNS = 42 };

static char folder[] = "/tmp/slotjig-rows-XXXXXX";
static char file[64];

static int make_folder(void **state) {
    (void)state;
    if (mkdtemp(folder) == NULL) {
        return -1;
    }
    snprintf(file, sizeof file, "%s/rows", folder);
    return 0;
}

static int remove_folder(void **state) {
    (void)state;
    unlink(file);
    return rmdir(folder);
}

static char *printed(enum rows_form form, const struct record_list *runs) {
    char *text = NULL;
    size_t size = 0;
    struct problem problem;
    assert_true(rows_write(file, form, runs, &problem));
    FILE *stream = fopen(file, "re");
    assert_non_null(stream);
    assert_true(getdelim(&text, &size, '\0', stream) > 0);
    fclose(stream);
    return text;
}

/* ---- JSON ---- */

static void as_a_result(void **state) {
    (void)state;
    struct invented *invented = invented_new(SEED, CONSOLES, STEPS, 1);
    struct plan *plan = NULL;
    struct problem problem;
    assert_true(plan_open("bits", STANDARD_NTSC, &plan, &problem));
    const struct record_run *run = invented->runs.runs[CONSOLES - 1]; /* which has a bit stuck */
    struct result result = {.verdict = VERDICT_FAIL,
                            .margin = run->margin,
                            .fields_seen = run->fields_seen,
                            .fields_judged = run->fields_judged,
                            .has_raster = true,
                            .raster = run->raster,
                            .frame_lines = run->frame_lines,
                            .step_count = run->step_count,
                            .steps = (struct step_result *)(uintptr_t)run->steps,
                            .finding_count = run->finding_count};
    result.findings[0] = run->findings[0];
    const struct report report = {.plan = plan,
                                  .bench = run->bench,
                                  .result = &result,
                                  .hash = run->image_hash,
                                  .hold = 4,
                                  .seed = run->seed,
                                  .has_seed = true,
                                  .exit = run->exit,
                                  .command = "run"};
    json_t *wanted = json_result(&report), *json = record_json(run);
    const char *key = NULL;
    json_t *value = NULL;
    json_object_foreach(wanted, key, value) {
        if (strcmp(key, "capture") == 0) { /* of which a record keeps a part */
            continue;
        }
        json_t *kept = json_object_get(json, key);
        if (strcmp(key, "settings") == 0) { /* the invented ones name the hold alone */
            json_object_del(value, "faults");
        }
        if (kept == NULL || !json_equal(kept, value)) {
            char *text = json_dumps(kept, JSON_ENCODE_ANY | JSON_INDENT(1));
            fail_msg("%s: not as in a result: %.400s", key, text);
        }
    }
    json_decref(wanted);
    json_decref(json);
    plan_free(plan);
    invented_free(invented);
}

static void is_text(const json_t *json, const char *key, const char *wanted) {
    const char *text = json_string_value(json_object_get(json, key));
    assert_non_null(text);
    assert_string_equal(text, wanted);
}

static void is_number(const json_t *json, const char *key, double wanted) {
    const json_t *number = json_object_get(json, key);
    assert_true(json_is_number(number) && json_number_value(number) == wanted);
}

static void what_a_record_adds(void **state) {
    (void)state;
    struct invented *invented = invented_new(SEED, 1, 3, 1);
    struct record_run *run = invented->runs.runs[0];
    static const char colours[] = "{\"colours\": [1, 2], \"plan\": \"never over a key of the run\"}";
    const struct record_blob blobs[] = {
        {"colours", "application/json", (const uint8_t *)colours, sizeof colours - 1, "00"},
        {"field", "image/png", (const uint8_t *)"\x89PNG", 4, "ab12"}};
    run->id = 12;
    run->started_ms = 1795701933123; /* 2026-11-26T14:05:33.123Z [A: date -ud @1795701933] */
    run->blobs = blobs;
    run->blob_count = 2;
    run->console.modifications = "new capacitors";
    run->minutes_on = 12.25;
    run->item = 7;
    run->sweep = 3;
    run->repeat = 4;
    run->attempt = 2;
    json_t *json = record_json(run);
    is_text(json, "started", "2026-11-26T14:05:33.123Z");
    is_text(json, "end", "pass");
    is_text(json, "plan", "bits");
    is_text(json_object_get(json, "console"), "name", "shelf 01");
    is_text(json_object_get(json, "console"), "revision", "A");
    is_text(json_object_get(json, "console"), "markings", "invented markings");
    is_text(json_object_get(json, "console"), "modifications", "new capacitors");
    is_text(json_object_get(json, "cartridge"), "serial", "0123456789ABCDEF");
    is_text(json_object_get(json, "cartridge"), "kind", "usb");
    is_text(json_object_get(json, "cartridge"), "firmware", "0.2");
    is_text(json, "station", "bench room");
    is_text(json, "tool", "0.1.0");
    is_text(json, "plan_id", invented->plan.id);
    is_number(json, "minutes_on", 12.25);
    is_number(json, "took_s", 6.543);
    is_number(json, "item", 7);
    is_number(json, "sweep", 3);
    is_number(json, "repeat", 4);
    is_number(json, "attempt", 2);
    assert_true(json_is_false(json_object_get(json, "by_eye")));
    assert_int_equal(json_integer_value(json_object_get(json, "id")), 12);
    assert_int_equal(json_array_size(json_object_get(json, "colours")), 2);
    const json_t *picture = json_array_get(json_object_get(json, "pictures"), 0);
    is_text(picture, "id", "ab12");
    assert_int_equal(json_integer_value(json_object_get(picture, "bytes")), 4);
    json_decref(json);
    run->step_count = 0; /* they were not read */
    run->item = 0;
    run->minutes_on = -1;
    json = record_json(run);
    assert_true(json_is_null(json_object_get(json, "item")));
    assert_true(json_is_null(json_object_get(json, "minutes_on")));
    assert_null(json_object_get(json, "steps"));
    json_decref(json);
    run->seen_by_eye = true;
    run->step_count = 3;
    json = record_json(run);
    assert_true(json_is_null(json_object_get(json_array_get(json_object_get(json, "steps"), 0), "seen")));
    assert_true(json_is_null(json_object_get(json, "margin")));
    json_decref(json);
    invented_free(invented);
}

static void a_run_a_line(void **state) {
    (void)state;
    struct invented *invented = invented_new(SEED, CONSOLES, STEPS, REPEATS);
    char *text = printed(ROWS_JSONL, &invented->runs);
    size_t lines = 0;
    for (char *line = strtok(text, "\n"); line != NULL; line = strtok(NULL, "\n"), lines++) {
        json_t *json = json_loads(line, JSON_REJECT_DUPLICATES, NULL);
        assert_non_null(json);
        is_text(json_object_get(json, "console"), "name", invented->runs.runs[lines]->console.name);
        assert_int_equal(json_array_size(json_object_get(json, "steps")), STEPS);
        json_decref(json);
    }
    assert_int_equal(lines, CONSOLES * REPEATS);
    free(text);
    invented_free(invented);
}

/* ---- CSV ---- */

/* RFC 4180's grammar (section 2), character by character: rows of equally many fields, each row ended by
 * CRLF; a quote only round a whole field, or doubled within one. Returns the rows. */
static size_t rows_by_the_grammar(const char *text, size_t columns) {
    size_t rows = 0, fields = 1;
    while (*text != '\0') {
        if (*text == '"') {
            for (text++; *text != '"' || text[1] == '"'; text += *text == '"' ? 2 : 1) {
                assert_int_not_equal(*text, '\0');
            }
            text++;
        } else {
            for (; *text != ',' && *text != '\r'; text++) {
                assert_true(*text != '"' && *text != '\n' && *text != '\0');
            }
        }
        if (*text == ',') {
            fields++;
            text++;
            continue;
        }
        assert_true(text[0] == '\r' && text[1] == '\n');
        text += 2;
        rows++;
        assert_int_equal(fields, columns);
        fields = 1;
    }
    return rows;
}

static void by_the_grammar(void **state) {
    (void)state;
    struct invented *invented = invented_new(SEED, CONSOLES, STEPS, REPEATS);
    char *text = printed(ROWS_CSV, &invented->runs);
    assert_int_equal(rows_by_the_grammar(text, COLUMNS), 1 + CONSOLES * REPEATS * STEPS);
    free(text);
    invented->runs.runs[0]->step_count = 0; /* a run without steps is a row */
    text = printed(ROWS_CSV, &(struct record_list){1, invented->runs.runs});
    assert_int_equal(rows_by_the_grammar(text, COLUMNS), 2);
    free(text);
    invented_free(invented);
}

static bool has_sqlite(void) {
    return program_line(10, "sqlite3 --version") == 0;
}

/* Asks sqlite3's shell, into which the rows were imported. */
static void ask(const char *query, const char *wanted) {
    char line[1024];
    snprintf(line, sizeof line, "sqlite3 :memory: '.import --csv %s t' \"%s\"", file, query);
    assert_int_equal(program_line(60, line), 0);
    if (strcmp(program_said(), wanted) != 0) {
        fail_msg("%s: %.600s, not %s", query, program_said(), wanted);
    }
}

static void read_back(void **state) {
    (void)state;
    struct problem problem;
    if (!has_sqlite()) {
        skip();
    }
    struct invented *invented = invented_new(SEED, CONSOLES, STEPS, REPEATS);
    assert_true(rows_write(file, ROWS_CSV, &invented->runs, &problem));
    size_t failing = 0;
    for (size_t i = 0; i < invented->runs.count; i++) {
        for (size_t j = 0; j < STEPS; j++) {
            failing += invented->runs.runs[i]->steps[j].verdict == VERDICT_FAIL;
        }
    }
    char wanted[200], margin[40];
    snprintf(wanted, sizeof wanted, "%d|%d|%zu\n", CONSOLES * REPEATS * STEPS, CONSOLES, failing);
    ask("select count(*), count(distinct console), sum(verdict = 'fail') from t", wanted);
    const struct record_run *run = invented->runs.runs[3];
    snprintf(margin, sizeof margin, "%.6g", run->steps[9].margin);
    snprintf(wanted, sizeof wanted, "%s|%s|%s|0x1234|6.543\n", margin, invented->plan.steps[9].name,
             run->console.name);
    ask("select margin, name, console, image_hash, took_s from t limit 1 offset 3*98+9", wanted);
    ask("select count(*) from t where expected = seen and verdict = 'fail'", "0\n");
    ask("select distinct length(expected), length(seen) from t", "40|40\n");
    invented_free(invented);
}

/* OWASP's list of what begins a formula: = + - @, tab, carriage return, and the wide forms of the first four.
 */
static const char *const hostile[] = {"=HYPERLINK(\"http://a.example\",\"x\")",
                                      "+1+1",
                                      "-2+3",
                                      "@SUM(A1)",
                                      "\t=1",
                                      "\r=1",
                                      "\xEF\xBC\x9D(x)",
                                      "a,b",
                                      "say \"yes\"",
                                      "two\r\nlines",
                                      "Robert'); DROP TABLE t; --",
                                      "bad \xFF\xC0 bytes",
                                      "\xCE\xA9 ohm",
                                      "<script>alert(1)</script>"};
enum { HOSTILE = sizeof hostile / sizeof hostile[0] };

static void names_that_mean_harm(void **state) {
    (void)state;
    struct problem problem;
    struct invented *invented = invented_new(SEED, HOSTILE, 1, 1);
    for (size_t i = 0; i < HOSTILE; i++) {
        struct record_run *run = invented->runs.runs[i];
        run->console = (struct record_console){hostile[i], hostile[i], hostile[i], hostile[i]};
        run->station = run->bench = run->problem = hostile[i];
        ((struct step_result *)(uintptr_t)run->steps)->offset = -0.5; /* a number stays one */
    }
    char *text = printed(ROWS_CSV, &invented->runs);
    assert_int_equal(rows_by_the_grammar(text, COLUMNS), 1 + HOSTILE);
    free(text);
    text = printed(ROWS_JSONL, &invented->runs);
    for (char *line = strtok(text, "\n"); line != NULL; line = strtok(NULL, "\n")) {
        json_t *json = json_loads(line, 0, NULL);
        assert_non_null(json);
        json_decref(json);
    }
    free(text);
    if (has_sqlite()) {
        assert_true(rows_write(file, ROWS_CSV, &invented->runs, &problem));
        for (size_t i = 0; i < HOSTILE; i++) {
            char query[300], wanted[800], clean[200];
            utf8_clean(hostile[i], clean, sizeof clean, false);
            snprintf(query, sizeof query,
                     "select console, station, problem, offset_clocks from t limit 1 offset %zu", i);
            snprintf(wanted, sizeof wanted, "%s%s|%s%s|%s%s|-0.5\n", i < 7 ? "'" : "", clean,
                     i < 7 ? "'" : "", clean, i < 7 ? "'" : "", clean);
            ask(query, wanted);
        }
    }
    invented_free(invented);
}

static int memory_left;

static void *scarce(size_t size) {
    return memory_left-- > 0 ? malloc(size) : NULL;
}

/* A run that cannot be written is no run that is left out. */
static void short_memory(void **state) {
    (void)state;
    struct invented *invented = invented_new(SEED, CONSOLES, STEPS, REPEATS);
    struct problem problem = {0};
    char place[64];
    snprintf(place, sizeof place, "/tmp/slotjig-rows-%d.jsonl", (int)getpid());
    memory_left = 0;
    json_set_alloc_funcs(scarce, free);
    const bool written = rows_write(place, ROWS_JSONL, &invented->runs, &problem);
    json_set_alloc_funcs(malloc, free);
    assert_false(written);
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, "memory is short"));
    assert_int_not_equal(access(place, F_OK), 0);
    invented_free(invented);
}

static void whole_or_not_at_all(void **state) {
    (void)state;
    struct problem problem = {0};
    struct invented *invented = invented_new(SEED, 1, 1, 1);
    assert_false(rows_write("/nowhere/at/all.csv", ROWS_CSV, &invented->runs, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_false(rows_write("/dev/full", ROWS_JSONL, &invented->runs, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    /* A stream that fails ends it, and what there is so far is thrown away. */
    struct rows rows;
    size_t added = 0;
    assert_true(rows_open("/dev/full", ROWS_CSV, &rows, &problem));
    while (rows_add(&rows, invented->runs.runs[0])) {
        assert_true(++added < 100000);
    }
    assert_false(rows_close(&rows, true, &problem));
    assert_true(rows_open(file, ROWS_JSONL, &rows, &problem) && rows_add(&rows, invented->runs.runs[0]));
    unlink(file);
    assert_false(rows_close(&rows, false, &problem));
    assert_int_equal(access(file, F_OK), -1);
    invented_free(invented);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_a_result),         cmocka_unit_test(what_a_record_adds),
        cmocka_unit_test(a_run_a_line),        cmocka_unit_test(by_the_grammar),
        cmocka_unit_test(read_back),           cmocka_unit_test(names_that_mean_harm),
        cmocka_unit_test(whole_or_not_at_all), cmocka_unit_test(short_memory)};
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
