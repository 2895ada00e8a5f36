#include "commands/recorder.h"

#include "base/date.h"
#include "base/utf8.h"
#include "commands/baseline_differ.h"
#include "commands/commands.h"
#include "commands/outcome.h"
#include "report/html.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const char local_station[] = "local"; /* a host's name may be a person's */

/* ---- before the run ---- */

static bool fits(const char *name, const char *text, struct problem *problem) {
    if (text == NULL) {
        return true;
    }
    if (text[0] == '\0' || strlen(text) >= BENCH_TEXT_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--%s '%.60s': give a name of 1 to %d bytes", name, text,
                           BENCH_TEXT_MAX - 1);
    }
    return utf8_is_name(text) ||
           problem_set(
               problem, PROBLEM_INPUT,
               "--%s: the name has control or hidden characters, blanks at an end, or is not UTF-8; give "
               "plain text",
               name);
}

static bool all_fit(const struct options *options, struct problem *problem) {
    return fits("console", options->console, problem) && fits("station", options->station, problem) &&
           fits("cartridge", options->cartridge, problem);
}

/* A file that is there and can be written, but is no store, was named wrongly. A store that cannot be
 * written, or has no place, is the bench's trouble: nobody may have named any. */
static bool refuse_store(const char *file, const struct problem *why, struct problem *problem) {
    char path[RECORDS_PATH_MAX];
    struct problem ignored;
    const bool placed = file != NULL || records_path(path, &ignored);
    const bool wrong = why->kind == PROBLEM_INPUT && placed && access(file != NULL ? file : path, W_OK) == 0;
    return problem_set(problem, wrong ? PROBLEM_INPUT : PROBLEM_BENCH, "%.540s; --no-record runs without",
                       why->text);
}

static bool store_ready(struct recorder *recorder, struct problem *problem) {
    struct records *records = NULL;
    struct problem why = {0};
    if (!records_open(recorder->options->store, RECORDS_WRITE, &records, &why)) {
        return refuse_store(recorder->options->store, &why, problem);
    }
    snprintf(recorder->store, sizeof recorder->store, "%s", records_file(records));
    records_close(records);
    return true;
}

bool recorder_start(struct recorder *recorder, const struct options *options, const struct run_place *place,
                    bool keeps, struct problem *problem) {
    *recorder = (struct recorder){.options = options,
                                  .place = place,
                                  .keeps = keeps,
                                  .wanted = keeps || options->out != NULL,
                                  .started_ms = date_now_ms(),
                                  .switched_min = -1};
    clock_gettime(CLOCK_MONOTONIC, &recorder->since);
    return all_fit(options, problem) && (!keeps || store_ready(recorder, problem));
}

static double seconds_since(const struct timespec *then) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - then->tv_sec) + (double)(now.tv_nsec - then->tv_nsec) * 1e-9;
}

void recorder_look(struct recorder *recorder, const struct bench_board *board) {
    if (board->switched) {
        recorder->switched_min = seconds_since(&board->switched_at) / 60;
    }
}

/* ---- whose run it is ---- */

static const char *first_of(const char *first, const char *second, const char *third) {
    return first != NULL && first[0] != '\0' ? first : second != NULL && second[0] != '\0' ? second : third;
}

const char *recorder_console(const struct recorder *recorder, const struct bench_settings *bench) {
    const struct record_console *given = recorder->place != NULL ? recorder->place->console : NULL;
    return first_of(given != NULL ? given->name : "", recorder->options->console,
                    bench != NULL ? bench->console : "");
}

/* The last part of a path: the rest may hold a person's name. */
static const char *bench_of(const struct recorder_end *end) {
    const char *slash = end->bench == NULL ? strrchr(end->report->bench, '/') : NULL;
    return slash != NULL && slash[1] != '\0' ? slash + 1
           : end->bench != NULL              ? end->bench->name
                                             : end->report->bench;
}

/* What the benches file says of a console holds for the one that it names, and for no other. */
static struct record_console console_of(const struct recorder *recorder, const struct recorder_end *end) {
    static const struct bench_settings unknown;
    const struct record_console *given = recorder->place != NULL ? recorder->place->console : NULL;
    const struct bench_settings *bench = end->bench != NULL ? end->bench : &unknown;
    const char *name = first_of(recorder_console(recorder, bench), bench_of(end), "");
    if (bench->console[0] != '\0' && strcmp(name, bench->console) != 0) {
        bench = &unknown;
    }
    return (struct record_console){
        .name = name,
        .revision = first_of(given != NULL ? given->revision : "", bench->revision, ""),
        .markings = first_of(given != NULL ? given->markings : "", bench->markings, ""),
        .modifications = first_of(given != NULL ? given->modifications : "", bench->modifications, "")};
}

/* The longer of what slotjig and a person know: a console that is switched off for two seconds stays warm. */
static double minutes_of(const struct recorder *recorder) {
    const double placed = recorder->place != NULL ? recorder->place->minutes_on : -1;
    return recorder->options->minutes_on >= 0 ? recorder->options->minutes_on
                                              : fmax(recorder->switched_min, placed);
}

static struct record_cartridge cartridge_of(const struct recorder *recorder, const struct recorder_end *end,
                                            char firmware[32]) {
    const struct link_facts *board =
        end->board != NULL && end->board->link != NULL ? link_facts(end->board->link) : NULL;
    firmware[0] = '\0';
    if (board != NULL) {
        snprintf(firmware, 32, "%d.%d", board->firmware_major, board->firmware_minor);
    }
    return (struct record_cartridge){
        .kind = end->bench != NULL ? run_record_way(end->bench) : end->cartridge,
        .serial = first_of(recorder->options->cartridge, board != NULL ? board->serial : "", ""),
        .firmware = firmware};
}

/* ---- after the run ---- */

static struct run_facts facts_of(const struct recorder *recorder, const struct recorder_end *end,
                                 char firmware[32]) {
    const struct bench_settings *bench = end->bench;
    return (struct run_facts){
        .report = end->report,
        .bench = bench,
        .bench_name = bench_of(end),
        .keeper = end->keeper,
        .console = console_of(recorder, end),
        .station = first_of(recorder->options->station, bench != NULL ? bench->station : "", local_station),
        .cartridge = cartridge_of(recorder, end, firmware),
        .seen_by_eye = end->seen_by_eye,
        .minutes_on = minutes_of(recorder)};
}

static bool make(struct recorder *recorder, const struct run_facts *facts, struct problem *problem) {
    recorder->record = run_record_make(facts, problem);
    if (recorder->record == NULL) {
        return false;
    }
    struct record_run *run = &recorder->record->run;
    run->started_ms = recorder->started_ms;
    run->took_ms = (int64_t)(seconds_since(&recorder->since) * 1000 + 0.5);
    run->item = recorder->place != NULL ? recorder->place->item : 0;
    run->attempt = recorder->place != NULL && recorder->place->attempt > 0 ? recorder->place->attempt : 1;
    return recorder->options->out == NULL || run_record_pictures(recorder->record, facts, problem);
}

static bool is_pass(void *user, const struct record_run *run) {
    bool *found = user;
    *found = run->end == RECORD_PASS;
    return !*found;
}

/* Pictures are kept of what did not pass, and of a console's first pass of a plan. */
static bool wants_pictures(struct records *records, const struct record_run *run, bool *wants,
                           struct problem *problem) {
    const struct records_choice choice = {.console = run->console.name, .plan_id = run->plan->id};
    bool passed = false;
    const bool good = run->end != RECORD_PASS || records_each(records, &choice, 0, is_pass, &passed, problem);
    *wants = !passed;
    return good;
}

static bool put_open(struct records *records, struct run_record *record, const struct run_facts *facts,
                     struct problem *problem) {
    bool wanted = false;
    if (!wants_pictures(records, &record->run, &wanted, problem) ||
        (wanted && !run_record_pictures(record, facts, problem))) {
        return false;
    }
    const size_t all = record->run.blob_count;
    record->run.blob_count = wanted ? all : record->picture_from;
    const bool good = records_put(records, &record->run, problem);
    record->run.blob_count = all; /* the page shows them in any case */
    return good;
}

static bool put(struct recorder *recorder, const struct run_facts *facts, struct problem *problem) {
    struct records *records = NULL;
    recorder->kept = records_open(recorder->options->store, RECORDS_WRITE, &records, problem) &&
                     put_open(records, recorder->record, facts, problem);
    records_close(records);
    return recorder->kept;
}

bool recorder_keep(struct recorder *recorder, const struct recorder_end *end, struct problem *problem) {
    const bool again = end->stopped && recorder->place != NULL && recorder->place->item != 0;
    struct problem why = {0};
    char firmware[32];
    if (!recorder->wanted) {
        return true;
    }
    const struct run_facts facts = facts_of(recorder, end, firmware);
    if (make(recorder, &facts, &why) && (!recorder->keeps || again || put(recorder, &facts, &why))) {
        return true;
    }
    return problem_set(problem, PROBLEM_BENCH, "the run was not recorded: %.560s", why.text);
}

bool recorder_keep_report(struct recorder *recorder, struct report *report, const struct recorder_end *end,
                          struct problem *problem) {
    const bool kept = recorder_keep(recorder, end, problem);
    json_object_set_new(report->more, "record", recorder_json(recorder));
    if (!kept) {
        report->exit = EXIT_BENCH;
        report->problem = report->problem != NULL ? report->problem : problem->text;
    }
    return kept;
}

json_t *recorder_json(const struct recorder *recorder) {
    if (!recorder->kept) {
        return json_null();
    }
    char store[RECORDS_PATH_MAX];
    utf8_clean(recorder->store, store, sizeof store, false);
    return json_pack("{s:I,s:s}", "id", (json_int_t)recorder->record->run.id, "store", store);
}

void recorder_tell(const struct recorder *recorder) {
    const struct options *options = recorder->options;
    if (recorder->kept && !options->quiet) {
        FILE *stream = options_people(options);
        fprintf(stream, "\nrecorded as run %lld, console %s\n", (long long)recorder->record->run.id,
                recorder->record->run.console.name);
    }
}

/* Against the baseline of its console, where the store has one. A store that is not wanted (--no-record) need
 * not be readable either. What a person saw has no cells and no margin that could be compared. */
static bool hold_against(const struct recorder *recorder, struct baseline_differ *differ,
                         struct problem *problem) {
    const struct record_run *run = &recorder->record->run;
    const struct baseline_now now = {
        .console = run->console.name, .revision = run->console.revision, .plan = run->plan->name, .run = run};
    struct records *records = NULL;
    if (run->seen_by_eye) {
        return true;
    }
    const bool good = records_open(recorder->options->store, RECORDS_READ, &records, problem) &&
                      baseline_differ(records, &now, differ, problem);
    records_close(records);
    return good || !recorder->kept;
}

bool recorder_page(const struct recorder *recorder, const char *folder, struct problem *problem) {
    struct baseline_differ differ = {0};
    char path[4096];
    if (recorder->record == NULL || folder == NULL) {
        return true;
    }
    const bool good = outcome_path(folder, "report.html", path, sizeof path, problem) &&
                      hold_against(recorder, &differ, problem) &&
                      html_write_run(path, &recorder->record->run, differ.differ, problem);
    baseline_differ_free(&differ);
    return good;
}

void recorder_free(struct recorder *recorder) {
    run_record_free(recorder->record);
    *recorder = (struct recorder){0};
}
