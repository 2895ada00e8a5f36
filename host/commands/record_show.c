#include "commands/record_show.h"

#include "base/date.h"
#include "report/moments_report.h"
#include "report/palette_report.h"
#include "report/reader_report.h"
#include "report/rows.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

/* A record as the result that it was made from. */
struct told {
    struct plan plan;
    struct result result;
    struct moments *moments;
    struct palette *palette;
    json_t *json; /* of the whole run */
};

static bool take_steps(const struct record_run *run, struct told *told) {
    const struct record_plan *plan = run->plan;
    told->plan.steps = calloc(plan->step_count + 1, sizeof *told->plan.steps);
    told->result.steps = calloc(run->step_count + 1, sizeof *told->result.steps);
    if (told->plan.steps == NULL || told->result.steps == NULL) {
        return false;
    }
    for (size_t i = 0; i < plan->step_count && plan->steps != NULL; i++) {
        snprintf(told->plan.steps[i].name, STEP_NAME_MAX, "%s", plan->steps[i].name);
        told->plan.steps[i].band_count = (size_t)plan->steps[i].bands;
    }
    told->plan.step_count = plan->step_count;
    told->result.step_count = run->step_count < plan->step_count ? run->step_count : plan->step_count;
    for (size_t i = 0; i < told->result.step_count; i++) {
        told->result.steps[i] = run->steps[i];
    }
    return true;
}

static size_t take_findings(const struct finding *from, size_t count, struct finding *to, size_t most) {
    const size_t taken = count < most ? count : most;
    for (size_t i = 0; i < taken; i++) {
        to[i] = from[i];
    }
    return taken;
}

/* Tables of plans that measure. */
static bool take_measured(const struct record_run *run, struct told *told, struct problem *problem) {
    char where[40];
    snprintf(where, sizeof where, "run %" PRId64, run->id);
    told->json = record_json(run);
    if (json_object_get(told->json, "moments") != NULL) {
        told->moments = calloc(1, sizeof *told->moments);
        told->result.moments = told->moments;
        return told->moments != NULL &&
               moments_from_json(told->json, where, run->plan->standard, told->moments, problem);
    }
    if (json_object_get(told->json, "hues") != NULL) {
        told->palette = calloc(1, sizeof *told->palette);
        told->result.palette = told->palette;
        return told->palette != NULL && palette_from_json(told->json, where, told->palette, problem);
    }
    return true;
}

static bool take(const struct record_run *run, struct told *told, struct problem *problem) {
    struct result *result = &told->result;
    snprintf(told->plan.name, sizeof told->plan.name, "%s", run->plan->name);
    told->plan.standard = run->plan->standard;
    told->plan.kind = run->plan->kind;
    result->verdict = run->end == RECORD_PASS   ? VERDICT_PASS
                      : run->end == RECORD_FAIL ? VERDICT_FAIL
                                                : VERDICT_INCONCLUSIVE;
    result->margin = run->margin;
    result->fields_seen = run->fields_seen;
    result->fields_judged = run->fields_judged;
    result->fields_unreadable = run->fields_unreadable;
    result->coverage = run->coverage;
    result->finding_count = take_findings(run->findings, run->finding_count, result->findings, FINDINGS_MAX);
    result->trouble_count = take_findings(run->troubles, run->trouble_count, result->troubles, TROUBLES_MAX);
    problem_set(problem, PROBLEM_BENCH, "run %" PRId64 ": out of memory", run->id);
    return take_steps(run, told) && take_measured(run, told, problem);
}

static void told_free(struct told *told) {
    free(told->plan.steps);
    free(told->result.steps);
    free(told->moments);
    free(told->palette);
    json_decref(told->json);
}

static void say(FILE *stream, const char *before, const char *text, const char *after) {
    if (text[0] != '\0') {
        fprintf(stream, "%s%s%s", before, text, after);
    }
}

/* A cartridge on a reader: there was neither console nor video. */
static bool is_of_reader(const struct record_run *run) {
    return strcmp(run->command, "reader") == 0;
}

static void print_when(FILE *stream, const struct record_run *run) {
    char when[DATE_TEXT_MAX];
    fprintf(stream, "run %" PRId64 "  %s UTC, %.1f s, attempt %d%s\n", run->id,
            date_text(run->started_ms, DATE_MINUTE, when), (double)run->took_ms / 1000, run->attempt,
            run->item > 0 ? " of a sweep" : "");
}

static void print_whose(FILE *stream, const struct record_run *run) {
    const struct record_console *console = &run->console;
    print_when(stream, run);
    fprintf(stream, "  console %s", console->name);
    say(stream, ", revision ", console->revision, "");
    say(stream, ", chips ", console->markings, "");
    say(stream, ", modified: ", console->modifications, "");
    if (run->minutes_on >= 0) {
        fprintf(stream, ", switched on for %.0f minutes", run->minutes_on);
    }
    fprintf(stream, "\n  station %s, bench %s, image by %s", run->station, run->bench, run->cartridge.kind);
    say(stream, ", cartridge ", run->cartridge.serial, "");
    say(stream, " (firmware ", run->cartridge.firmware, ")");
    fprintf(stream, ", slotjig %s\n", run->tool);
}

/* Of a person's answers there are no cells. */
static void print_by_eye(FILE *stream, const struct record_run *run) {
    fprintf(stream, "%s  plan %s, seen by eye\n", record_end_name(run->end), run->plan->name);
    for (size_t i = 0; i < run->step_count; i++) {
        if (run->steps[i].verdict != VERDICT_PASS) {
            fprintf(stream, "  step %zu  %s: %s\n", i,
                    run->plan->steps != NULL && i < run->plan->step_count ? run->plan->steps[i].name : "",
                    run->steps[i].verdict == VERDICT_FAIL ? "seen wrong" : "left open");
        }
    }
}

static void print_result(FILE *stream, const struct record_run *run, const struct told *told,
                         struct terminal_style style) {
    const struct report report = {
        .plan = &told->plan,
        .bench = run->bench,
        .result = &told->result,
        .hash = run->image_hash,
        .hold = (int)json_integer_value(json_object_get(json_object_get(told->json, "settings"), "hold")),
        .seed = run->seed,
        .has_seed = run->has_seed,
        .exit = run->exit,
        .command = run->command,
        .check = json_object_get(told->json, "check")};
    terminal_result(stream, &report, style);
}

/* What was measured is in its blob; of a reading that was broken off there are only zeros. */
static bool print_reading(FILE *stream, const struct record_run *run, struct problem *problem) {
    const struct record_blob *blob = NULL;
    for (size_t i = 0; i < run->blob_count; i++) {
        blob = strcmp(run->blobs[i].name, "reader") == 0 ? &run->blobs[i] : blob;
    }
    print_when(stream, run);
    fprintf(stream, "  station %s, cartridge %s, on the reader of bench %s (%s)", run->station,
            run->cartridge.serial, run->bench, run->cartridge.kind);
    say(stream, ", firmware ", run->cartridge.firmware, "");
    fprintf(stream, ", slotjig %s\n%s  cartridge on a reader\n", run->tool, record_end_name(run->end));
    if (blob == NULL || run->end == RECORD_TROUBLE) {
        return true;
    }
    char where[40];
    struct reader_limits limits;
    struct reader_result *result = malloc(sizeof *result);
    json_t *json = json_loadb((const char *)blob->bytes, blob->size, 0, NULL);
    snprintf(where, sizeof where, "run %" PRId64, run->id);
    problem_set(problem, PROBLEM_BENCH, "%s: out of memory", where);
    const bool good =
        result != NULL && json != NULL && reader_from_json(json, where, result, &limits, problem);
    if (good) {
        result->finding_count =
            take_findings(run->findings, run->finding_count, result->findings, FINDINGS_MAX);
        reader_terminal(stream, result, &limits);
    }
    json_decref(json);
    free(result);
    return good;
}

bool record_show(FILE *stream, const struct record_run *run, struct terminal_style style,
                 struct problem *problem) {
    if (is_of_reader(run)) {
        const bool good = print_reading(stream, run, problem);
        say(stream, "\n  ended early: ", run->problem, "\n");
        return good;
    }
    struct told *told = calloc(1, sizeof *told);
    if (told == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "run %" PRId64 ": out of memory", run->id);
    }
    const bool good = take(run, told, problem);
    if (good) {
        print_whose(stream, run);
        if (run->seen_by_eye) {
            print_by_eye(stream, run);
        } else {
            print_result(stream, run, told, style);
        }
        say(stream, "\n  ended early: ", run->problem, "\n");
    }
    told_free(told);
    free(told);
    return good;
}
