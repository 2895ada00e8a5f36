/*
 * What is kept of a run, against the JSON of the same run (made by other code), libpng's reader and the plan
 * file's reader.
 */
#include "commands/loop.h"
#include "commands/run_record.h"
#include "expect/expect.h"
#include "plan/plan_file.h"

#include <jansson.h>
#include <png.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* ---- a run and its record ---- */

struct made {
    struct loop loop;
    struct keeper keeper;
    struct result result;
    struct report report;
    struct texts faults;
    struct run_record *record;
    json_t *json;
};

/* The loop makes its session itself, so the field is taken from a second look at one frame. */
static void take_field(struct made *made, const struct virtual_options *options) {
    struct frame frame;
    struct field fields[2];
    struct reading readings[2];
    struct video_source source;
    struct problem problem;
    const struct picture_options picture = {.standard = options->standard, .unclear_below = PICTURE_UNCLEAR};
    struct frames *frames = frames_new(&picture);
    assert_true(virtual_open(options, made->loop.image->bytes, made->loop.image->size, &source, &problem));
    for (int i = 0; i < 60 && made->keeper.shown.samples == NULL; i++) {
        assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
        const int count = frames_read(frames, &frame, fields, readings);
        if (count > 0 && readings[0].state == FIELD_READ) {
            assert_true(keeper_field(&made->keeper, &fields[0], &readings[0], false, &problem));
        }
    }
    frames_free(frames);
    source.close(source.state);
}

static struct run_facts facts_of(const struct made *made) {
    return (struct run_facts){.report = &made->report,
                              .bench_name = "a bench",
                              .keeper = &made->keeper,
                              .console = {"a console", "rev. 4", "CO10444", ""},
                              .station = "local",
                              .cartridge = {"virtual", "", "0.1"},
                              .minutes_on = -1};
}

static void make_seen_by(struct made *made, const char *plan, const char *fault, const char *impairment) {
    struct virtual_options options;
    struct problem problem = {0};
    *made = (struct made){0};
    virtual_defaults(STANDARD_NTSC, &options);
    if (impairment != NULL) {
        assert_true(virtual_add_impairment(&options, impairment, &problem));
    }
    if (!loop_run(&made->loop, plan, &options, fault, NULL)) {
        fail_msg("%s", made->loop.problem.text);
    }
    assert_true(keeper_init(&made->keeper, NULL, made->loop.plan, &problem));
    take_field(made, &options);
    if (fault != NULL) {
        texts_add(&made->faults, fault);
    }
    made->result = *made->loop.session.result;
    made->report = (struct report){.command = "run",
                                   .plan = made->loop.plan,
                                   .bench = "a bench",
                                   .result = &made->result,
                                   .hash = made->loop.image->hash,
                                   .hold = loop_hold,
                                   .seed = 1,
                                   .has_seed = true,
                                   .exit = verdict_exit(made->result.verdict),
                                   .faults = &made->faults,
                                   .grabber = "clean",
                                   .capture = {&made->loop.session.about, &made->loop.session.counts,
                                               frames_facts(made->loop.session.frames)}};
    const struct run_facts facts = facts_of(made);
    made->record = run_record_make(&facts, &problem);
    assert_non_null(made->record);
    assert_true(run_record_pictures(made->record, &facts, &problem));
    made->json = json_result(&made->report);
}

static void make(struct made *made, const char *plan, const char *fault) {
    make_seen_by(made, plan, fault, NULL);
}

static void drop(struct made *made) {
    run_record_free(made->record);
    json_decref(made->json);
    keeper_free(&made->keeper);
    loop_end(&made->loop);
}

/* ---- the JSON of the same run ---- */

static const char *text_at(const json_t *json, const char *key) {
    return json_string_value(json_object_get(json, key));
}

static long long number_at(const json_t *json, const char *key) {
    return (long long)json_number_value(json_object_get(json, key));
}

static double real_at(const json_t *json, const char *key) {
    return json_number_value(json_object_get(json, key));
}

static void same_figures(const struct made *made) {
    const struct record_run *run = &made->record->run;
    const json_t *fields = json_object_get(made->json, "fields");
    assert_string_equal(record_end_name(run->end), text_at(made->json, "verdict"));
    assert_int_equal(run->exit, number_at(made->json, "exit"));
    assert_float_equal(run->margin, real_at(made->json, "margin"), 1e-9);
    assert_int_equal(run->fields_seen, number_at(fields, "seen"));
    assert_int_equal(run->fields_judged, number_at(fields, "judged"));
    assert_int_equal(run->fields_unreadable, number_at(fields, "unreadable"));
    assert_int_equal(run->coverage.of, number_at(json_object_get(made->json, "coverage"), "of"));
    assert_int_equal(run->coverage.seen, number_at(json_object_get(made->json, "coverage"), "seen"));
    assert_string_equal(run->plan->name, text_at(made->json, "plan"));
    assert_string_equal(standard_table[run->plan->standard].name, text_at(made->json, "standard"));
    const json_t *raster = json_object_get(made->json, "raster");
    assert_int_equal(run->has_raster, !json_is_null(raster));
    if (run->has_raster) {
        assert_float_equal(run->raster.left, real_at(raster, "left"), 1e-9);
        assert_float_equal(run->raster.clock_width * 4, real_at(raster, "cell_width"), 1e-9);
        assert_int_equal(run->frame_lines, number_at(raster, "line_height"));
    }
}

static void same_steps(const struct made *made) {
    const struct record_run *run = &made->record->run;
    const json_t *steps = json_object_get(made->json, "steps");
    assert_int_equal(run->step_count, json_array_size(steps));
    assert_int_equal(run->plan->step_count, json_array_size(steps));
    for (size_t i = 0; i < run->step_count; i++) {
        const json_t *step = json_array_get(steps, i), *registers = json_object_get(step, "registers");
        const struct record_plan_step *planned = &run->plan->steps[i];
        char seen[CELLS + 1];
        cells_text(run->steps[i].seen, run->steps[i].fields > 0 ? run->steps[i].unclear : CELLS_ALL, seen);
        assert_string_equal(seen, text_at(step, "seen"));
        assert_string_equal(planned->name, text_at(step, "name"));
        assert_string_equal(planned->mode, text_at(step, "mode"));
        assert_string_equal(verdict_name(run->steps[i].verdict), text_at(step, "verdict"));
        assert_int_equal(planned->registers[REG_PF1], number_at(registers, "PF1"));
        assert_int_equal(planned->registers[REG_CTRLPF], number_at(registers, "CTRLPF"));
        assert_int_equal(planned->bands, made->loop.plan->steps[i].band_count);
        if (run->steps[i].wrong_line <= 0) { /* else they are of that line */
            char expected[CELLS + 1];
            cells_text(planned->expected, ~planned->sure & CELLS_ALL, expected);
            assert_string_equal(expected, text_at(step, "expected"));
        }
    }
}

static void same_findings(const struct finding *findings, size_t count, const json_t *list) {
    assert_int_equal(count, json_array_size(list));
    for (size_t i = 0; i < count; i++) {
        const json_t *finding = json_array_get(list, i);
        assert_string_equal(finding_name(findings[i].kind), text_at(finding, "kind"));
        assert_string_equal(findings[i].text, text_at(finding, "text"));
        assert_string_equal(findings[i].next, text_at(finding, "next"));
    }
}

/* The seed, the image and the signal have places of their own. */
static void same_settings(const struct made *made) {
    json_t *kept = json_loads(made->record->run.settings, 0, NULL);
    json_t *told = json_deep_copy(json_object_get(made->json, "settings"));
    json_object_del(told, "seed");
    json_object_del(told, "image_hash");
    json_object_set_new(told, "signal", json_null());
    assert_non_null(kept);
    assert_true(json_equal(kept, told));
    json_decref(kept);
    json_decref(told);
}

static const struct record_blob *blob_of(const struct record_run *run, const char *name) {
    for (size_t i = 0; i < run->blob_count; i++) {
        if (strcmp(run->blobs[i].name, name) == 0) {
            return &run->blobs[i];
        }
    }
    return NULL;
}

/* As many keys as the blob has stand in the result, and say the same to six digits. */
static void same_measured(const struct made *made, const char *name) {
    const struct record_blob *blob = blob_of(&made->record->run, name);
    assert_non_null(blob);
    assert_string_equal(blob->type, "application/json");
    json_t *kept = json_loadb((const char *)blob->bytes, blob->size, 0, NULL);
    assert_true(json_object_size(kept) > 0);
    json_t *told = json_object();
    const char *key;
    json_t *value;
    json_object_foreach(kept, key, value) {
        json_object_set(told, key, json_object_get(made->json, key));
    }
    char *text = json_dumps(told, JSON_COMPACT | JSON_REAL_PRECISION(6));
    assert_int_equal(strlen(text), blob->size);
    assert_memory_equal(text, blob->bytes, blob->size);
    free(text);
    json_decref(told);
    json_decref(kept);
}

/* The plan's text gives a plan of the same pictures. */
static void same_plan(const struct made *made) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    if (!plan_file_text("kept", made->record->run.plan->text, made->loop.plan->standard, &plan, &problem)) {
        fail_msg("%s", problem.text);
    }
    assert_int_equal(plan->kind, made->record->run.plan->kind);
    assert_int_equal(plan_pictures(plan), plan_pictures(made->loop.plan));
    plan_free(plan);
}

static void png_is(const struct record_blob *blob, int width, int height) {
    png_image image = {.version = PNG_IMAGE_VERSION};
    assert_non_null(blob);
    assert_string_equal(blob->type, "image/png");
    assert_int_equal(png_image_begin_read_from_memory(&image, blob->bytes, blob->size), 1);
    assert_int_equal(image.width, width);
    assert_int_equal(image.height, height);
    png_image_free(&image);
}

static void is_all_there(const struct made *made) {
    const json_t *capture = json_object_get(made->json, "capture");
    same_figures(made);
    same_steps(made);
    same_findings(made->record->run.findings, made->record->run.finding_count,
                  json_object_get(made->json, "findings"));
    same_findings(made->record->run.troubles, made->record->run.trouble_count,
                  json_object_get(capture, "trouble"));
    same_settings(made);
    same_plan(made);
    png_is(blob_of(&made->record->run, "field"), made->keeper.shown_field.width,
           2 * made->keeper.shown_field.height);
}

/* ---- tests ---- */

static void every_kind_of_plan(void **state) {
    (void)state;
    static const struct {
        const char *plan, *fault, *measured;
    } cases[] = {
        {"bits", NULL, NULL},        {"bits", "bit-low=PF1.3", NULL},        {"bits", "no-video", NULL},
        {"every:1024", NULL, NULL},  {"every:1024", "bit-high=PF2.0", NULL}, {"moments", NULL, "moments"},
        {"colours", NULL, "colours"}};
    const size_t count = sizeof cases / sizeof cases[0], most = getenv("SLOTJIG_TEST_SMALL") ? 4 : count;
    for (size_t i = 0; i < most; i++) {
        struct made made;
        make(&made, cases[i].plan, cases[i].fault);
        is_all_there(&made);
        if (cases[i].measured != NULL) {
            same_measured(&made, cases[i].measured);
        }
        assert_int_equal(made.record->picture_from, cases[i].measured != NULL);
        drop(&made);
    }
}

/* Trouble of the capture chain is no finding. */
static void trouble_of_the_capture_chain(void **state) {
    (void)state;
    struct made made;
    make_seen_by(&made, "bits", "bit-low=PF1.3", "drop=0.1");
    is_all_there(&made);
    assert_true(made.record->run.finding_count > 0);
    assert_true(made.record->run.trouble_count > 0);
    assert_int_equal(made.record->run.troubles[0].kind, FINDING_FIELDS_LOST);
    drop(&made);
}

static void at_most_eight_steps_have_pictures(void **state) {
    (void)state;
    struct made made;
    size_t failing = 0, pictures = 0;
    make(&made, "bits", "bit-low=PF1.3");
    for (size_t i = 0; i < made.result.step_count; i++) {
        char name[32];
        snprintf(name, sizeof name, "step-%04zu", i);
        const bool there = blob_of(&made.record->run, name) != NULL;
        const bool fails = made.result.steps[i].verdict == VERDICT_FAIL;
        assert_true(there == (fails && failing < RUN_RECORD_STEPS_MOST));
        failing += fails;
        pictures += there;
    }
    assert_true(failing > RUN_RECORD_STEPS_MOST);
    assert_int_equal(pictures, RUN_RECORD_STEPS_MOST);
    drop(&made);
}

static void plans_have_an_identity(void **state) {
    (void)state;
    struct made made;
    struct run_record *again;
    struct problem problem;
    char id[RECORD_ID_TEXT];
    make(&made, "every:1024", NULL);
    const struct run_facts facts = facts_of(&made);
    again = run_record_make(&facts, &problem);
    assert_string_equal(again->run.plan->id, made.record->run.plan->id);
    assert_int_equal(again->run.blob_count, 0);
    run_record_free(again);
    strcpy(id, made.record->run.plan->id);
    made.loop.plan->every.repeat = 2; /* shown on other lines it is another plan */
    again = run_record_make(&facts, &problem);
    assert_string_not_equal(again->run.plan->id, id);
    run_record_free(again);
    drop(&made);
}

/* Whatever bytes come from outside, what is kept is UTF-8 without control characters. */
static void texts_are_clean(void **state) {
    (void)state;
    struct made made;
    struct problem problem;
    make(&made, "every:1024", NULL);
    struct run_facts facts = facts_of(&made);
    facts.console = (struct record_console){"'\"<b>\x01", "\xFF", "a\nb", "\xE2\x89\xA2"};
    facts.station = "\x1B[2J";
    strcpy(made.loop.plan->name, "p\xC0\x80\x07");
    made.report.problem = "lost\r\n";
    struct run_record *record = run_record_make(&facts, &problem);
    assert_string_equal(record->run.console.name, "'\"<b>?");
    assert_string_equal(record->run.console.revision, "?");
    assert_string_equal(record->run.console.markings, "a?b");
    assert_string_equal(record->run.console.modifications, "\xE2\x89\xA2");
    assert_string_equal(record->run.station, "?[2J");
    assert_string_equal(record->run.plan->name, "p???");
    assert_string_equal(record->run.problem, "lost??");
    assert_non_null(strstr(record->run.plan->text, "name = p???\n"));
    run_record_free(record);
    drop(&made);
}

static void trouble_is_no_verdict(void **state) {
    (void)state;
    struct made made;
    struct problem problem;
    make(&made, "every:1024", NULL);
    made.report.exit = 3;
    const struct run_facts facts = facts_of(&made);
    struct run_record *record = run_record_make(&facts, &problem);
    assert_int_equal(record->run.end, RECORD_TROUBLE);
    run_record_free(record);
    made.report.exit = 1; /* a pass that differs from a file given by --against */
    record = run_record_make(&facts, &problem);
    assert_int_equal(record->run.end, RECORD_PASS);
    assert_int_equal(record->run.exit, 1);
    run_record_free(record);
    drop(&made);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_of_plan),
        cmocka_unit_test(trouble_of_the_capture_chain),
        cmocka_unit_test(at_most_eight_steps_have_pictures),
        cmocka_unit_test(plans_have_an_identity),
        cmocka_unit_test(texts_are_clean),
        cmocka_unit_test(trouble_is_no_verdict),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
