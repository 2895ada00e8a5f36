#include "report/junit_case.h"

#include "base/date.h"
#include "report/label.h"
#include "report/terminal.h"
#include "stats/stats.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

enum { RUNS_SHOWN = 3 }; /* of those that were not good */

/* How a step came out in a run. Of a run without steps nothing is known of any: a run that failed says
 * nothing of this one. */
static enum record_end end_of(const struct record_run *run, long step) {
    const bool trouble = run->end == RECORD_TROUBLE;
    if (step < 0) {
        return run->end;
    }
    if ((size_t)step >= run->step_count) {
        return run->end == RECORD_FAIL ? RECORD_INCONCLUSIVE : run->end;
    }
    switch (run->steps[step].verdict) {
    case VERDICT_PASS:
        return RECORD_PASS;
    case VERDICT_FAIL:
        return RECORD_FAIL;
    default:
        return trouble ? RECORD_TROUBLE : RECORD_INCONCLUSIVE;
    }
}

/* The standing that the step alone would give; hits: runs that ended in each way. */
static bool stand(struct suite *suite, long step, struct standing *standing, long hits[RECORD_ENDS]) {
    enum record_end *ends = calloc(suite->run_count + 1, sizeof *ends);
    memset(hits, 0, RECORD_ENDS * sizeof *hits);
    if (ends == NULL) {
        return false;
    }
    for (size_t i = 0; i < suite->run_count; i++) {
        ends[i] = suite->runs[i].end;
        suite->runs[i].end = end_of(&suite->runs[i], step);
        hits[suite->runs[i].end]++;
    }
    suite_stand(suite, standing);
    for (size_t i = 0; i < suite->run_count; i++) {
        suite->runs[i].end = ends[i];
    }
    free(ends);
    return true;
}

/* "wrong in 1 of 3 runs (95 %: 0.06 to 0.79)" */
static void say_share(char *text, size_t size, const char *what, long hits, long runs) {
    const struct interval rate = wilson_interval(hits, runs);
    snprintf(text, size, "%s in %ld of %ld run%s (95 %%: %.2f to %.2f)", what, hits, runs,
             runs == 1 ? "" : "s", rate.low, rate.high);
}

static void say(const struct suite *suite, const struct standing *standing, const long hits[RECORD_ENDS],
                bool whole, struct junit_case *result) {
    const long runs = (long)suite->run_count;
    char share[120];
    result->severity = JUNIT_ERROR;
    result->type = standing_name(standing->kind);
    if (hits[RECORD_FAIL] > 0) {
        const bool steady = hits[RECORD_PASS] == 0;
        result->severity = JUNIT_FAILURE;
        result->type = standing_name(steady ? STANDING_FAIL : STANDING_UNSTEADY);
        say_share(share, sizeof share, whole ? "a fail" : "wrong", hits[RECORD_FAIL], runs);
        snprintf(result->message, sizeof result->message, "%s%s", steady ? "" : "unsteady: ", share);
    } else if (standing->kind == STANDING_PASS) {
        result->severity = JUNIT_GOOD;
    } else if (standing->kind == STANDING_UNSTEADY) {
        result->severity = JUNIT_FAILURE;
        say_share(share, sizeof share, "good", hits[RECORD_PASS], runs);
        snprintf(result->message, sizeof result->message,
                 "unsteady: %s; %d of %d repeats passed at their first attempt", share, standing->passed,
                 standing->repeats);
    } else if (standing->kind == STANDING_OPEN) {
        snprintf(result->message, sizeof result->message, "open: %d of %d repeats are not done",
                 standing->repeats - standing->done, standing->repeats);
    } else {
        say_share(share, sizeof share, "not judged", runs - hits[RECORD_PASS], runs);
        snprintf(result->message, sizeof result->message, "%s: %s",
                 standing->kind == STANDING_TROUBLE ? "bench trouble" : "inconclusive", share);
    }
}

static void print_run(FILE *stream, const struct record_run *run, long step) {
    char started[DATE_TEXT_MAX], labels[400];
    fprintf(stream, "run %" PRId64 " of %sZ", run->id, date_text(run->started_ms, DATE_SECOND, started));
    fprintf(stream, " on bench %s", run->bench);
    if (run->has_seed) {
        fprintf(stream, ", seed %" PRIu64, run->seed);
    }
    fprintf(stream, ", attempt %d: %s\n", run->attempt, record_end_name(end_of(run, step)));
    if (step >= 0 && (size_t)step < run->step_count && !run->seen_by_eye) {
        const struct step_result *seen = &run->steps[step];
        fprintf(stream, "    %d of %d fields wrong, margin %.2f\n", seen->failed, seen->fields, seen->margin);
        if (seen->fields > 0) {
            terminal_step(stream, seen);
        }
    }
    if (run->finding_count > 0) {
        fprintf(stream, "    findings: %s\n",
                label_findings(run->findings, run->finding_count, labels, sizeof labels));
    }
    if (run->problem[0] != '\0') {
        fprintf(stream, "    problem: %s\n", run->problem);
    }
}

/* Those that failed come first. */
static void print_runs(FILE *stream, const struct suite *suite, long step) {
    size_t shown = 0, more = 0;
    for (int failing = 1; failing >= 0; failing--) {
        for (size_t i = 0; i < suite->run_count; i++) {
            const enum record_end end = end_of(&suite->runs[i], step);
            if (end == RECORD_PASS || (end == RECORD_FAIL) != (failing == 1)) {
                continue;
            }
            if (shown < RUNS_SHOWN) {
                print_run(stream, &suite->runs[i], step);
                shown++;
            } else {
                more++;
            }
        }
    }
    if (more > 0) {
        fprintf(stream, "and %zu more run%s\n", more, more == 1 ? "" : "s");
    }
}

void junit_case_make(struct suite *suite, long step, struct junit_case *result) {
    struct standing standing;
    long hits[RECORD_ENDS];
    size_t size = 0;
    *result = (struct junit_case){.severity = JUNIT_GOOD, .type = ""};
    if (!stand(suite, step, &standing, hits)) {
        return;
    }
    say(suite, &standing, hits, step < 0, result);
    FILE *stream = open_memstream(&result->text, &size);
    if (stream == NULL) {
        return;
    }
    if (result->severity != JUNIT_GOOD) {
        print_runs(stream, suite, step);
    }
    if (fclose(stream) != 0) {
        free(result->text);
        result->text = NULL;
    }
}
