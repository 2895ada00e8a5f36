/* What was put into the store comes out of it again, chosen and in order; nothing else gets in. */
#include "record/files.h"
#include "record/same.h"
#include "record/varied.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct problem problem;

#define GOOD(call)                                                                                           \
    do {                                                                                                     \
        problem = (struct problem){0};                                                                       \
        if (!(call)) {                                                                                       \
            fail_msg("%s: %s", #call, problem.text);                                                         \
        }                                                                                                    \
    } while (0)

static void runs_come_back(void **state) {
    (void)state;
    struct invented *varied = varied_new();
    struct records *records = files_new("store");
    files_put(records, varied);
    for (size_t i = 0; i < varied->runs.count; i++) {
        for (unsigned parts = 0; parts <= RECORDS_ALL; parts++) {
            struct record_run *run = NULL;
            char why[400] = "";
            GOOD(records_run(records, varied->runs.runs[i]->id, parts, &run, &problem));
            if (!record_same(varied->runs.runs[i], run, parts, why, sizeof why)) {
                fail_msg("run %zu, parts %u: %s", i, parts, why);
            }
            record_free(run);
        }
    }
    GOOD(records_check(records, &problem));
    records_close(records);
    records = files_open("store", RECORDS_READ);
    files_compare(records, &varied->runs);
    records_close(records);
    invented_free(varied);
}

/* The ids of what is chosen, as one text. */
static const char *ids(struct records *records, const struct records_choice *choice) {
    static char text[2000];
    struct record_list list;
    size_t used = 0;
    text[0] = '\0';
    GOOD(records_select(records, choice, 0, &list, &problem));
    for (size_t i = 0; i < list.count && used < sizeof text; i++) {
        used += (size_t)snprintf(text + used, sizeof text - used, "%s%lld", i > 0 ? " " : "",
                                 (long long)list.runs[i]->id);
    }
    record_list_free(&list);
    return text;
}

/* A shelf of three consoles with two repeats: run 2 c - 1 and 2 c are console c's, of days 1 and 2, a minute
 * apart from one console to the next. */
static struct records *small_shelf(struct invented **shelf) {
    struct records *records = files_new("choice");
    *shelf = invented_new(1, 3, 2, 2);
    GOOD(records_sweep_put(records, &(*shelf)->sweep, &problem));
    for (size_t i = 0; i < 6; i++) {
        struct record_run *run = (*shelf)->runs.runs[i];
        run->item = i < 4 ? (*shelf)->sweep.items[i].id : 0;
        run->bench = i == 5 ? "window" : "table";
        run->end = i == 2 ? RECORD_TROUBLE : run->end;
        GOOD(records_put(records, run, &problem));
    }
    return records;
}

static void a_run_knows_its_sweep(void **state) {
    (void)state;
    struct invented *shelf;
    struct records *records = small_shelf(&shelf);
    struct record_run *run = NULL;
    GOOD(records_run(records, 4, 0, &run, &problem));
    assert_int_equal(run->sweep, shelf->sweep.id);
    assert_int_equal(run->repeat, 2); /* of shelf 02 */
    record_free(run);
    GOOD(records_run(records, 5, 0, &run, &problem));
    assert_int_equal(run->sweep, 0);
    assert_int_equal(run->repeat, 0);
    record_free(run);
    records_close(records);
    invented_free(shelf);
}

static void runs_are_chosen(void **state) {
    (void)state;
    struct invented *shelf;
    struct records *records = small_shelf(&shelf);
    const int64_t second = shelf->runs.runs[2]->started_ms;
    const struct {
        const char *ids;
        struct records_choice choice;
    } cases[] = {
        {"1 5 2 4 6", {0}},
        {"1 3 5 2 4 6", {.with_trouble = true}},
        {"3 4", {.console = "shelf 02", .with_trouble = true}},
        {"4", {.console = "shelf 02"}},
        {"", {.console = "shelf 0"}},
        {"", {.console = "' OR '1' = '1"}},
        {"1 5 2 6", {.revision = "A"}},
        {"4", {.revision = "B"}},
        {"6", {.bench = "window"}},
        {"1 5 2 4 6", {.station = "bench room"}},
        {"", {.station = "elsewhere"}},
        {"1 5 2 4 6", {.plan = "bits"}},
        {"", {.plan = "bit"}},
        {"1 5 2 4 6", {.plan_id = shelf->plan.id}},
        {"", {.plan_id = "bits"}},
        {"3 5 2 4 6", {.since_ms = second, .with_trouble = true}},
        {"1", {.until_ms = second, .with_trouble = true}},
        {"3", {.since_ms = second, .until_ms = second + 1, .with_trouble = true}},
        {"1 3 2 4", {.sweep = shelf->sweep.id, .with_trouble = true}},
        {"2", {.sweep = shelf->sweep.id, .console = "shelf 01", .after_id = 1}},
        {"", {.sweep = shelf->sweep.id + 1}},
        {"5 6", {.after_id = 4}},
        {"4 6", {.last = 2}},
        {"5 6", {.last = 7, .console = "shelf 03"}},
        {"2", {.last = 1, .console = "shelf 01", .plan = "bits", .bench = "table", .revision = "A"}},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        if (strcmp(ids(records, &cases[i].choice), cases[i].ids) != 0) {
            fail_msg("case %zu: %s, not %s", i, ids(records, &cases[i].choice), cases[i].ids);
        }
    }
    records_close(records);
    invented_free(shelf);
}

static bool count_two(void *user, const struct record_run *run) {
    int *count = user;
    assert_int_equal(run->step_count, 2);
    return ++*count < 2;
}

static void a_walk_ends_when_asked(void **state) {
    (void)state;
    struct invented *shelf;
    struct records *records = small_shelf(&shelf);
    int count = 0;
    const struct records_choice all = {0};
    GOOD(records_each(records, &all, RECORDS_STEPS, count_two, &count, &problem));
    assert_int_equal(count, 2);
    records_close(records);
    invented_free(shelf);
}

/* Run and list outlive the store they are from. */
static void runs_outlive_the_store(void **state) {
    (void)state;
    struct invented *shelf;
    struct records *records = small_shelf(&shelf);
    struct record_list list;
    const struct records_choice all = {.with_trouble = true};
    char why[400];
    GOOD(records_select(records, &all, RECORDS_ALL, &list, &problem));
    records_close(records);
    for (size_t i = 0; i < list.count; i++) {
        assert_true(record_same(shelf->runs.runs[list.runs[i]->id - 1], list.runs[i], RECORDS_ALL, why, 400));
    }
    record_list_free(&list);
    invented_free(shelf);
}

static void what_repeats_is_kept_once(void **state) {
    (void)state;
    struct invented *varied = varied_new(), *again = varied_new();
    struct records *records = files_new("once");
    files_put(records, varied);
    files_put(records, again);
    records_close(records);
    const char *path = files_path("once");
    assert_int_equal(files_number(path, "SELECT count(*) FROM runs"), 24);
    assert_int_equal(files_number(path, "SELECT count(*) FROM plans"), 1);
    assert_int_equal(files_number(path, "SELECT count(*) FROM consoles"), 4);
    assert_int_equal(files_number(path, "SELECT count(*) FROM states"), 5); /* one was modified once */
    assert_int_equal(files_number(path, "SELECT count(*) FROM run_blobs"), 8);
    assert_int_equal(files_number(path, "SELECT count(*) FROM blobs"), 3);
    assert_int_equal(files_number(path, "SELECT sum(length(bytes)) FROM blobs WHERE size = 700"), 700);
    assert_int_equal(files_number(path, "SELECT count(*) FROM findings"), 8);
    assert_int_equal(files_number(path, "SELECT count(*) FROM causes"), 4);
    assert_int_equal(files_number(path, "SELECT count(*) FROM texts"), 7); /* one advice is given twice */
    invented_free(varied);
    invented_free(again);
}

/* Of "abc": SHA-256 [S FIPS 180-4, example]. */
static void blobs_are_named_by_content(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 1, 1, 1);
    struct records *records = files_new("blobs");
    struct record_run *run = shelf->runs.runs[0], *back = NULL;
    const struct record_blob blobs[] = {
        {.name = "abc", .type = "text/plain", .bytes = (const uint8_t *)"abc", .size = 3},
        {.name = "empty", .type = "text/plain", .bytes = NULL, .size = 0}};
    run->blobs = blobs;
    run->blob_count = 2;
    GOOD(records_put(records, run, &problem));
    GOOD(records_run(records, run->id, RECORDS_BLOBS, &back, &problem));
    assert_int_equal(back->blob_count, 2);
    assert_string_equal(back->blobs[0].id,
                        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    assert_memory_equal(back->blobs[0].bytes, "abc", 3);
    assert_string_equal(back->blobs[1].id,
                        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    assert_int_equal(back->blobs[1].size, 0);
    record_free(back);
    records_close(records);
    invented_free(shelf);
}

static void odd_texts_do_no_harm(void **state) {
    (void)state;
    static const char *const names[] = {"<script>alert(1)</script>",
                                        "'); DROP TABLE runs; --",
                                        "\"",
                                        "%s%n",
                                        "=cmd|' /C calc'!A0",
                                        "?1",
                                        ":memory:",
                                        "\xE2\x82\xAC"};
    struct invented *shelf = invented_new(1, 1, 2, 1);
    struct records *records = files_new("odd 'name'; --.sqlite");
    struct record_run *run = shelf->runs.runs[0], *back = NULL;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char why[400] = "", wanted[8];
        run->console = (struct record_console){names[i], names[i], names[i], names[i]};
        run->station = run->bench = run->tool = run->settings = run->command = run->problem = names[i];
        shelf->plan.name = names[i];
        GOOD(records_put(records, run, &problem));
        GOOD(records_run(records, run->id, RECORDS_ALL, &back, &problem));
        assert_true(record_same(run, back, RECORDS_ALL, why, sizeof why));
        record_free(back);
        const struct records_choice choice = {.console = names[i], .plan = names[i], .station = names[i]};
        snprintf(wanted, sizeof wanted, "%zu", i + 1);
        assert_string_equal(ids(records, &choice), wanted);
    }
    GOOD(records_check(records, &problem));
    records_close(records);
    invented_free(shelf);
}

static void bad_texts_are_cleaned(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 1, 2, 1);
    struct records *records = files_new("bad");
    struct record_run *run = shelf->runs.runs[0], *back = NULL;
    run->console.name = "two\nlines \xFF";
    run->console.markings = NULL;
    run->problem = "\x1B[2J";
    run->settings = "{\n}\t";
    GOOD(records_put(records, run, &problem));
    GOOD(records_run(records, run->id, RECORDS_ALL, &back, &problem));
    assert_string_equal(back->console.name, "two?lines ?");
    assert_string_equal(back->console.markings, "");
    assert_string_equal(back->problem, "?[2J");
    assert_string_equal(back->settings, "{\n}\t");
    record_free(back);
    const struct records_choice choice = {.console = "two\nlines \xFF"}; /* as it was given */
    assert_string_equal(ids(records, &choice), "1");
    records_close(records);
    invented_free(shelf);
}

static void nameless_runs_are_refused(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 1, 2, 1);
    struct records *records = files_new("nameless");
    struct record_run *run = shelf->runs.runs[0];
    run->console.name = "";
    assert_false(records_put(records, run, &problem));
    files_problem(&problem, PROBLEM_INPUT, "without a name");
    run->console.name = "one";
    shelf->plan.id[0] = '\0';
    assert_false(records_put(records, run, &problem));
    files_problem(&problem, PROBLEM_INPUT, "no id");
    assert_int_equal(run->id, 0);
    records_close(records);
    assert_int_equal(files_number(files_path("nameless"), "SELECT count(*) FROM runs"), 0);
    assert_int_equal(files_number(files_path("nameless"), "SELECT count(*) FROM consoles"), 0);
    invented_free(shelf);
}

static void runs_of_unknown_items_are_refused(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 1, 2, 1);
    struct records *records = files_new("unknown");
    struct record_run *run = shelf->runs.runs[0];
    run->item = 77;
    assert_false(records_put(records, run, &problem));
    files_problem(&problem, PROBLEM_INPUT, "item 77");
    run->item = 0;
    GOOD(records_put(records, run, &problem)); /* and the store goes on */
    records_close(records);
    assert_int_equal(files_number(files_path("unknown"), "SELECT count(*) FROM runs"), 1);
    invented_free(shelf);
}

static void batches_are_whole(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 2, 2, 3);
    struct records *records = files_new("batch");
    struct record_run **runs = shelf->runs.runs;
    GOOD(records_begin(records, &problem));
    GOOD(records_put(records, runs[0], &problem));
    runs[1]->item = 77; /* refused, and nothing of it is left; the others stand */
    assert_false(records_put(records, runs[1], &problem));
    GOOD(records_put(records, runs[2], &problem));
    GOOD(records_end(records, &problem));
    GOOD(records_begin(records, &problem));
    GOOD(records_put(records, runs[3], &problem));
    records_close(records); /* never ended: none of it is there */
    records = files_open("batch", RECORDS_WRITE);
    const struct records_choice all = {.with_trouble = true};
    assert_string_equal(ids(records, &all), "1 2");
    GOOD(records_check(records, &problem));
    records_close(records);
    invented_free(shelf);
}

static void sweeps_come_back(void **state) {
    (void)state;
    struct invented *first = invented_new(1, 3, 2, 2), *second = invented_new(1, 2, 2, 5);
    struct records *records = files_new("sweeps");
    struct record_sweep *back = NULL;
    char why[400] = "";
    GOOD(records_sweep_find(records, NULL, NULL, &back, &problem));
    assert_null(back);
    second->sweep.definition = "plans: a\nconsoles: b\n";
    second->sweep.retries = 2;
    GOOD(records_sweep_put(records, &first->sweep, &problem));
    GOOD(records_sweep_put(records, &second->sweep, &problem));
    assert_true(first->sweep.items[5].id > first->sweep.items[4].id);
    GOOD(records_sweep(records, first->sweep.id, &back, &problem));
    assert_true(record_sweep_same(&first->sweep, back, why, sizeof why));
    assert_int_equal(back->items[5].id, first->sweep.items[5].id);
    record_sweep_free(back);
    GOOD(records_sweep_find(records, "invented", NULL, &back, &problem));
    assert_int_equal(back->id, first->sweep.id);
    record_sweep_free(back);
    GOOD(records_sweep_find(records, "plans: a\nconsoles: b\n", NULL, &back, &problem));
    assert_true(record_sweep_same(&second->sweep, back, why, sizeof why));
    record_sweep_free(back);
    GOOD(records_sweep_find(records, NULL, "invented shelf", &back, &problem));
    assert_int_equal(back->id, second->sweep.id); /* the latest of that name */
    record_sweep_free(back);
    GOOD(records_sweep_find(records, NULL, "none", &back, &problem));
    assert_null(back);
    assert_false(records_sweep(records, 99, &back, &problem));
    files_problem(&problem, PROBLEM_INPUT, "no sweep 99");
    records_close(records);
    invented_free(first);
    invented_free(second);
}

static void consoles_are_listed(void **state) {
    (void)state;
    struct invented *shelf;
    struct records *records = small_shelf(&shelf);
    struct record_run *run = shelf->runs.runs[0];
    struct record_consoles list;
    run->console.modifications = "new TIA";
    run->console.name = "shelf 02";
    run->started_ms += 100 * (int64_t)86400000;
    run->item = 0;
    GOOD(records_put(records, run, &problem));
    GOOD(records_consoles(records, &list, &problem));
    assert_int_equal(list.count, 3);
    const struct record_console_known *known = &list.consoles[1];
    assert_string_equal(known->console.name, "shelf 02");
    assert_string_equal(known->console.modifications, "new TIA"); /* as of its latest run */
    assert_int_equal(known->runs, 3);
    assert_int_equal(known->latest_ms, run->started_ms);
    assert_int_equal(known->latest, run->end);
    assert_int_equal(known->standard, STANDARD_NTSC);
    assert_string_equal(list.consoles[2].console.name, "shelf 03");
    assert_int_equal(list.consoles[2].runs, 2);
    record_consoles_free(&list);
    records_close(records);
    invented_free(shelf);
}

/* The runs of the baseline that counts, as one text. */
static const char *counts(struct records *records, const char *console, const char *revision) {
    static char text[200];
    struct record_list list;
    size_t used = 0;
    text[0] = '\0';
    GOOD(records_baseline_runs(records, console, revision, "bits", RECORDS_STEPS, &list, &problem));
    for (size_t i = 0; i < list.count; i++) {
        used += (size_t)snprintf(text + used, sizeof text - used, "%lld ", (long long)list.runs[i]->id);
        assert_int_equal(list.runs[i]->step_count, 2);
    }
    record_list_free(&list);
    return text;
}

static void baselines_count(void **state) {
    (void)state;
    struct invented *shelf, *other = invented_new(1, 1, 3, 1);
    struct records *records = small_shelf(&shelf);
    const int64_t runs[] = {2, 1}, later[] = {6}, mixed[] = {1, 7}, gone[] = {99};
    size_t cleared = 0;
    GOOD(records_put(records, other->runs.runs[0], &problem)); /* run 7: a plan of three steps */
    assert_string_equal(counts(records, "shelf 01", "A"), "");
    GOOD(records_baseline_set(records, NULL, "A", runs, 2, &problem));
    assert_string_equal(counts(records, "shelf 01", "A"), "1 2 ");
    assert_string_equal(counts(records, "shelf 02", "B"), "");
    assert_string_equal(counts(records, "shelf 02", ""), "");
    GOOD(records_baseline_set(records, "shelf 01", NULL, later, 1, &problem));
    assert_string_equal(counts(records, "shelf 01", "A"), "6 "); /* its own first */
    assert_string_equal(counts(records, "shelf 03", "A"), "1 2 ");
    GOOD(records_baseline_set(records, "shelf 01", NULL, runs, 2, &problem)); /* again: replaced */
    assert_string_equal(counts(records, "shelf 01", "A"), "1 2 ");
    GOOD(records_baseline_clear(records, "shelf 01", NULL, "bits", &cleared, &problem));
    assert_int_equal(cleared, 1);
    GOOD(records_baseline_clear(records, NULL, "A", NULL, &cleared, &problem));
    assert_int_equal(cleared, 1);
    GOOD(records_baseline_clear(records, NULL, "A", NULL, &cleared, &problem));
    assert_int_equal(cleared, 0);
    assert_string_equal(counts(records, "shelf 01", "A"), "");
    assert_false(records_baseline_set(records, "shelf 01", NULL, mixed, 2, &problem));
    files_problem(&problem, PROBLEM_INPUT, "different plans");
    assert_false(records_baseline_set(records, "shelf 01", NULL, gone, 1, &problem));
    files_problem(&problem, PROBLEM_INPUT, "no run 99");
    assert_false(records_baseline_set(records, "nobody's", NULL, runs, 2, &problem));
    files_problem(&problem, PROBLEM_INPUT, "no console \"nobody's\"");
    assert_false(records_baseline_set(records, "shelf 01", NULL, runs, 0, &problem));
    files_problem(&problem, PROBLEM_INPUT, "at least one run");
    GOOD(records_check(records, &problem));
    records_close(records);
    invented_free(shelf);
    invented_free(other);
}

/* Consoles of one revision and two standards: each is held against its own standard's runs. */
static void a_revision_has_a_baseline_a_standard(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 1, 2, 1);
    struct records *records = files_new("standards");
    struct record_plan pal = shelf->plan;
    struct record_run put = *shelf->runs.runs[0];
    pal.standard = STANDARD_PAL;
    put.item = 0;
    GOOD(records_put(records, &put, &problem));
    put.plan = &pal;
    put.console.name = "shelf 02";
    GOOD(records_put(records, &put, &problem));
    for (int64_t run = 1; run <= 2; run++) {
        GOOD(records_baseline_set(records, NULL, "A", &run, 1, &problem));
    }
    assert_string_equal(counts(records, "shelf 01", "A"), "1 ");
    assert_string_equal(counts(records, "shelf 02", "A"), "2 ");
    assert_string_equal(counts(records, "of no run", "A"), "2 "); /* the one made last */
    records_close(records);
    invented_free(shelf);
}

/* A plan that only one thing tells from the one before it is another plan. */
static void plans_are_told_apart(void **state) {
    (void)state;
    struct invented *shelf = invented_new(1, 1, 2, 1);
    struct records *records = files_new("plans");
    struct record_plan plans[5];
    struct record_run put = *shelf->runs.runs[0], *back = NULL;
    int64_t ids_put[5];
    for (int i = 0; i < 5; i++) {
        plans[i] = shelf->plan;
    }
    plans[1].text = "another text\n";
    plans[2].name = "another name";
    plans[3].standard = STANDARD_PAL;
    plans[4].kind = PLAN_COLOURS;
    for (int i = 0; i < 5; i++) {
        put.plan = &plans[i];
        GOOD(records_put(records, &put, &problem));
        ids_put[i] = put.id;
        put.plan = &plans[0]; /* the one that each of the others is like */
        GOOD(records_put(records, &put, &problem));
    }
    for (int i = 0; i < 5; i++) {
        char why[400] = "";
        GOOD(records_run(records, ids_put[i], RECORDS_PLAN, &back, &problem));
        if (!record_plan_same(&plans[i], back->plan, why, sizeof why)) {
            fail_msg("plan %d: %s", i, why);
        }
        record_free(back);
    }
    records_close(records);
    assert_int_equal(files_number(files_path("plans"), "SELECT count(*) FROM plans"), 5);
    invented_free(shelf);
}

/* Kinds are kept by name: a program that has more of them may have written the file. */
static void newer_findings_are_no_damage(void **state) {
    (void)state;
    struct invented *varied = varied_new();
    struct record_run *run = NULL;
    struct records *records = files_new("findings");
    files_put(records, varied);
    records_close(records);
    files_number(files_path("findings"), "UPDATE causes SET kind = 'of_tomorrow' WHERE kind = 'noisy'");
    records = files_open("findings", RECORDS_READ);
    assert_false(records_run(records, varied->runs.runs[2]->id, RECORDS_ALL, &run, &problem));
    files_problem(&problem, PROBLEM_INPUT, "\"of_tomorrow\", which this version does not know");
    GOOD(records_run(records, varied->runs.runs[2]->id, RECORDS_STEPS, &run, &problem));
    record_free(run);
    records_close(records);
    invented_free(varied);
}

static void missing_runs_are_named(void **state) {
    (void)state;
    struct records *records = files_new("missing");
    struct record_run *run = NULL;
    assert_false(records_run(records, 5, RECORDS_ALL, &run, &problem));
    files_problem(&problem, PROBLEM_INPUT, "has no run 5");
    assert_null(run);
    records_close(records);
}

/* A reader is never kept waiting by a writer: the file says that it goes by a write-ahead log [S SQLite's
 * file format, 1.3.3: 2 at offsets 18 and 19]. */
static void the_file_goes_by_a_log(void **state) {
    (void)state;
    unsigned char head[20] = {0};
    records_close(files_new("log"));
    FILE *file = fopen(files_path("log"), "rb");
    assert_non_null(file);
    assert_int_equal(fread(head, 1, sizeof head, file), sizeof head);
    fclose(file);
    assert_int_equal(head[18], 2);
    assert_int_equal(head[19], 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_file_goes_by_a_log),
        cmocka_unit_test(runs_come_back),
        cmocka_unit_test(a_run_knows_its_sweep),
        cmocka_unit_test(runs_are_chosen),
        cmocka_unit_test(a_walk_ends_when_asked),
        cmocka_unit_test(runs_outlive_the_store),
        cmocka_unit_test(what_repeats_is_kept_once),
        cmocka_unit_test(blobs_are_named_by_content),
        cmocka_unit_test(odd_texts_do_no_harm),
        cmocka_unit_test(bad_texts_are_cleaned),
        cmocka_unit_test(nameless_runs_are_refused),
        cmocka_unit_test(runs_of_unknown_items_are_refused),
        cmocka_unit_test(batches_are_whole),
        cmocka_unit_test(sweeps_come_back),
        cmocka_unit_test(consoles_are_listed),
        cmocka_unit_test(baselines_count),
        cmocka_unit_test(a_revision_has_a_baseline_a_standard),
        cmocka_unit_test(missing_runs_are_named),
        cmocka_unit_test(newer_findings_are_no_damage),
        cmocka_unit_test(plans_are_told_apart),
    };
    return cmocka_run_group_tests(tests, files_begin, files_end);
}
