#include "commands/baseline_differ.h"

#include "commands/series.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PARTS = RECORDS_STEPS | RECORDS_FINDINGS | RECORDS_PLAN };

static bool out_of_memory(struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH, "comparing with a baseline: out of memory");
}

bool baseline_revision(struct records *records, const char *console, char *text, size_t size,
                       struct problem *problem) {
    const struct records_choice latest = {.console = console, .last = 1, .with_trouble = true};
    struct record_list list = {0};
    text[0] = '\0';
    if (!records_select(records, &latest, 0, &list, problem)) {
        return false;
    }
    if (list.count > 0) {
        snprintf(text, size, "%s", list.runs[0]->console.revision);
    }
    record_list_free(&list);
    return true;
}

/* When the baseline was made, and whose it is. */
static bool find_facts(struct records *records, const char *console, const char *plan_id,
                       const char *revision, struct baseline_differ *result, struct problem *problem) {
    struct record_baselines list = {0};
    if (!records_baselines(records, &list, problem)) {
        return false;
    }
    result->of_revision = true;
    for (size_t i = 0; i < list.count; i++) {
        const struct record_baseline *baseline = &list.baselines[i];
        if (strcmp(baseline->plan_id, plan_id) != 0) {
            continue;
        }
        if (strcmp(baseline->console, console) == 0) {
            result->made_ms = baseline->made_ms;
            result->of_revision = false;
            break;
        }
        if (baseline->console[0] == '\0' && strcmp(baseline->revision, revision) == 0) {
            result->made_ms = baseline->made_ms;
        }
    }
    record_baselines_free(&list);
    return true;
}

/* NULL: out of memory. */
static int64_t *ids_of(const struct record_list *list) {
    int64_t *ids = calloc(list->count > 0 ? list->count : 1, sizeof *ids);
    for (size_t i = 0; ids != NULL && i < list->count; i++) {
        ids[i] = list->runs[i]->id;
    }
    return ids;
}

static bool is_in(const struct record_list *list, int64_t id) {
    for (size_t i = 0; i < list->count; i++) {
        if (list->runs[i]->id == id) {
            return true;
        }
    }
    return false;
}

static int by_id(const void *first, const void *second) {
    const int64_t a = *(const int64_t *)first, b = *(const int64_t *)second;
    return (a > b) - (a < b);
}

/* Takes out what is in the baseline, and of the rest keeps the latest. False: out of memory. */
static bool keep_latest(struct record_list *now, const struct record_list *before, size_t most) {
    int64_t *ids = ids_of(before);
    size_t kept = now->count;
    if (ids == NULL) {
        return false;
    }
    qsort(ids, before->count, sizeof *ids, by_id);
    for (size_t i = now->count; i > 0; i--) { /* the latest are last */
        struct record_run *run = now->runs[i - 1];
        if (now->count - kept == most || bsearch(&run->id, ids, before->count, sizeof *ids, by_id) != NULL) {
            record_free(run);
        } else {
            now->runs[--kept] = run;
        }
    }
    free(ids);
    now->count -= kept;
    if (now->count > 0) {
        memmove(now->runs, now->runs + kept, now->count * sizeof(struct record_run *));
    }
    return true;
}

static bool choose_now(struct records *records, const struct baseline_now *which, const char *plan_id,
                       const struct record_list *before, int64_t made_ms, unsigned parts,
                       struct record_list *now, struct problem *problem) {
    const bool all = which->last == 0 && which->since_ms != 0;
    const int most = which->last != 0 ? which->last : BASELINE_DIFFER_LAST;
    const struct records_choice choice = {.console = which->console,
                                          .plan_id = plan_id,
                                          .since_ms = which->since_ms != 0 ? which->since_ms
                                                      : which->last != 0   ? 0
                                                                           : made_ms,
                                          .until_ms = which->until_ms,
                                          .last = all ? 0 : most + (int)before->count};
    if (!records_select(records, &choice, parts, now, problem)) {
        return false;
    }
    return keep_latest(now, before, all ? SIZE_MAX : (size_t)most) || out_of_memory(problem);
}

static bool hold(const struct record_list *before, const struct record_list *now,
                 struct baseline_differ *result, struct problem *problem) {
    struct series_list series = {.count = 0};
    result->before_ids = ids_of(before);
    result->now_ids = ids_of(now);
    result->before_count = before->count;
    result->now_count = now->count;
    if (result->before_ids == NULL || result->now_ids == NULL) {
        return out_of_memory(problem);
    }
    const bool good = series_of_runs(before, now, &series, problem) &&
                      differ_runs(before, now, series.list, series.count, &result->differ, problem);
    series_free(&series);
    return good;
}

/* The baseline's runs; with their blobs only where these are measurements, and not pictures. */
static bool read_before(struct records *records, const struct baseline_now *which, const char *revision,
                        unsigned *parts, struct record_list *before, struct problem *problem) {
    *parts = PARTS;
    if (!records_baseline_runs(records, which->console, revision, which->plan, *parts, before, problem)) {
        return false;
    }
    if (before->count == 0 || !series_has(before->runs[0]->plan->kind)) {
        return true;
    }
    *parts |= RECORDS_BLOBS;
    record_list_free(before);
    return records_baseline_runs(records, which->console, revision, which->plan, *parts, before, problem);
}

static bool against(struct records *records, const struct baseline_now *which,
                    const struct record_list *before, const char *revision, unsigned parts,
                    struct baseline_differ *result, struct problem *problem) {
    struct record_list now = {0, NULL};
    char plan_id[RECORD_ID_TEXT];
    snprintf(plan_id, sizeof plan_id, "%s", before->runs[0]->plan->id);
    snprintf(result->plan, sizeof result->plan, "%s", before->runs[0]->plan->name);
    if (!find_facts(records, which->console, plan_id, revision, result, problem)) {
        return false;
    }
    if (which->run != NULL) {
        struct record_run *run = (struct record_run *)which->run; /* only read */
        now = (struct record_list){1, &run};
        /* Another edition of the plan says nothing about this one. */
        return strcmp(run->plan->id, plan_id) != 0 || is_in(before, run->id) ||
               hold(before, &now, result, problem);
    }
    const bool good = choose_now(records, which, plan_id, before, result->made_ms, parts, &now, problem) &&
                      hold(before, &now, result, problem);
    record_list_free(&now);
    return good;
}

bool baseline_differ(struct records *records, const struct baseline_now *now, struct baseline_differ *result,
                     struct problem *problem) {
    char revision[256];
    struct record_list before = {0, NULL};
    unsigned parts;
    *result = (struct baseline_differ){.differ = NULL};
    if (now->revision != NULL && now->revision[0] != '\0') {
        snprintf(revision, sizeof revision, "%s", now->revision);
    } else if (!baseline_revision(records, now->console, revision, sizeof revision, problem)) {
        return false;
    }
    bool good = read_before(records, now, revision, &parts, &before, problem);
    if (good && before.count > 0) {
        good = against(records, now, &before, revision, parts, result, problem);
    }
    record_list_free(&before);
    if (!good) {
        baseline_differ_free(result);
    }
    return good;
}

void baseline_differ_free(struct baseline_differ *result) {
    differ_free(result->differ);
    free(result->before_ids);
    free(result->now_ids);
    *result = (struct baseline_differ){.differ = NULL};
}
