#include "commands/run_record.h"

#include "base/utf8.h"
#include "commands/commands.h"
#include "plan/plan_text.h"
#include "report/check_report.h"
#include "report/moments_report.h"
#include "report/palette_report.h"
#include "report/pictures.h"

#include <sha2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

_Static_assert(RECORD_ID_TEXT == SHA256_DIGEST_STRING_LENGTH, "an id is a SHA-256 in hex");

/* ---- texts ---- */

enum place {
    TEXT_STATION,
    TEXT_BENCH,
    TEXT_CONSOLE,
    TEXT_REVISION,
    TEXT_MARKINGS,
    TEXT_MODIFICATIONS,
    TEXT_SERIAL,
    TEXT_FIRMWARE,
    TEXTS
};
_Static_assert((int)TEXTS <= (int)(sizeof((struct run_record *)0)->texts / BENCH_TEXT_MAX), "room for each");

static const char *keep_text(struct run_record *record, enum place place, const char *text) {
    utf8_clean(text != NULL ? text : "", record->texts[place], BENCH_TEXT_MAX, false);
    return record->texts[place];
}

/* ---- the plan ---- */

static void take_step(struct run_record *record, const struct plan *plan, size_t index) {
    const struct step *step = &plan->steps[index];
    struct record_plan_step *kept = &record->plan_steps[index];
    struct expectation expectation;
    expect_step(step, standard_plan_lines(plan->standard), &expectation);
    utf8_clean(step->name, record->step_names[index], STEP_NAME_MAX, false);
    *kept = (struct record_plan_step){.name = record->step_names[index],
                                      .mode = step_mode(step),
                                      .expected = expectation.lit[0],
                                      .sure = plan->kind == PLAN_COLOURS ? 0 : expectation.sure[0],
                                      .bands = (int)step->band_count};
    step_registers(step, kept->registers);
}

/* Plans of one standard and text are one plan. */
static void name_plan(struct record_plan *plan) {
    const char *standard = standard_table[plan->standard].name;
    SHA2_CTX hash;
    SHA256Init(&hash);
    SHA256Update(&hash, (const uint8_t *)standard, strlen(standard) + 1);
    SHA256Update(&hash, (const uint8_t *)plan->text, strlen(plan->text));
    SHA256End(&hash, plan->id);
}

static bool take_plan(struct run_record *record, const struct plan *plan) {
    char *text = plan_text(plan);
    const size_t count = plan->step_count, size = text != NULL ? strlen(text) + 1 : 0;
    record->plan_text = malloc(size > 0 ? size : 1);
    record->plan_steps = calloc(count > 0 ? count : 1, sizeof *record->plan_steps);
    record->step_names = calloc(count > 0 ? count : 1, sizeof *record->step_names);
    const bool good =
        text != NULL && record->plan_text != NULL && record->plan_steps != NULL && record->step_names != NULL;
    if (good) {
        utf8_clean(text, record->plan_text, size, true);
        utf8_clean(plan->name, record->plan_name, sizeof record->plan_name, false);
        record->plan = (struct record_plan){.name = record->plan_name,
                                            .text = record->plan_text,
                                            .standard = plan->standard,
                                            .kind = plan->kind,
                                            .step_count = count,
                                            .steps = record->plan_steps};
        name_plan(&record->plan);
        for (size_t i = 0; i < count; i++) {
            take_step(record, plan, i);
        }
        record->run.plan = &record->plan;
    }
    free(text);
    return good;
}

/* ---- settings ---- */

const char *run_record_way(const struct bench_settings *bench) {
    static const char *const ways[] = {[BOARD_BY_USB] = "usb",
                                       [BOARD_BY_SERIAL] = "serial",
                                       [BOARD_BY_COMMAND] = "command",
                                       [BOARD_VIRTUAL] = "virtual",
                                       [BOARD_NONE] = "none"};
    return ways[bench->board.way];
}

json_t *run_record_signal(const struct bench_settings *bench) {
    const struct bench_video *video = &bench->video;
    if (bench->kind == BENCH_VIRTUAL || video->where[0] == '\0') {
        return json_null();
    }
    return json_pack("{s:s,s:o,s:o}", "kind", video->rf ? "rf" : "composite", "channel",
                     video->channel[0] != '\0' ? json_string(video->channel) : json_null(), "frequency_mhz",
                     video->frequency_mhz > 0 ? json_real(video->frequency_mhz) : json_null());
}

/* What the result's JSON says of them, without what has a place of its own in a record. */
static bool take_settings(struct run_record *record, const struct run_facts *facts) {
    json_t *settings = json_settings(facts->report);
    json_object_del(settings, "seed");
    json_object_del(settings, "image_hash");
    json_object_set_new(settings, "signal",
                        facts->bench != NULL ? run_record_signal(facts->bench) : json_null());
    record->settings = json_dumps(settings, JSON_COMPACT | JSON_REAL_PRECISION(6));
    record->run.settings = record->settings;
    json_decref(settings);
    return record->settings != NULL;
}

/* ---- what came of it ---- */

static void clean_finding(struct finding *finding) {
    const struct finding from = *finding;
    utf8_clean(from.text, finding->text, sizeof finding->text, false);
    utf8_clean(from.next, finding->next, sizeof finding->next, false);
}

/* Copies: a finding's text may quote a step's name, whatever bytes that has. */
static bool take_findings(struct run_record *record, const struct result *result) {
    const size_t count = result->finding_count + result->trouble_count;
    record->findings = calloc(count > 0 ? count : 1, sizeof *record->findings);
    if (record->findings == NULL) {
        return false;
    }
    memcpy(record->findings, result->findings, result->finding_count * sizeof *result->findings);
    memcpy(record->findings + result->finding_count, result->troubles,
           result->trouble_count * sizeof *result->troubles);
    for (size_t i = 0; i < count; i++) {
        clean_finding(&record->findings[i]);
    }
    record->run.finding_count = result->finding_count;
    record->run.findings = record->findings;
    record->run.trouble_count = result->trouble_count;
    record->run.troubles = record->findings + result->finding_count;
    return true;
}

/* A pass that differs from another file (--against) is a pass all the same. */
static enum record_end end_of(const struct report *report) {
    static const enum record_end ends[] = {[VERDICT_PASS] = RECORD_PASS,
                                           [VERDICT_FAIL] = RECORD_FAIL,
                                           [VERDICT_INCONCLUSIVE] = RECORD_INCONCLUSIVE};
    return report->exit == EXIT_BENCH ? RECORD_TROUBLE : ends[report->result->verdict];
}

static void take_result(struct run_record *record, const struct report *report) {
    const struct result *result = report->result;
    struct record_run *run = &record->run;
    utf8_clean(report->problem != NULL ? report->problem : "", record->problem, sizeof record->problem,
               false);
    run->problem = record->problem;
    run->end = end_of(report);
    run->exit = report->exit;
    run->margin = result->margin;
    run->fields_seen = result->fields_seen;
    run->fields_judged = result->fields_judged;
    run->fields_unreadable = result->fields_unreadable;
    run->coverage = result->coverage;
    run->noise_db = report->capture.facts != NULL ? report->capture.facts->noise_db : 0;
    run->has_raster = result->has_raster;
    run->raster = result->raster;
    run->frame_lines = result->frame_lines;
    run->step_count = result->step_count;
    run->steps = result->steps;
}

/* ---- what is kept by its content ---- */

static bool add_blob(struct run_record *record, const char *name, const char *type, const uint8_t *bytes,
                     size_t size) {
    struct record_run *run = &record->run;
    if (bytes == NULL || run->blob_count == RUN_RECORD_BLOBS) {
        return bytes != NULL;
    }
    snprintf(record->blob_names[run->blob_count], sizeof record->blob_names[0], "%s", name);
    record->blobs[run->blob_count] = (struct record_blob){
        .name = record->blob_names[run->blob_count], .type = type, .bytes = bytes, .size = size};
    run->blob_count++;
    return true;
}

static bool add_json(struct run_record *record, const char *name, json_t *json) {
    char *text = json_dumps(json, JSON_COMPACT | JSON_REAL_PRECISION(6));
    json_decref(json);
    return add_blob(record, name, "application/json", (uint8_t *)text, text != NULL ? strlen(text) : 0);
}

static bool add_measured(struct run_record *record, const struct result *result) {
    return (result->moments == NULL || add_json(record, "moments", moments_json(result->moments))) &&
           (result->check == NULL || add_json(record, "cartridge", check_json(result->check))) &&
           (result->palette == NULL || add_json(record, "colours", palette_json(result->palette)));
}

static bool add_picture(struct run_record *record, const char *name, struct picture_bytes *picture) {
    return add_blob(record, name, "image/png", picture->bytes, picture->size);
}

static bool add_steps(struct run_record *record, const struct report *report, struct problem *problem) {
    int count = 0;
    for (size_t i = 0; i < report->result->step_count && count < RUN_RECORD_STEPS_MOST; i++) {
        struct picture_bytes picture;
        char name[32];
        if (report->result->steps[i].verdict != VERDICT_FAIL) {
            continue;
        }
        snprintf(name, sizeof name, "step-%04zu", i);
        if (!picture_step_bytes(report, i, &picture, problem) || !add_picture(record, name, &picture)) {
            return false;
        }
        count++;
    }
    return true;
}

bool run_record_pictures(struct run_record *record, const struct run_facts *facts, struct problem *problem) {
    const struct keeper *keeper = facts->keeper;
    struct picture_bytes picture;
    if (record->run.blob_count > record->picture_from) {
        return true;
    }
    if (keeper != NULL && keeper->shown.samples != NULL &&
        (!picture_field_bytes(&keeper->shown_field, &keeper->shown_reading, &picture, problem) ||
         !add_picture(record, "field", &picture))) {
        return false;
    }
    return facts->seen_by_eye || facts->report->result->palette != NULL ||
           add_steps(record, facts->report, problem);
}

/* ---- all of it ---- */

static void take_place(struct run_record *record, const struct run_facts *facts) {
    struct record_run *run = &record->run;
    run->station = keep_text(record, TEXT_STATION, facts->station);
    run->bench = keep_text(record, TEXT_BENCH, facts->bench_name);
    run->console.name = keep_text(record, TEXT_CONSOLE, facts->console.name);
    run->console.revision = keep_text(record, TEXT_REVISION, facts->console.revision);
    run->console.markings = keep_text(record, TEXT_MARKINGS, facts->console.markings);
    run->console.modifications = keep_text(record, TEXT_MODIFICATIONS, facts->console.modifications);
    run->cartridge.kind = facts->cartridge.kind;
    run->cartridge.serial = keep_text(record, TEXT_SERIAL, facts->cartridge.serial);
    run->cartridge.firmware = keep_text(record, TEXT_FIRMWARE, facts->cartridge.firmware);
    run->minutes_on = facts->minutes_on;
    run->tool = SLOTJIG_VERSION;
    run->image_hash = facts->report->hash;
    run->seed = facts->report->seed;
    run->has_seed = facts->report->has_seed;
    run->command = facts->report->command;
    run->seen_by_eye = facts->seen_by_eye;
    run->blobs = record->blobs;
}

static bool fill(struct run_record *record, const struct run_facts *facts, struct problem *problem) {
    take_place(record, facts);
    take_result(record, facts->report);
    if (!take_plan(record, facts->report->plan) || !take_settings(record, facts) ||
        !take_findings(record, facts->report->result) || !add_measured(record, facts->report->result)) {
        return problem_set(problem, PROBLEM_BENCH, "the record: out of memory; close other programs");
    }
    record->picture_from = record->run.blob_count;
    return true;
}

struct run_record *run_record_make(const struct run_facts *facts, struct problem *problem) {
    struct run_record *record = calloc(1, sizeof *record);
    if (record == NULL) {
        problem_set(problem, PROBLEM_BENCH, "the record: out of memory; close other programs");
        return NULL;
    }
    if (!fill(record, facts, problem)) {
        run_record_free(record);
        return NULL;
    }
    return record;
}

void run_record_free(struct run_record *record) {
    if (record == NULL) {
        return;
    }
    for (int i = 0; i < RUN_RECORD_BLOBS; i++) {
        free((void *)record->blobs[i].bytes);
    }
    free(record->plan_steps);
    free(record->step_names);
    free(record->plan_text);
    free(record->settings);
    free(record->findings);
    free(record);
}
