#include "commands/history.h"

#include "base/date.h"
#include "base/output.h"
#include "commands/choice.h"
#include "commands/commands.h"
#include "report/json.h"
#include "report/label.h"
#include "report/rows.h"
#include "report/table.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static const uint64_t takes = TAKES_CHOOSE | TAKES_STORE | TAKES_JSON | TAKES_ROWS | TAKES_OPERANDS;

static int help(void) {
    printf(
        "usage: slotjig history [options] [NUMBER | consoles | sweeps]\n\n"
        "What is on record: the latest %d runs; a run in full by its number; the consoles, each with the "
        "margins of its latest\n"
        "runs (a digit is the margin's tenth, newest right; F a fail, ? inconclusive, ! bench trouble); the "
        "sweeps. --json\n"
        "lists runs without steps and pictures; --jsonl and --csv have them.\n\n",
        HISTORY_LAST);
    options_help(takes);
    printf("\nexit: 0 told, whatever the runs were; 2 wrong usage or input, nothing recorded yet; 3 the "
           "store cannot be read, or a file not written\n");
    return EXIT_PASS;
}

bool history_is_piped(const struct options *options) {
    return option_is_dash(options->json) || option_is_dash(options->jsonl) || option_is_dash(options->csv);
}

/* ---- rows ---- */

static bool add_row(void *user, const struct record_run *run) {
    return rows_add(user, run);
}

/* Runs are read and written one by one, however many there are. */
static bool write_rows(struct records *records, const char *path, const struct records_choice *choice,
                       enum rows_form form, struct problem *problem) {
    const unsigned parts = form == ROWS_CSV ? RECORDS_STEPS | RECORDS_FINDINGS | RECORDS_PLAN : RECORDS_ALL;
    struct rows rows;
    return rows_open(path, form, &rows, problem) &&
           rows_close(&rows, records_each(records, choice, parts, add_row, &rows, problem), problem);
}

/* Rows of these runs into the files that --jsonl and --csv name. */
static bool list_rows(struct records *records, const struct options *options,
                      const struct records_choice *choice, struct problem *problem) {
    return (options->jsonl == NULL || write_rows(records, options->jsonl, choice, ROWS_JSONL, problem)) &&
           (options->csv == NULL || write_rows(records, options->csv, choice, ROWS_CSV, problem));
}

/* ---- the list ---- */

static void add_run(struct table *table, const struct record_run *run) {
    char when[DATE_TEXT_MAX], findings[60];
    table_add(table, "%" PRId64, run->id);
    table_add(table, "%s", date_text(run->started_ms, DATE_MINUTE, when));
    table_add(table, "%s", run->console.name);
    table_add(table, "%s", run->plan->name);
    table_add(table, "%s", run->bench);
    table_add(table, "%s", record_end_name(run->end));
    if (run->seen_by_eye || run->fields_judged == 0) {
        table_add(table, "-");
    } else {
        table_add(table, "%.2f", run->margin);
    }
    table_add(table, "%s",
              run->finding_count > 0
                  ? label_findings(run->findings, run->finding_count, findings, sizeof findings)
                  : run->problem);
}

/* more: there are older ones that the list leaves out. */
static bool print_list(const struct record_list *list, bool more, struct problem *problem) {
    static const char *const heads[] = {">run", "started (UTC)", "console",  "plan", "bench",
                                        "end",  ">margin",       "findings", NULL};
    struct table table;
    if (list->count == 0) {
        printf("no run on record is such a one\n");
        return true;
    }
    table_begin(&table, heads);
    for (size_t i = 0; i < list->count; i++) {
        add_run(&table, list->runs[i]);
    }
    if (!table_end(&table, stdout)) {
        return problem_set(problem, PROBLEM_BENCH, "history: out of memory");
    }
    if (more) {
        printf("there are older ones: --last N, or --since DATE\n");
    }
    return true;
}

static json_t *list_json(const struct records *records, const struct record_list *list) {
    json_t *runs = json_array();
    for (size_t i = 0; i < list->count; i++) {
        json_t *run = record_json(list->runs[i]);
        json_object_del(run, "pictures"); /* they were not read */
        json_array_append_new(runs, run);
    }
    char store[RECORDS_PATH_MAX];
    json_clean(records_file(records), store, sizeof store);
    return json_pack("{s:s,s:s,s:i,s:o}", "command", "history", "store", store, "exit", EXIT_PASS, "runs",
                     runs);
}

/* One more than is shown is asked for, so as to know whether there are more. */
static bool tell_list(struct records *records, const struct options *options, struct records_choice *choice,
                      struct problem *problem) {
    struct records_choice wider = *choice;
    struct record_list list = {0};
    wider.last = choice->last > 0 ? choice->last + 1 : 0;
    if (!records_select(records, &wider, RECORDS_FINDINGS, &list, problem)) {
        return false;
    }
    const bool more = choice->last > 0 && list.count > (size_t)choice->last;
    const struct record_list shown = {list.count - more, list.runs + more};
    const bool good =
        (options->quiet || history_is_piped(options) || print_list(&shown, more, problem)) &&
        (options->json == NULL || json_write(list_json(records, &shown), options->json, problem));
    record_list_free(&list);
    return good;
}

static bool history_list(struct records *records, const struct options *options, struct problem *problem) {
    struct records_choice choice;
    if (!choice_of(options, &choice, problem) || !choice_console_known(records, options->console, problem)) {
        return false;
    }
    choice.with_trouble = true;
    if (choice.last == 0 && options->since == NULL && options->until == NULL) {
        choice.last = HISTORY_LAST;
    }
    return tell_list(records, options, &choice, problem) && list_rows(records, options, &choice, problem);
}

/* ---- which of them ---- */

static bool tell(struct records *records, const struct options *options, struct problem *problem) {
    const char *const what = options->operand_count > 0 ? options->operands[0] : "";
    uint64_t id = 0;
    if (what[0] == '\0') {
        return history_list(records, options, problem);
    }
    if (strcmp(what, "consoles") == 0) {
        return history_consoles(records, options, problem);
    }
    if (strcmp(what, "sweeps") == 0) {
        return history_sweeps(records, options, problem);
    }
    if (!option_number("run", what, 1, INT64_MAX, &id, problem)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "history %.60s: no run has that number; `slotjig history` lists "
                           "what there is",
                           what);
    }
    return history_run(records, options, (int64_t)id, problem);
}

/* What can be understood of the command line without a store. */
static bool check(const struct options *options, struct problem *problem) {
    struct records_choice choice;
    const char *const what = options->operand_count > 0 ? options->operands[0] : "";
    const bool chosen = options->console != NULL || options->revision != NULL || options->of_bench != NULL ||
                        options->station != NULL || options->of_plan != NULL || options->since != NULL ||
                        options->until != NULL || options->last > 0;
    if (options->operand_count > 1) {
        return problem_set(problem, PROBLEM_INPUT,
                           "history %.40s %.40s: one word at a time: a run's number, consoles or sweeps",
                           what, options->operands[1]);
    }
    if (what[0] != '\0' && strspn(what, "0123456789") != strlen(what) && strcmp(what, "consoles") != 0 &&
        strcmp(what, "sweeps") != 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "history %.60s: not a run's number; say a number, consoles or sweeps", what);
    }
    if ((strcmp(what, "consoles") == 0 || strcmp(what, "sweeps") == 0) &&
        (options->jsonl != NULL || options->csv != NULL)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "history %s: --jsonl and --csv are rows of runs; --json FILE has the list", what);
    }
    if (what[0] != '\0' && chosen) {
        return problem_set(problem, PROBLEM_INPUT,
                           "history %.40s: it cannot be narrowed down; leave out what chooses runs", what);
    }
    if (option_is_dash(options->json) + option_is_dash(options->jsonl) + option_is_dash(options->csv) > 1) {
        return problem_set(problem, PROBLEM_INPUT,
                           "standard output can take one of --json, --jsonl and --csv; name files");
    }
    return choice_of(options, &choice, problem) && output_ready(options->json, problem) &&
           output_ready(options->jsonl, problem) && output_ready(options->csv, problem);
}

int command_history(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct records *records = NULL;
    if (!options_parse(argc, argv, takes, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    const bool good = check(&options, &problem) && choice_open(&options, &records, &problem) &&
                      tell(records, &options, &problem);
    records_close(records);
    return good ? EXIT_PASS : command_refuse(&problem);
}
