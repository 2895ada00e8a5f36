#include "commands/commands.h"

#include "base/output.h"
#include "commands/baseline_differ.h"
#include "commands/choice.h"
#include "report/html.h"
#include "report/junit.h"
#include "report/rows.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const uint64_t takes = TAKES_STORE | TAKES_REPORT | TAKES_CHOOSE | TAKES_FORMATS;
#define DEFAULT_PAGE "report.html"

enum { PAGE_RUNS = 200 };

static int help(void) {
    printf("usage: slotjig report [options]\n\n"
           "Records, written out: a run (--run), a sweep (--sweep), a console's history (--console), or the "
           "runs that are chosen;\n"
           "without any of them the latest run. As a page for people (%s where no format is named), JUnit "
           "XML, JSON Lines or\n"
           "CSV; several at once; - is standard output for one of them. A page of a console shows its latest "
           "%d runs unless\n"
           "--last, --since or --until says otherwise.\n\n",
           DEFAULT_PAGE, PAGE_RUNS);
    options_help(takes);
    printf("\nexit: 0 written, whatever the runs were; 2 wrong usage or input, nothing recorded yet; 3 the "
           "store cannot be read, or a file not written\n");
    return EXIT_PASS;
}

/* What is reported on. */
struct subject {
    struct record_sweep *sweep; /* NULL: of no sweep */
    struct record_list runs;
    bool one;            /* a run alone */
    const char *console; /* its history */
};

static void subject_free(struct subject *subject) {
    record_sweep_free(subject->sweep);
    record_list_free(&subject->runs);
}

/* ---- which records ---- */

static bool is_chosen(const struct options *options) {
    return options->console != NULL || options->revision != NULL || options->of_bench != NULL ||
           options->station != NULL || options->of_plan != NULL || options->since != NULL ||
           options->until != NULL || options->last > 0;
}

static bool find_run(struct records *records, int64_t id, struct subject *subject, struct problem *problem) {
    subject->one = true;
    subject->runs.runs = calloc(1, sizeof(struct record_run *));
    if (subject->runs.runs == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "report: out of memory");
    }
    if (!records_run(records, id, RECORDS_ALL, &subject->runs.runs[0], problem)) {
        return false;
    }
    subject->runs.count = 1;
    return true;
}

static bool select_runs(struct records *records, const struct records_choice *choice, struct subject *subject,
                        struct problem *problem) {
    return records_select(records, choice, RECORDS_ALL, &subject->runs, problem) &&
           (subject->runs.count > 0 ||
            problem_set(problem, PROBLEM_INPUT,
                        "report: no run on record is such a one; `slotjig history` lists what there is"));
}

static bool is_number(const char *text) {
    return text[0] != '\0' && strspn(text, "0123456789") == strlen(text) && strlen(text) < 19;
}

/* A name goes before a number. */
static bool find_sweep(struct records *records, const char *what, struct subject *subject,
                       struct problem *problem) {
    if (!records_sweep_find(records, NULL, what, &subject->sweep, problem)) {
        return false;
    }
    if (subject->sweep == NULL && is_number(what) &&
        !records_sweep(records, strtoll(what, NULL, 10), &subject->sweep, problem)) {
        return false;
    }
    if (subject->sweep == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--sweep %.80s: no sweep of that name; `slotjig history sweeps` lists them", what);
    }
    const struct records_choice choice = {.sweep = subject->sweep->id, .with_trouble = true};
    return records_select(records, &choice, RECORDS_ALL, &subject->runs, problem);
}

static bool find(struct records *records, const struct options *options, struct subject *subject,
                 struct problem *problem) {
    struct records_choice choice;
    if (options->run > 0) {
        return find_run(records, (int64_t)options->run, subject, problem);
    }
    if (options->sweep != NULL) {
        return find_sweep(records, options->sweep, subject, problem);
    }
    if (!choice_of(options, &choice, problem) || !choice_console_known(records, options->console, problem)) {
        return false;
    }
    choice.with_trouble = true;
    if (!is_chosen(options)) {
        choice.last = 1;
        subject->one = true;
    } else if (options->console != NULL && choice.last == 0 && options->since == NULL &&
               options->until == NULL) {
        choice.last = PAGE_RUNS;
    }
    subject->console = options->console;
    return select_runs(records, &choice, subject, problem);
}

/* ---- pages ---- */

static bool write_run_page(struct records *records, const char *path, const struct record_run *run,
                           struct problem *problem) {
    const struct baseline_now now = {
        .console = run->console.name, .revision = run->console.revision, .plan = run->plan->name, .run = run};
    struct baseline_differ differ = {0};
    const bool good =
        baseline_differ(records, &now, &differ, problem) && html_write_run(path, run, differ.differ, problem);
    baseline_differ_free(&differ);
    return good;
}

/* The plans of the runs, each once. */
static size_t plans_of(const struct record_list *runs, const char **plans) {
    size_t count = 0;
    for (size_t i = 0; i < runs->count; i++) {
        bool known = false;
        for (size_t j = 0; j < count && !known; j++) {
            known = strcmp(plans[j], runs->runs[i]->plan->name) == 0;
        }
        if (!known) {
            plans[count++] = runs->runs[i]->plan->name;
        }
    }
    return count;
}

static bool write_console_page(struct records *records, const char *path, const struct subject *subject,
                               struct problem *problem) {
    const size_t most = subject->runs.count + 1;
    const char **plans = calloc(most, sizeof *plans);
    struct baseline_differ *differs = calloc(most, sizeof *differs);
    struct html_plan_differ *shown = calloc(most, sizeof *shown);
    bool good = plans != NULL && differs != NULL && shown != NULL;
    const size_t count = good ? plans_of(&subject->runs, plans) : 0;
    size_t shown_count = 0;
    if (!good) {
        problem_set(problem, PROBLEM_BENCH, "report: out of memory");
    }
    for (size_t i = 0; i < count && good; i++) {
        const struct baseline_now now = {.console = subject->console, .plan = plans[i]};
        good = baseline_differ(records, &now, &differs[i], problem);
        if (good && differs[i].differ != NULL) {
            shown[shown_count++] = (struct html_plan_differ){plans[i], differs[i].differ};
        }
    }
    good = good && html_write_console(path, subject->console, &subject->runs, shown, shown_count, problem);
    for (size_t i = 0; i < count; i++) {
        baseline_differ_free(&differs[i]);
    }
    free(plans);
    free(differs);
    free(shown);
    return good;
}

static bool write_page(struct records *records, const char *path, const struct subject *subject,
                       struct problem *problem) {
    if (subject->sweep != NULL) {
        return html_write_sweep(path, subject->sweep, &subject->runs, problem);
    }
    if (subject->one) {
        return write_run_page(records, path, subject->runs.runs[0], problem);
    }
    return write_console_page(records, path, subject, problem);
}

/* ---- all of it ---- */

static void tell(const char *path, const struct subject *subject) {
    if (subject->sweep != NULL) {
        printf("%s: sweep %" PRId64 ", %s: %zu runs\n", path, subject->sweep->id, subject->sweep->name,
               subject->runs.count);
    } else if (subject->one) {
        const struct record_run *run = subject->runs.runs[0];
        printf("%s: run %" PRId64 ", plan %s on %s: %s\n", path, run->id, run->plan->name, run->console.name,
               record_end_name(run->end));
    } else {
        printf("%s: %zu runs\n", path, subject->runs.count);
    }
}

static bool write_all(struct records *records, const struct options *options, const struct subject *subject,
                      struct problem *problem) {
    const bool piped = option_is_dash(options->html) || option_is_dash(options->junit) ||
                       option_is_dash(options->jsonl) || option_is_dash(options->csv);
    const char *const paths[] = {options->html, options->junit, options->jsonl, options->csv};
    if ((options->html != NULL && !write_page(records, options->html, subject, problem)) ||
        (options->junit != NULL && !junit_write(options->junit, subject->sweep, &subject->runs, problem)) ||
        (options->jsonl != NULL && !rows_write(options->jsonl, ROWS_JSONL, &subject->runs, problem)) ||
        (options->csv != NULL && !rows_write(options->csv, ROWS_CSV, &subject->runs, problem))) {
        return false;
    }
    for (size_t i = 0; i < sizeof paths / sizeof paths[0] && !piped && !options->quiet; i++) {
        if (paths[i] != NULL) {
            tell(paths[i], subject);
        }
    }
    return true;
}

/* What can be understood of the command line without a store. */
static bool check(const struct options *options, struct problem *problem) {
    struct records_choice choice;
    if ((options->run > 0) + (options->sweep != NULL) + is_chosen(options) > 1) {
        return problem_set(problem, PROBLEM_INPUT,
                           "report: --run, --sweep and what chooses runs stand alone; give one of them");
    }
    if (options->html != NULL && is_chosen(options) && options->console == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "report: a page is about a run, a sweep or a console; add --console NAME, or "
                           "choose another format");
    }
    if (option_is_dash(options->html) + option_is_dash(options->junit) + option_is_dash(options->jsonl) +
            option_is_dash(options->csv) >
        1) {
        return problem_set(problem, PROBLEM_INPUT, "standard output can take one format; name files");
    }
    return choice_of(options, &choice, problem) && output_ready(options->html, problem) &&
           output_ready(options->junit, problem) && output_ready(options->jsonl, problem) &&
           output_ready(options->csv, problem);
}

int command_report(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct records *records = NULL;
    struct subject subject = {0};
    if (!options_parse(argc, argv, takes, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (options.html == NULL && options.junit == NULL && options.jsonl == NULL && options.csv == NULL) {
        options.html = DEFAULT_PAGE;
    }
    const bool good = check(&options, &problem) && choice_open(&options, &records, &problem) &&
                      find(records, &options, &subject, &problem) &&
                      write_all(records, &options, &subject, &problem);
    subject_free(&subject);
    records_close(records);
    return good ? EXIT_PASS : command_refuse(&problem);
}
