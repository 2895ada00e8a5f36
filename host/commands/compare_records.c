#include "commands/compare_records.h"

#include "base/date.h"
#include "base/output.h"
#include "commands/baseline_differ.h"
#include "commands/choice.h"
#include "commands/commands.h"
#include "commands/series.h"
#include "report/differ_report.h"
#include "report/json.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PLANS_MOST = 1000, GROUP_LAST = 2000 };

/* Where the report goes. */
static FILE *stream_of(const struct options *options) {
    return options->quiet ? NULL : options_people(options);
}

static int status_of(const struct differ *differ) {
    static const int statuses[] = {
        [DIFFER_NOT_WORSE] = EXIT_PASS, [DIFFER_WORSE] = EXIT_FAIL, [DIFFER_NOT_KNOWN] = EXIT_INCONCLUSIVE};
    return statuses[differ_verdict(differ)];
}

/* The gravest of two: worse, then not known, then nothing. */
static int graver(int first, int second) {
    return first == EXIT_FAIL || second == EXIT_FAIL ? EXIT_FAIL : first != EXIT_PASS ? first : second;
}

static const char *status_words(const struct differ *differ) {
    switch (differ_verdict(differ)) {
    case DIFFER_WORSE:
        return "WORSE than the baseline";
    case DIFFER_NOT_WORSE:
        return "nothing is worse than the baseline";
    default:
        return differ->doubt ? "not known: see below what may be the bench's, or could not be judged"
                             : "not known: no run could be judged";
    }
}

static void tell_plan(FILE *stream, const char *console, const struct baseline_differ *found) {
    char made[DATE_TEXT_MAX];
    fprintf(stream, "%s, plan %s: %s\n  baseline %s, made %s UTC\n", console, found->plan,
            status_words(found->differ), found->of_revision ? "of its revision" : "of its own",
            date_text(found->made_ms, DATE_MINUTE, made));
    differ_text(stream, found->differ);
}

static json_t *plan_json(const struct baseline_differ *found) {
    char made[DATE_TEXT_MAX];
    json_t *json = differ_json(found->differ);
    json_object_set_new(json, "plan", json_string(found->plan));
    json_object_set_new(json, "exit", json_integer(status_of(found->differ)));
    json_object_set_new(json, "baseline",
                        json_pack("{s:s,s:s,s:o}", "of", found->of_revision ? "revision" : "console", "made",
                                  date_text(found->made_ms, DATE_WHOLE, made), "runs",
                                  json_numbers(found->before_ids, found->before_count)));
    json_object_set_new(json, "runs", json_numbers(found->now_ids, found->now_count));
    return json;
}

/* The plans that have a baseline which counts for the console, each once. */
struct plans {
    size_t count;
    char names[PLANS_MOST][128];
};

static void note_plan(struct plans *plans, const char *name) {
    for (size_t i = 0; i < plans->count; i++) {
        if (strcmp(plans->names[i], name) == 0) {
            return;
        }
    }
    if (plans->count < PLANS_MOST) {
        snprintf(plans->names[plans->count++], sizeof plans->names[0], "%s", name);
    }
}

static bool revision_of(struct records *records, const struct options *options, char *revision, size_t size,
                        struct problem *problem) {
    if (options->revision == NULL) {
        return baseline_revision(records, options->console, revision, size, problem);
    }
    snprintf(revision, size, "%s", options->revision);
    return true;
}

static bool find_plans(struct records *records, const struct options *options, const char *revision,
                       struct plans *plans, struct problem *problem) {
    struct record_baselines list = {0};
    plans->count = 0;
    if (!records_baselines(records, &list, problem)) {
        return false;
    }
    for (size_t i = 0; i < list.count; i++) {
        const struct record_baseline *baseline = &list.baselines[i];
        const bool counts = strcmp(baseline->console, options->console) == 0 ||
                            (baseline->console[0] == '\0' && revision[0] != '\0' &&
                             strcmp(baseline->revision, revision) == 0);
        if (counts && (options->of_plan == NULL || strcmp(options->of_plan, baseline->plan) == 0)) {
            note_plan(plans, baseline->plan);
        }
    }
    record_baselines_free(&list);
    return plans->count > 0 ||
           problem_set(
               problem, PROBLEM_INPUT,
               "console %.80s has no baseline%s%.80s, and its revision none: `slotjig baseline --console "
               "NAME` makes one of its latest runs",
               options->console, options->of_plan == NULL ? "" : " of plan ",
               options->of_plan == NULL ? "" : options->of_plan);
}

/* One plan; nothing is told where no run is to be held against the baseline. */
static bool compare_plan(struct records *records, const struct options *options, const char *revision,
                         const char *plan, json_t *results, int *status, struct problem *problem) {
    struct records_choice choice;
    struct baseline_differ found;
    if (!choice_of(options, &choice, problem)) {
        return false;
    }
    const struct baseline_now now = {.console = options->console,
                                     .revision = revision,
                                     .plan = plan,
                                     .since_ms = choice.since_ms,
                                     .until_ms = choice.until_ms,
                                     .last = options->last};
    if (!baseline_differ(records, &now, &found, problem)) {
        return false;
    }
    FILE *stream = stream_of(options);
    if (found.differ != NULL && found.now_count > 0) {
        *status = *status < 0 ? status_of(found.differ) : graver(*status, status_of(found.differ));
        json_array_append_new(results, plan_json(&found));
        if (stream != NULL) {
            tell_plan(stream, options->console, &found);
        }
    } else if (stream != NULL) {
        fprintf(stream, "%s, plan %s: no run to hold against its baseline\n", options->console, plan);
    }
    baseline_differ_free(&found);
    return true;
}

static bool compare_plans(struct records *records, const struct options *options, json_t *results,
                          int *status, struct problem *problem) {
    char revision[256];
    struct plans plans;
    *status = -1;
    if (!choice_console_known(records, options->console, problem) ||
        !revision_of(records, options, revision, sizeof revision, problem) ||
        !find_plans(records, options, revision, &plans, problem)) {
        return false;
    }
    for (size_t i = 0; i < plans.count; i++) {
        if (!compare_plan(records, options, revision, plans.names[i], results, status, problem)) {
            return false;
        }
    }
    return *status >= 0 ||
           problem_set(
               problem, PROBLEM_INPUT,
               "console %.80s: no run since its baseline was made: run it again, or say --last N for the "
               "latest runs outside of the baseline",
               options->console);
}

static bool write_result(const struct options *options, json_t *result, int status, struct problem *problem) {
    json_object_set_new(result, "command", json_string("compare"));
    json_object_set_new(result, "exit", json_integer(status));
    return options->json == NULL || json_write(json_incref(result), options->json, problem);
}

/* One console against its baselines. */
static bool compare_console(struct records *records, const struct options *options, json_t *result,
                            int *status, struct problem *problem) {
    json_t *plans = json_array();
    json_object_set_new(result, "console", json_string(options->console));
    json_object_set_new(result, "plans", plans);
    return compare_plans(records, options, plans, status, problem);
}

/* One of several: what cannot be compared is told, and says nothing of the others. */
static bool compare_one_of(struct records *records, const struct options *options, json_t *consoles,
                           int *status, struct problem *problem) {
    struct problem why = {0};
    json_t *result = json_object();
    int own = EXIT_PASS;
    const bool compared = compare_console(records, options, result, &own, &why);
    json_array_append_new(consoles, result);
    json_object_set_new(result, "exit", compared ? json_integer(own) : json_null());
    json_object_set_new(result, "problem", compared ? json_null() : json_string(why.text));
    if (compared) {
        *status = *status < 0 ? own : graver(*status, own);
        return true;
    }
    FILE *stream = stream_of(options);
    if (why.kind == PROBLEM_INPUT && stream != NULL) {
        fprintf(stream, "%s\n", why.text);
    }
    return why.kind == PROBLEM_INPUT || problem_set(problem, why.kind, "%s", why.text);
}

/* All consoles whose latest run says that they are of this revision. */
static bool compare_revision(struct records *records, const struct options *options, json_t *result,
                             int *status, struct problem *problem) {
    struct record_consoles list;
    json_t *consoles = json_array();
    bool good = records_consoles(records, &list, problem);
    *status = -1;
    json_object_set_new(result, "revision", json_string(options->revision));
    json_object_set_new(result, "consoles", consoles);
    for (size_t i = 0; good && i < list.count; i++) {
        struct options one = *options;
        one.console = list.consoles[i].console.name;
        good = strcmp(list.consoles[i].console.revision, options->revision) != 0 ||
               compare_one_of(records, &one, consoles, status, problem);
    }
    record_consoles_free(&list);
    return good &&
           (*status >= 0 ||
            problem_set(problem, PROBLEM_INPUT,
                        "revision %.80s: no console of it has runs since a baseline was made; `slotjig "
                        "history consoles` lists them",
                        options->revision));
}

int compare_with_baseline(const struct options *options) {
    struct problem problem = {0};
    struct records *records = NULL;
    json_t *result = json_object();
    int status = EXIT_PASS;
    const bool good =
        output_ready(options->json, &problem) && choice_open(options, &records, &problem) &&
        (options->console != NULL ? compare_console(records, options, result, &status, &problem)
                                  : compare_revision(records, options, result, &status, &problem)) &&
        write_result(options, result, status, &problem);
    records_close(records);
    json_decref(result);
    return good ? status : command_refuse(&problem);
}

static bool group_choice(const char *text, const struct records_choice *common, struct records_choice *choice,
                         struct problem *problem) {
    const char *colon = strchr(text, ':');
    const size_t kind = colon == NULL ? 0 : (size_t)(colon - text);
    *choice = *common;
    choice->last = common->last > 0 ? common->last : GROUP_LAST;
    const struct {
        const char *name;
        const char **where;
    } kinds[] = {{"revision", &choice->revision},
                 {"console", &choice->console},
                 {"bench", &choice->bench},
                 {"station", &choice->station}};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (kind == strlen(kinds[i].name) && strncmp(text, kinds[i].name, kind) == 0) {
            *kinds[i].where = colon + 1;
            return true;
        }
    }
    return problem_set(problem, PROBLEM_INPUT,
                       "--group %.80s: say revision:TEXT, console:NAME, bench:NAME or station:NAME", text);
}

static int by_text(const void *first, const void *second) {
    return strcmp(*(const char *const *)first, *(const char *const *)second);
}

static const char *console_name(const struct record_run *run) {
    return run->console.name;
}

static const char *plan_id(const struct record_run *run) {
    return run->plan->id;
}

/* What runs are called, each name once, in order. */
struct names {
    size_t count;
    const char **list;
};

static bool names_of(const struct record_list *runs, const char *(*name_of)(const struct record_run *run),
                     struct names *names, struct problem *problem) {
    names->list = calloc(runs->count + 1, sizeof(const char *));
    if (names->list == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "comparing groups: out of memory");
    }
    for (size_t i = 0; i < runs->count; i++) {
        names->list[i] = name_of(runs->runs[i]);
    }
    qsort(names->list, runs->count, sizeof(const char *), by_text);
    for (size_t i = 0; i < runs->count; i++) {
        if (names->count == 0 || strcmp(names->list[names->count - 1], names->list[i]) != 0) {
            names->list[names->count++] = names->list[i];
        }
    }
    return true;
}

static bool has_name(const struct names *names, const char *name) {
    return bsearch(&name, names->list, names->count, sizeof name, by_text) != NULL;
}

/* The edition of the plan that both groups have, the one run last on the first; NULL: there is none. */
static const struct record_plan *common_plan(const struct record_list *first, const struct names *second) {
    for (size_t i = first->count; i > 0; i--) {
        if (has_name(second, first->runs[i - 1]->plan->id)) {
            return first->runs[i - 1]->plan;
        }
    }
    return NULL;
}

/* Which plans both groups have beside the one that is taken. */
static void other_plans(const struct record_list *first, const struct names *second, const char *taken,
                        struct plans *others) {
    others->count = 0;
    for (size_t i = 0; i < first->count; i++) {
        const struct record_plan *plan = first->runs[i]->plan;
        if (strcmp(plan->name, taken) != 0 && has_name(second, plan->id)) {
            note_plan(others, plan->name);
        }
    }
}

/* Takes the plan; what is read of its runs. */
static bool choose_plan(const struct options *options, const struct record_list looks[2],
                        char id[RECORD_ID_TEXT], unsigned *parts, struct plans *others,
                        struct problem *problem) {
    struct names second = {0, NULL};
    if (!names_of(&looks[1], plan_id, &second, problem)) {
        return false;
    }
    const struct record_plan *plan = common_plan(&looks[0], &second);
    if (plan != NULL) {
        snprintf(id, RECORD_ID_TEXT, "%s", plan->id);
        *parts =
            RECORDS_STEPS | RECORDS_FINDINGS | RECORDS_PLAN | (series_has(plan->kind) ? RECORDS_BLOBS : 0);
        other_plans(&looks[0], &second, plan->name, others);
    }
    free(second.list);
    return plan != NULL ||
           problem_set(problem, PROBLEM_INPUT,
                       "--group %.80s and %.80s: no plan was run on both (a plan counts as another one where "
                       "its standard or its steps differ)",
                       options->groups[0], options->groups[1]);
}

/* Both groups' runs of the plan they share. */
static bool read_groups(struct records *records, const struct records_choice choices[2],
                        const struct options *options, struct record_list lists[2], struct plans *others,
                        struct problem *problem) {
    char id[RECORD_ID_TEXT] = "";
    unsigned parts = 0;
    struct record_list looks[2] = {{0, NULL}, {0, NULL}};
    bool good = true;
    for (int group = 0; good && group < 2; group++) {
        good = records_select(records, &choices[group], 0, &looks[group], problem) &&
               (looks[group].count > 0 ||
                problem_set(problem, PROBLEM_INPUT, "--group %.80s: no run of it%s%.80s",
                            options->groups[group], options->of_plan == NULL ? "" : " and plan ",
                            options->of_plan == NULL ? "" : options->of_plan));
    }
    good = good && choose_plan(options, looks, id, &parts, others, problem);
    record_list_free(&looks[0]);
    record_list_free(&looks[1]);
    for (int group = 0; good && group < 2; group++) {
        struct records_choice choice = choices[group];
        choice.plan_id = id;
        good = records_select(records, &choice, parts, &lists[group], problem);
    }
    return good;
}

static bool share_one(const struct names *first, const struct names *second) {
    size_t i = 0, k = 0;
    while (i < first->count && k < second->count) {
        const int order = strcmp(first->list[i], second->list[k]);
        if (order == 0) {
            return true;
        }
        i += order < 0;
        k += order > 0;
    }
    return false;
}

/* Whether the two have a bench in common: else what tells them apart may be the benches. */
static bool share_bench(const struct record_list lists[2]) {
    for (size_t i = 0; i < lists[0].count; i++) {
        for (size_t k = 0; k < lists[1].count; k++) {
            if (strcmp(lists[0].runs[i]->bench, lists[1].runs[k]->bench) == 0 &&
                strcmp(lists[0].runs[i]->station, lists[1].runs[k]->station) == 0) {
                return true;
            }
        }
    }
    return false;
}

/* Two groups as they are told. */
struct groups {
    const struct options *options;
    const struct record_list *lists; /* two */
    struct names names[2];
    bool shared;      /* a console is in both */
    bool other_bench; /* no bench had runs of both */
    const struct plans *others;
};

static bool groups_open(struct groups *groups, struct problem *problem) {
    if (!names_of(&groups->lists[0], console_name, &groups->names[0], problem) ||
        !names_of(&groups->lists[1], console_name, &groups->names[1], problem)) {
        return false;
    }
    groups->shared = share_one(&groups->names[0], &groups->names[1]);
    groups->other_bench = !share_bench(groups->lists);
    return true;
}

static json_t *group_json(const struct groups *groups, int group) {
    return json_pack("{s:o,s:I,s:I}", "group", json_text(groups->options->groups[group]), "consoles",
                     (json_int_t)groups->names[group].count, "runs", (json_int_t)groups->lists[group].count);
}

static void tell_groups(FILE *stream, const struct groups *groups, const struct separations *found) {
    const struct options *options = groups->options;
    fprintf(stream, "plan %s: %zu console%s (%zu run%s) of %s against %zu (%zu) of %s\n",
            groups->lists[0].runs[0]->plan->name, groups->names[0].count,
            groups->names[0].count == 1 ? "" : "s", groups->lists[0].count,
            groups->lists[0].count == 1 ? "" : "s", options->groups[0], groups->names[1].count,
            groups->lists[1].count, options->groups[1]);
    for (int group = 0; group < 2; group++) {
        if (options->last == 0 && groups->lists[group].count == GROUP_LAST) {
            fprintf(stream, "  of %s the latest %d runs; --last takes more\n", options->groups[group],
                    GROUP_LAST);
        }
    }
    if (groups->shared) {
        fprintf(stream,
                "  a console is in both groups: the two are not independent, and p is not what it says\n");
    }
    if (groups->other_bench) {
        fprintf(stream,
                "  no bench had both groups: what tells them apart may be the benches, not the consoles\n");
    }
    separations_text(stream, found, options->groups[0], options->groups[1]);
    for (size_t i = 0; i < groups->others->count; i++) {
        fprintf(stream, "%s%s%s", i == 0 ? "  also run on both (--plan NAME): " : ", ",
                groups->others->names[i], i + 1 == groups->others->count ? "\n" : "");
    }
}

static bool tell_separations(const struct groups *groups, const struct separations *found, int status,
                             struct problem *problem) {
    FILE *stream = stream_of(groups->options);
    if (stream != NULL) {
        tell_groups(stream, groups, found);
    }
    json_t *result = json_pack("{s:s,s:o,s:o,s:b,s:b,s:o,s:o}", "plan", groups->lists[0].runs[0]->plan->name,
                               "first", group_json(groups, 0), "second", group_json(groups, 1),
                               "shared_console", (int)groups->shared, "other_bench", (int)groups->other_bench,
                               "test", differ_test_json("console"), "separations", separations_json(found));
    const bool good = write_result(groups->options, result, status, problem);
    json_decref(result);
    return good;
}

static bool separate(const struct options *options, const struct record_list lists[2],
                     const struct plans *others, int *status, struct problem *problem) {
    struct groups groups = {.options = options, .lists = lists, .others = others};
    struct series_list series = {.count = 0};
    struct separations *found = NULL;
    bool good = groups_open(&groups, problem) && series_of_consoles(&lists[0], &lists[1], &series, problem) &&
                differ_separate(&lists[0], &lists[1], series.list, series.count, &found, problem);
    if (good) {
        *status = found->count > 0 ? EXIT_PASS : EXIT_INCONCLUSIVE;
        good = tell_separations(&groups, found, *status, problem);
    }
    series_free(&series);
    separations_free(found);
    free(groups.names[0].list);
    free(groups.names[1].list);
    return good;
}

int compare_groups(const struct options *options) {
    struct problem problem = {0};
    struct records *records = NULL;
    struct records_choice common, choices[2];
    struct record_list lists[2] = {{0, NULL}, {0, NULL}};
    struct plans others = {.count = 0};
    int status = EXIT_PASS;
    const bool good = output_ready(options->json, &problem) && choice_of(options, &common, &problem) &&
                      group_choice(options->groups[0], &common, &choices[0], &problem) &&
                      group_choice(options->groups[1], &common, &choices[1], &problem) &&
                      choice_open(options, &records, &problem) &&
                      read_groups(records, choices, options, lists, &others, &problem) &&
                      separate(options, lists, &others, &status, &problem);
    record_list_free(&lists[0]);
    record_list_free(&lists[1]);
    records_close(records);
    return good ? status : command_refuse(&problem);
}
