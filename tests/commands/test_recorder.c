/* When a run is kept, whose it is said to be, and which pictures go with it: read back from the store. */
#include "commands/loop.h"
#include "commands/recorder.h"
#include "record/folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct folder folder;
static char store[FOLDER_PATH_MAX];
static struct loop loop;
static struct result passed;
static struct bench_settings bench;

static int set_up(void **state) {
    struct virtual_options options;
    (void)state;
    virtual_defaults(STANDARD_NTSC, &options);
    if (!loop_run(&loop, "every:1024", &options, NULL, NULL)) {
        return 1;
    }
    passed = *loop.session.result;
    folder_make(&folder, "recorder");
    folder_path(&folder, "records.sqlite", store);
    return passed.verdict != VERDICT_PASS;
}

static int tear_down(void **state) {
    (void)state;
    loop_end(&loop);
    folder_remove(&folder);
    return 0;
}

static int begin(void **state) {
    (void)state;
    folder_remove_store(store);
    bench = (struct bench_settings){.name = "left", .kind = BENCH_VIRTUAL, .board = {.way = BOARD_VIRTUAL}};
    return 0;
}

static struct options asked(void) {
    return (struct options){.store = store, .minutes_on = -1, .quiet = true};
}

/* A field of 32 by 2 grey samples stands for what was seen. */
static struct keeper a_field(void) {
    static uint8_t grey[32 * 2 * 2];
    struct keeper keeper = {.shown = {.samples = grey, .width = 32, .height = 2}};
    memset(grey, 128, sizeof grey);
    keeper.shown_field =
        (struct field){.luma = grey, .stride = 64, .step = 2, .width = 32, .height = 2, .frame_lines = 1};
    return keeper;
}

/* The board that a kept run looks at; NULL: none. */
static const struct bench_board *looked_at;

/* Keeps a run and returns it as the store gives it; NULL: it was not kept. */
static struct record_run *keep(const struct options *options, const struct run_place *place,
                               enum verdict verdict, bool stopped) {
    struct recorder recorder;
    struct records *records;
    struct problem problem = {0};
    struct record_run *run = NULL;
    struct result result = passed;
    const struct keeper keeper = a_field();
    result.verdict = verdict;
    const struct report report = {.command = "run",
                                  .plan = loop.plan,
                                  .bench = "left",
                                  .result = &result,
                                  .hash = loop.image->hash,
                                  .exit = verdict_exit(verdict)};
    const struct recorder_end end = {
        .report = &report, .bench = &bench, .keeper = &keeper, .stopped = stopped};
    if (!recorder_start(&recorder, options, place, true, &problem)) {
        fail_msg("%s", problem.text);
    }
    if (looked_at != NULL) {
        recorder_look(&recorder, looked_at);
    }
    if (!recorder_keep(&recorder, &end, &problem)) {
        fail_msg("%s", problem.text);
    }
    if (recorder.kept) {
        assert_true(records_open(store, RECORDS_READ, &records, &problem));
        assert_true(records_run(records, recorder.record->run.id, RECORDS_ALL, &run, &problem));
        records_close(records);
    }
    json_t *json = recorder_json(&recorder);
    assert_int_equal(json_is_null(json), run == NULL);
    json_decref(json);
    recorder_free(&recorder);
    return run;
}

static void is_console(const struct record_run *run, const char *name, const char *revision,
                       const char *markings, const char *modifications) {
    assert_string_equal(run->console.name, name);
    assert_string_equal(run->console.revision, revision);
    assert_string_equal(run->console.markings, markings);
    assert_string_equal(run->console.modifications, modifications);
}

/* ---- tests ---- */

static void a_console_has_a_name(void **state) {
    (void)state;
    struct options options = asked();
    struct record_run *run = keep(&options, NULL, VERDICT_PASS, false);
    is_console(run, "left", "", "", "");
    assert_string_equal(run->station, "local");
    assert_int_equal(run->attempt, 1);
    assert_int_equal(run->item, 0);
    assert_true(run->minutes_on < 0);
    assert_true(run->took_ms >= 0 && run->took_ms < 60000);
    record_free(run);
    strcpy(bench.revision, "rev. 4"); /* of whatever console there is on the bench */
    options.console = "guest";
    run = keep(&options, NULL, VERDICT_PASS, false);
    is_console(run, "guest", "rev. 4", "", "");
    record_free(run);
    strcpy(bench.console, "mine"); /* of that one */
    run = keep(&options, NULL, VERDICT_PASS, false);
    is_console(run, "guest", "", "", "");
    record_free(run);
    options.console = "mine";
    strcpy(bench.station, "workshop");
    run = keep(&options, NULL, VERDICT_PASS, false);
    is_console(run, "mine", "rev. 4", "", "");
    assert_string_equal(run->station, "workshop");
    record_free(run);
}

static void a_place_says_whose_it_is(void **state) {
    (void)state;
    struct options options = asked();
    const struct record_console console = {"third", "rev. 2", "CO10444", "none"};
    struct run_place place = {.console = &console, .attempt = 2, .minutes_on = 31.5};
    options.console = "mine";
    strcpy(bench.console, "mine");
    strcpy(bench.revision, "rev. 4");
    struct record_run *run = keep(&options, &place, VERDICT_PASS, false);
    is_console(run, "third", "rev. 2", "CO10444", "none");
    assert_int_equal(run->attempt, 2);
    assert_float_equal(run->minutes_on, 31.5, 0.01);
    record_free(run);
    options.minutes_on = 2;
    run = keep(&options, &place, VERDICT_PASS, false);
    assert_float_equal(run->minutes_on, 2, 0.01);
    record_free(run);
}

static size_t pictures_of(const struct record_run *run) {
    size_t count = 0;
    for (size_t i = 0; i < run->blob_count; i++) {
        count += strcmp(run->blobs[i].type, "image/png") == 0;
    }
    return count;
}

static void pictures_of_the_first_pass_and_of_what_does_not(void **state) {
    static const struct {
        const char *console;
        enum verdict verdict;
        size_t pictures;
    } runs[] = {{"a", VERDICT_INCONCLUSIVE, 1}, {"a", VERDICT_PASS, 1}, {"a", VERDICT_PASS, 0},
                {"a", VERDICT_FAIL, 1},         {"a", VERDICT_PASS, 0}, {"b", VERDICT_PASS, 1},
                {"b", VERDICT_PASS, 0}};
    (void)state;
    struct options options = asked();
    for (size_t i = 0; i < sizeof runs / sizeof runs[0]; i++) {
        options.console = runs[i].console;
        struct record_run *run = keep(&options, NULL, runs[i].verdict, false);
        assert_int_equal(pictures_of(run), runs[i].pictures);
        record_free(run);
    }
}

/* An item of a sweep of one. */
static int64_t an_item(void) {
    struct record_item item = {
        .plan = "every:1024", .console = {"left", "", "", ""}, .bench = "left", .repeat = 1};
    struct record_sweep sweep = {
        .name = "one", .definition = "one", .repeats = 1, .item_count = 1, .items = &item};
    struct records *records;
    struct problem problem = {0};
    if (!records_open(store, RECORDS_WRITE, &records, &problem) ||
        !records_sweep_put(records, &sweep, &problem)) {
        fail_msg("%s", problem.text);
    }
    records_close(records);
    return item.id;
}

/* What a person ends is kept, but a sweep does it again. */
static void an_early_end(void **state) {
    (void)state;
    struct options options = asked();
    struct run_place place = {.item = an_item(), .attempt = 1, .minutes_on = -1};
    struct record_run *run = keep(&options, NULL, VERDICT_INCONCLUSIVE, true);
    assert_non_null(run);
    record_free(run);
    assert_null(keep(&options, &place, VERDICT_INCONCLUSIVE, true));
    run = keep(&options, &place, VERDICT_INCONCLUSIVE, false);
    assert_non_null(run);
    assert_int_equal(run->item, place.item);
    record_free(run);
}

static void the_supply_was_switched(void **state) {
    (void)state;
    struct options options = asked();
    struct bench_board board = {.settings = &bench, .switched = true};
    /* Minutes that a person knows of, and what is kept: 90 s are 1.5 [A]; a warm console stays warm. */
    const double cases[][2] = {{-1, 1.5}, {0.5, 1.5}, {40, 40}};
    clock_gettime(CLOCK_MONOTONIC, &board.switched_at);
    board.switched_at.tv_sec -= 90;
    looked_at = &board;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct run_place place = {.minutes_on = cases[i][0]};
        struct record_run *run = keep(&options, &place, VERDICT_PASS, false);
        assert_float_equal(run->minutes_on, cases[i][1], 0.2);
        record_free(run);
    }
    options.minutes_on = 7; /* who says it knows it */
    struct record_run *run = keep(&options, NULL, VERDICT_PASS, false);
    assert_float_equal(run->minutes_on, 7, 0.01);
    record_free(run);
    looked_at = NULL;
}

static void names_that_cannot_be_kept(void **state) {
    (void)state;
    char longest[BENCH_TEXT_MAX + 1];
    memset(longest, 'a', sizeof longest - 1);
    longest[sizeof longest - 1] = '\0';
    const char *const bad[] = {"", "a\x01", "a\xFF", longest};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct recorder recorder;
        struct problem problem = {0};
        struct options options = asked();
        options.console = bad[i];
        assert_false(recorder_start(&recorder, &options, NULL, true, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        options.console = NULL;
        options.station = bad[i];
        assert_false(recorder_start(&recorder, &options, NULL, false, &problem));
        options.station = NULL;
        options.cartridge = bad[i];
        assert_false(recorder_start(&recorder, &options, NULL, false, &problem));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(a_console_has_a_name, begin),
        cmocka_unit_test_setup(a_place_says_whose_it_is, begin),
        cmocka_unit_test_setup(pictures_of_the_first_pass_and_of_what_does_not, begin),
        cmocka_unit_test_setup(an_early_end, begin),
        cmocka_unit_test_setup(the_supply_was_switched, begin),
        cmocka_unit_test_setup(names_that_cannot_be_kept, begin),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
