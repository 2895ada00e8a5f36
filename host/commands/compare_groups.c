#include "commands/compare_records.h"

#include "base/output.h"
#include "commands/choice.h"
#include "commands/commands.h"
#include "commands/compare_parts.h"
#include "commands/series.h"
#include "report/differ_report.h"
#include "report/json.h"

#include <stdlib.h>
#include <string.h>

enum { GROUP_LAST = 2000 };

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
                        struct plan_names *others) {
    others->count = 0;
    for (size_t i = 0; i < first->count; i++) {
        const struct record_plan *plan = first->runs[i]->plan;
        if (strcmp(plan->name, taken) != 0 && has_name(second, plan->id)) {
            plan_names_add(others, plan->name);
        }
    }
}

/* Takes the plan; what is read of its runs. */
static bool choose_plan(const struct options *options, const struct record_list looks[2],
                        char id[RECORD_ID_TEXT], unsigned *parts, struct plan_names *others,
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
                        const struct options *options, struct record_list lists[2], struct plan_names *others,
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
    const struct plan_names *others;
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
    FILE *stream = compare_stream(groups->options);
    if (stream != NULL) {
        tell_groups(stream, groups, found);
    }
    json_t *result = json_pack("{s:s,s:o,s:o,s:b,s:b,s:o,s:o}", "plan", groups->lists[0].runs[0]->plan->name,
                               "first", group_json(groups, 0), "second", group_json(groups, 1),
                               "shared_console", (int)groups->shared, "other_bench", (int)groups->other_bench,
                               "test", differ_test_json("console"), "separations", separations_json(found));
    const bool good = compare_write(groups->options, result, status, problem);
    json_decref(result);
    return good;
}

static bool separate(const struct options *options, const struct record_list lists[2],
                     const struct plan_names *others, int *status, struct problem *problem) {
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
    struct plan_names others = {.count = 0};
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
