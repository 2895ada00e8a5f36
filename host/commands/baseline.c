#include "commands/commands.h"

#include "base/date.h"
#include "base/output.h"
#include "commands/choice.h"
#include "record/differ.h"
#include "report/json.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TAKES (TAKES_STORE | TAKES_CHOOSE | TAKES_BASELINE | TAKES_JSON)

enum { BASELINE_LAST = 5, LOOK_BACK = 1000 };

static int help(void) {
    printf(
        "usage: slotjig baseline [options]\n\n"
        "Runs that later ones are held against (`slotjig compare --console NAME`). Without --console and "
        "--revision: lists\n"
        "them. With --console: makes the console's latest %d runs that passed or failed the baseline of "
        "their plan (--last N:\n"
        "so many; --run NUMBER: that one), of every plan where --plan names none. With --revision: "
        "likewise those of all\n"
        "consoles of that revision, for those of them that have no baseline of their own. Setting it again "
        "replaces it.\n\n",
        BASELINE_LAST);
    options_help(TAKES);
    printf("\nexit: 0 done, 2 wrong usage or input, or no such runs, 3 disk or memory\n");
    return EXIT_PASS;
}

/* What was set or cleared, for the terminal and as JSON. */
struct told {
    const struct options *options;
    FILE *stream; /* NULL: quiet */
    json_t *list;
};

static const char *kind_of(const char *console) {
    return console[0] != '\0' ? "console" : "revision";
}

static void tell_ids(FILE *stream, const int64_t *runs, size_t count) {
    enum { SHOWN = 12 };
    for (size_t i = 0; i < count && i < SHOWN; i++) {
        fprintf(stream, "%s%lld", i == 0 ? " " : ", ", (long long)runs[i]);
    }
    if (count > SHOWN) {
        fprintf(stream, " and %zu more", count - SHOWN);
    }
    fprintf(stream, "\n");
}

static void tell_baseline(struct told *told, const struct record_baseline *baseline) {
    char made[DATE_TEXT_MAX];
    const char *name = baseline->console[0] != '\0' ? baseline->console : baseline->revision;
    if (told->stream != NULL) {
        fprintf(told->stream, "%s %s, plan %s: made %s UTC of %zu run%s", kind_of(baseline->console), name,
                baseline->plan, date_text(baseline->made_ms, DATE_MINUTE, made), baseline->count,
                baseline->count == 1 ? "" : "s");
        tell_ids(told->stream, baseline->runs, baseline->count);
    }
    json_array_append_new(told->list,
                          json_pack("{s:s,s:s,s:s,s:s,s:s,s:o}", "of", kind_of(baseline->console), "name",
                                    name, "plan", baseline->plan, "plan_id", baseline->plan_id, "made",
                                    date_text(baseline->made_ms, DATE_WHOLE, made), "runs",
                                    json_numbers(baseline->runs, baseline->count)));
}

/* All of them, or those of a plan. */
static bool list_them(struct records *records, struct told *told, struct problem *problem) {
    const struct options *options = told->options;
    struct record_baselines list = {0};
    if (!records_baselines(records, &list, problem)) {
        return false;
    }
    for (size_t i = 0; i < list.count; i++) {
        const struct record_baseline *baseline = &list.baselines[i];
        if (options->of_plan == NULL || strcmp(baseline->plan, options->of_plan) == 0) {
            tell_baseline(told, baseline);
        }
    }
    if (told->stream != NULL && json_array_size(told->list) == 0) {
        fprintf(told->stream, "no baselines in %s\n", records_file(records));
    }
    record_baselines_free(&list);
    return true;
}

/* Runs gathered for one baseline. */
struct gathered {
    int64_t *ids;
    size_t count, failed;
};

static bool gather(struct gathered *gathered, const struct record_run *run) {
    int64_t *ids = realloc(gathered->ids, (gathered->count + 1) * sizeof *ids);
    if (ids == NULL) {
        return false;
    }
    gathered->ids = ids;
    ids[gathered->count++] = run->id;
    gathered->failed += run->end == RECORD_FAIL;
    return true;
}

static bool was_judged(const struct record_run *run) {
    return run->end == RECORD_PASS || run->end == RECORD_FAIL;
}

/* The console's latest `most` judged runs of a plan: looks ever farther back until there are so many. */
static bool gather_console(struct records *records, const struct records_choice *choice, const char *console,
                           const char *plan_id, size_t most, struct gathered *gathered,
                           struct problem *problem) {
    for (int back = (int)most;; back *= 4) {
        struct records_choice here = *choice;
        struct record_list list = {0, NULL};
        size_t judged = 0, seen = 0;
        here.console = console;
        here.plan_id = plan_id;
        here.last = back;
        if (!records_select(records, &here, 0, &list, problem)) {
            return false;
        }
        for (size_t i = 0; i < list.count; i++) {
            judged += was_judged(list.runs[i]);
        }
        const bool enough = judged >= most || list.count < (size_t)back || back > INT32_MAX / 8;
        bool good = true;
        for (size_t i = 0; enough && good && i < list.count; i++) {
            if (was_judged(list.runs[i]) && judged - seen++ <= most) {
                good = gather(gathered, list.runs[i]);
            }
        }
        record_list_free(&list);
        if (!good) {
            return problem_set(problem, PROBLEM_BENCH, "baseline: out of memory");
        }
        if (enough) {
            return true;
        }
    }
}

/* Whether the run was judged, and no later one of a plan of that name was: its edition is the latest. */
static bool is_latest(const struct record_list *runs, size_t index) {
    const struct record_run *run = runs->runs[index];
    bool latest = was_judged(run);
    for (size_t i = index + 1; i < runs->count && latest; i++) {
        latest = !was_judged(runs->runs[i]) || strcmp(runs->runs[i]->plan->name, run->plan->name) != 0;
    }
    return latest;
}

static bool gather_revision(struct records *records, const struct records_choice *choice, const char *plan_id,
                            size_t most, struct gathered *gathered, struct problem *problem) {
    struct record_consoles consoles = {0};
    bool good = records_consoles(records, &consoles, problem);
    for (size_t i = 0; good && i < consoles.count; i++) {
        const struct record_console *console = &consoles.consoles[i].console;
        if (strcmp(console->revision, choice->revision) == 0) {
            good = gather_console(records, choice, console->name, plan_id, most, gathered, problem);
        }
    }
    record_consoles_free(&consoles);
    return good;
}

static void tell_set(struct told *told, const char *plan, const struct gathered *gathered) {
    const struct options *options = told->options;
    const char *console = options->console != NULL ? options->console : "";
    const char *name = options->console != NULL ? options->console : options->revision;
    if (told->stream != NULL) {
        fprintf(told->stream, "baseline of %s %s, plan %s: %zu run%s,", kind_of(console), name, plan,
                gathered->count, gathered->count == 1 ? "" : "s");
        tell_ids(told->stream, gathered->ids, gathered->count);
        if (gathered->failed > 0) {
            fprintf(told->stream, "  %zu of them failed: what fails there is not new later\n",
                    gathered->failed);
        }
        if (gathered->count < DIFFER_RUNS) {
            fprintf(told->stream, "  a drift is only tested from %d runs on\n", DIFFER_RUNS);
        }
    }
    json_array_append_new(told->list, json_pack("{s:s,s:s,s:s,s:I,s:o}", "of", kind_of(console), "name", name,
                                                "plan", plan, "failed", (json_int_t)gathered->failed, "runs",
                                                json_numbers(gathered->ids, gathered->count)));
}

/* Nothing where no run of it is of a console that is of the revision still. */
static bool set_one(struct records *records, const struct records_choice *choice,
                    const struct record_plan *plan, struct told *told, struct problem *problem) {
    const struct options *options = told->options;
    const size_t most = options->last > 0 ? (size_t)options->last : BASELINE_LAST;
    struct gathered gathered = {.count = 0};
    bool good = options->console != NULL
                    ? gather_console(records, choice, options->console, plan->id, most, &gathered, problem)
                    : gather_revision(records, choice, plan->id, most, &gathered, problem);
    if (good && gathered.count > 0) {
        good = records_baseline_set(records, options->console,
                                    options->console != NULL ? NULL : options->revision, gathered.ids,
                                    gathered.count, problem);
        if (good) {
            tell_set(told, plan->name, &gathered);
        }
    }
    free(gathered.ids);
    return good;
}

/* Of each plan of the runs, the one run last first. */
static bool set_plans(struct records *records, const struct records_choice *choice,
                      const struct record_list *runs, struct told *told, struct problem *problem) {
    size_t plans = 0;
    for (size_t i = runs->count; i > 0; i--) {
        if (is_latest(runs, i - 1)) {
            plans++;
            if (!set_one(records, choice, runs->runs[i - 1]->plan, told, problem)) {
                return false;
            }
        }
    }
    if (plans == 0) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "baseline: no run that was chosen has passed or failed: `slotjig history` shows what "
            "is on record");
    }
    return json_array_size(told->list) > 0 ||
           problem_set(
               problem, PROBLEM_INPUT,
               "baseline: the consoles that had revision %.80s are of another one by their latest runs: "
               "`slotjig history consoles` lists them",
               told->options->revision);
}

static bool set_latest(struct records *records, struct told *told, struct problem *problem) {
    struct records_choice choice, look;
    struct record_list runs = {0, NULL};
    if (!choice_of(told->options, &choice, problem) ||
        !choice_console_known(records, told->options->console, problem)) {
        return false;
    }
    look = choice;
    look.last = LOOK_BACK;
    const bool good = records_select(records, &look, 0, &runs, problem) &&
                      set_plans(records, &choice, &runs, told, problem);
    record_list_free(&runs);
    return good;
}

static bool set_run(struct records *records, struct told *told, struct problem *problem) {
    const struct options *options = told->options;
    struct record_run *run = NULL;
    if (!records_run(records, (int64_t)options->run, 0, &run, problem)) {
        return false;
    }
    struct gathered gathered = {.ids = &run->id, .count = 1, .failed = run->end == RECORD_FAIL};
    bool good =
        was_judged(run) ||
        problem_set(problem, PROBLEM_INPUT, "--run %lld: it ended as %s; a baseline needs a pass or a fail",
                    (long long)run->id, record_end_name(run->end));
    if (good && options->console != NULL && strcmp(run->console.name, options->console) != 0) {
        good = problem_set(problem, PROBLEM_INPUT, "--run %lld: a run of console %.80s, not of %.80s",
                           (long long)run->id, run->console.name, options->console);
    }
    good = good && records_baseline_set(records, options->console,
                                        options->console != NULL ? NULL : options->revision, gathered.ids, 1,
                                        problem);
    if (good) {
        tell_set(told, run->plan->name, &gathered);
    }
    record_free(run);
    return good;
}

static bool clear_them(struct records *records, struct told *told, struct problem *problem) {
    const struct options *options = told->options;
    size_t cleared = 0;
    if (!records_baseline_clear(records, options->console,
                                options->console != NULL ? NULL : options->revision, options->of_plan,
                                &cleared, problem)) {
        return false;
    }
    if (cleared == 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "baseline --clear: there is none of that; `slotjig baseline` lists them");
    }
    if (told->stream != NULL) {
        fprintf(told->stream, "%zu baseline%s forgotten\n", cleared, cleared == 1 ? "" : "s");
    }
    return true;
}

static bool carry_out(struct records *records, struct told *told, struct problem *problem) {
    const struct options *options = told->options;
    if (options->console == NULL && options->revision == NULL) {
        return list_them(records, told, problem);
    }
    return options->clear      ? clear_them(records, told, problem)
           : options->run != 0 ? set_run(records, told, problem)
                               : set_latest(records, told, problem);
}

static bool sensible(const struct options *options, struct problem *problem) {
    const bool whose = options->console != NULL || options->revision != NULL;
    const bool narrowed = options->of_bench != NULL || options->station != NULL || options->since != NULL ||
                          options->until != NULL || options->last != 0;
    if (options->console != NULL && options->revision != NULL) {
        return problem_set(problem, PROBLEM_INPUT, "baseline: of a console or of a revision, not of both");
    }
    if (!whose && (options->clear || options->run != 0 || options->last != 0)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "baseline: say of what with --console NAME or --revision TEXT");
    }
    if (options->run != 0 && (options->clear || narrowed || options->of_plan != NULL)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "baseline --run: that run is chosen; leave out --clear and what chooses runs");
    }
    if (narrowed && (!whose || options->clear)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "baseline: %s takes no more than --plan; leave out what else chooses runs",
                           options->clear ? "--clear" : "the list of them");
    }
    return true;
}

int command_baseline(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct records *records = NULL;
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    const bool lists = options.console == NULL && options.revision == NULL;
    struct told told = {&options, options.quiet ? NULL : options_people(&options), json_array()};
    bool good = sensible(&options, &problem) && output_ready(options.json, &problem) &&
                (lists ? choice_open(&options, &records, &problem)
                       : choice_open_to_write(&options, &records, &problem)) &&
                carry_out(records, &told, &problem);
    records_close(records);
    if (good && options.json != NULL) {
        json_t *result =
            json_pack("{s:s,s:i,s:O}", "command", "baseline", "exit", EXIT_PASS, "baselines", told.list);
        good = json_write(result, options.json, &problem);
    }
    json_decref(told.list);
    return good ? EXIT_PASS : command_refuse(&problem);
}
