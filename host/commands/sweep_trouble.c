#include "commands/sweep_trouble.h"

#include "commands/commands.h"
#include "commands/recorder.h"
#include "commands/setup.h"

#include <stdio.h>
#include <string.h>

void sweep_trouble_text(const struct work_end *end, char *text, size_t size) {
    switch (end->how) {
    case WORK_HUNG:
        snprintf(text, size, "the run was ended after %d s without a result; look at board and grabber",
                 end->status);
        break;
    case WORK_KILLED:
        snprintf(text, size, "the run's process was ended by signal %d (%s); see the system's log",
                 end->status, strsignal(end->status));
        break;
    default:
        if (end->said[0] != '\0') {
            snprintf(text, size, "%s", end->said);
        } else {
            snprintf(text, size, "the run ended with status %d and left no record", end->status);
        }
    }
}

static void took(struct recorder *recorder, const struct work_end *end) {
    recorder->started_ms = end->started_ms;
    recorder->since.tv_sec -= end->took_ms / 1000;
    recorder->since.tv_nsec -= end->took_ms % 1000 * 1000000;
}

static bool keep(struct recorder *recorder, const struct setup *setup, const struct judge *judge,
                 const char *why, struct problem *problem) {
    struct result result = *judge_result((struct judge *)judge);
    result.verdict = VERDICT_INCONCLUSIVE;
    result.finding_count = 0; /* nothing is known of a video that nobody reported on */
    struct report report = setup_report(setup, &result, EXIT_BENCH);
    report.problem = why;
    const struct recorder_end end = {.report = &report, .bench = &setup->bench};
    return recorder_keep(recorder, &end, problem);
}

bool sweep_trouble_keep(const struct options *options, const struct run_place *place,
                        const struct work_end *end, const char *why, struct problem *problem) {
    struct setup setup = {0};
    struct recorder recorder = {0};
    struct judge *judge = NULL;
    bool good = setup_make(&setup, options, problem);
    if (good) {
        judge = judge_new(setup.plan, setup.image->hash);
        good = judge != NULL || problem_set(problem, PROBLEM_BENCH, "out of memory for the judge of plan %s",
                                            setup.plan->name);
    }
    good = good && recorder_start(&recorder, options, place, true, problem);
    if (good) {
        took(&recorder, end);
        good = keep(&recorder, &setup, judge, why, problem);
    }
    recorder_free(&recorder);
    judge_free(judge);
    setup_free(&setup);
    return good;
}
