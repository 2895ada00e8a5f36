#include "commands/compare_records.h"

#include "base/date.h"
#include "base/output.h"
#include "commands/baseline_differ.h"
#include "commands/choice.h"
#include "commands/commands.h"
#include "commands/compare_parts.h"
#include "report/differ_report.h"
#include "report/json.h"

#include <stdio.h>
#include <string.h>

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

static bool revision_of(struct records *records, const struct options *options, char *revision, size_t size,
                        struct problem *problem) {
    if (options->revision == NULL) {
        return baseline_revision(records, options->console, revision, size, problem);
    }
    snprintf(revision, size, "%s", options->revision);
    return true;
}

static bool find_plans(struct records *records, const struct options *options, const char *revision,
                       struct plan_names *plans, struct problem *problem) {
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
            plan_names_add(plans, baseline->plan);
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
    FILE *stream = compare_stream(options);
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
    struct plan_names plans;
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
    FILE *stream = compare_stream(options);
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
        compare_write(options, result, status, &problem);
    records_close(records);
    json_decref(result);
    return good ? status : command_refuse(&problem);
}
