#include "commands/history.h"

#include "base/date.h"
#include "base/utf8.h"
#include "commands/commands.h"
#include "record/suites.h"
#include "report/json.h"
#include "report/table.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- consoles ---- */

/* A character a run: the tenth that its margin lies in, or how it ended. */
static char trend_mark(const struct record_run *run) {
    static const char ends[RECORD_ENDS] = {
        [RECORD_FAIL] = 'F', [RECORD_INCONCLUSIVE] = '?', [RECORD_TROUBLE] = '!'};
    const int tenth = run->margin > 0.9 ? 9 : run->margin > 0 ? (int)(10 * run->margin) : 0;
    return run->end == RECORD_PASS ? (char)('0' + tenth) : ends[run->end];
}

static bool trend_of(struct records *records, const char *console, char trend[HISTORY_TREND + 1],
                     struct problem *problem) {
    const struct records_choice choice = {.console = console, .last = HISTORY_TREND, .with_trouble = true};
    struct record_list list = {0};
    if (!records_select(records, &choice, 0, &list, problem)) {
        return false;
    }
    size_t at = 0;
    for (size_t i = 0; i < list.count && at < HISTORY_TREND; i++) {
        trend[at++] = trend_mark(list.runs[i]);
    }
    trend[at] = '\0';
    record_list_free(&list);
    return true;
}

static json_t *console_json(const struct record_console_known *known, const char *trend) {
    char when[DATE_TEXT_MAX];
    return json_pack(
        "{s:o,s:o,s:o,s:o,s:s,s:I,s:s,s:s,s:s}", "name", json_text(known->console.name), "revision",
        json_text(known->console.revision), "markings", json_text(known->console.markings), "modifications",
        json_text(known->console.modifications), "standard", standard_table[known->standard].name, "runs",
        (json_int_t)known->runs, "latest", date_text(known->latest_ms, DATE_WHOLE, when), "end",
        record_end_name(known->latest), "trend", trend);
}

static void add_console(struct table *table, const struct record_console_known *known, const char *trend) {
    char when[DATE_TEXT_MAX];
    table_add(table, "%s", known->console.name);
    table_add(table, "%s", known->console.revision);
    table_add(table, "%s", standard_table[known->standard].name);
    table_add(table, "%" PRId64, known->runs);
    table_add(table, "%s", date_text(known->latest_ms, DATE_MINUTE, when));
    table_add(table, "%s", record_end_name(known->latest));
    table_add(table, "%s", trend);
}

static bool write_list(json_t *list, const char *key, const struct options *options,
                       struct problem *problem) {
    if (options->json == NULL) {
        json_decref(list);
        return true;
    }
    return json_write(json_pack("{s:s,s:i,s:o}", "command", "history", "exit", EXIT_PASS, key, list),
                      options->json, problem);
}

static bool print_table(struct table *table, const char *none, const struct options *options,
                        struct problem *problem) {
    const bool empty = table->count == (size_t)table->columns;
    FILE *nowhere = options->quiet || history_is_piped(options) ? fopen("/dev/null", "we") : NULL;
    FILE *stream = nowhere == NULL ? stdout : nowhere;
    const bool good = table_end(table, stream);
    if (empty) {
        fprintf(stream, "%s\n", none);
    }
    if (nowhere != NULL) {
        fclose(nowhere);
    }
    return good || problem_set(problem, PROBLEM_BENCH, "history: out of memory");
}

bool history_consoles(struct records *records, const struct options *options, struct problem *problem) {
    static const char *const heads[] = {"console",      "revision", "standard", ">runs",
                                        "latest (UTC)", "end",      "margins",  NULL};
    struct record_consoles list = {0};
    if (!records_consoles(records, &list, problem)) {
        return false;
    }
    struct table table;
    json_t *json = json_array();
    bool good = true;
    table_begin(&table, heads);
    for (size_t i = 0; i < list.count && good; i++) {
        char trend[HISTORY_TREND + 1] = "";
        good = trend_of(records, list.consoles[i].console.name, trend, problem);
        add_console(&table, &list.consoles[i], trend);
        json_array_append_new(json, console_json(&list.consoles[i], trend));
    }
    record_consoles_free(&list);
    good = print_table(&table, "no run is on record", options, problem) && good;
    if (!good) {
        json_decref(json);
        return false;
    }
    return write_list(json, "consoles", options, problem);
}

/* ---- sweeps ---- */

/* What came of a sweep: its suites by their standing. */
struct tally {
    int suites, kinds[STANDING_KINDS], done, items, exit;
};

static bool tally_of(struct records *records, const struct record_sweep *sweep, struct tally *tally,
                     struct problem *problem) {
    const struct records_choice choice = {.sweep = sweep->id, .with_trouble = true};
    struct record_list runs = {0};
    if (!records_select(records, &choice, 0, &runs, problem)) {
        return false;
    }
    struct suites *suites = suites_make(sweep, &runs);
    struct standing *standings = suites == NULL ? NULL : calloc(suites->count + 1, sizeof *standings);
    *tally = (struct tally){.items = (int)sweep->item_count};
    for (size_t i = 0; standings != NULL && i < suites->count; i++) {
        suite_stand(&suites->list[i], &standings[i]);
        tally->suites++;
        tally->kinds[standings[i].kind]++;
        tally->done += standings[i].done;
    }
    const bool good = standings != NULL;
    if (good) {
        tally->exit = standing_exit(standings, suites->count);
    }
    free(standings);
    suites_free(suites);
    record_list_free(&runs);
    return good || problem_set(problem, PROBLEM_BENCH, "history: out of memory");
}

static void add_sweep(struct table *table, const struct record_sweep *sweep, const struct tally *tally) {
    char when[DATE_TEXT_MAX];
    table_add(table, "%" PRId64, sweep->id);
    table_add(table, "%s", date_text(sweep->started_ms, DATE_MINUTE, when));
    table_add(table, "%s", sweep->name);
    table_add(table, "%d of %d", tally->done, tally->items);
    for (int kind = STANDING_PASS; kind < STANDING_KINDS; kind++) {
        table_add(table, "%d", tally->kinds[kind]);
    }
    table_add(table, "%d", tally->kinds[STANDING_OPEN]);
    table_add(table, "%d", tally->exit);
}

static json_t *sweep_json(const struct record_sweep *sweep, const struct tally *tally) {
    char when[DATE_TEXT_MAX];
    json_t *ends = json_object();
    for (int kind = 0; kind < STANDING_KINDS; kind++) {
        json_object_set_new(ends, standing_name((enum standing_kind)kind), json_integer(tally->kinds[kind]));
    }
    return json_pack("{s:I,s:o,s:s,s:i,s:i,s:i,s:i,s:o,s:i}", "id", (json_int_t)sweep->id, "name",
                     json_text(sweep->name), "started", date_text(sweep->started_ms, DATE_WHOLE, when),
                     "repeats", sweep->repeats, "retries", sweep->retries, "items", tally->items, "done",
                     tally->done, "ends", ends, "exit", tally->exit);
}

bool history_sweeps(struct records *records, const struct options *options, struct problem *problem) {
    static const char *const heads[] = {">sweep", "started (UTC)", "name",     ">done", ">pass", ">unsteady",
                                        ">fail",  ">inconclusive", ">trouble", ">open", ">exit", NULL};
    struct record_sweep *sweep = NULL;
    if (!records_sweep_find(records, NULL, NULL, &sweep, problem)) {
        return false;
    }
    struct table table;
    json_t *json = json_array();
    bool good = true;
    table_begin(&table, heads);
    for (int left = options->last > 0 ? options->last : HISTORY_LAST; sweep != NULL && left > 0; left--) {
        struct tally tally;
        const int64_t id = sweep->id;
        good = good && tally_of(records, sweep, &tally, problem);
        if (good) {
            add_sweep(&table, sweep, &tally);
            json_array_append_new(json, sweep_json(sweep, &tally));
        }
        record_sweep_free(sweep);
        sweep = NULL;
        good = good && records_sweep_before(records, id, &sweep, problem);
    }
    record_sweep_free(sweep);
    good = print_table(&table, "no sweep is on record", options, problem) && good;
    if (!good) {
        json_decref(json);
        return false;
    }
    return write_list(json, "sweeps", options, problem);
}
