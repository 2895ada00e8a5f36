/* A cartridge in a console: plan `cartridge`, run as `run` does it, and read back from the store. */
#include "commands/commands.h"
#include "commands/run_once.h"
#include "commands/setup.h"
#include "commands/ship_way.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What the run's blob says of its rounds. */
static void take_rounds(const struct record_run *run, const struct ship_plan *plan, struct ship_seen *seen) {
    const struct record_blob *blob = NULL;
    for (size_t i = 0; i < run->blob_count; i++) {
        blob = strcmp(run->blobs[i].name, "cartridge") == 0 ? &run->blobs[i] : blob;
    }
    json_t *json = blob != NULL ? json_loadb((const char *)blob->bytes, blob->size, 0, NULL) : NULL;
    const json_t *errors = json_object_get(json, "errors");
    const double count = json_number_value(json_object_get(json, "rounds"));
    /* Too few of them say nothing of the cartridge: they were not watched, or not read. */
    const bool enough = count >= plan->rounds;
    seen->figures[seen->figure_count++] = (struct ship_figure){.name = "rounds",
                                                               .unit = "",
                                                               .value = enough ? count : 0,
                                                               .limit = plan->rounds,
                                                               .known = enough,
                                                               .at_least = true,
                                                               .within = enough};
    if (plan->soak_min > 0) {
        seen->figures[seen->figure_count++] =
            ship_figure_of(plan, SHIP_SOAK_ERRORS, json_is_number(errors), json_number_value(errors));
    }
    json_decref(json);
}

/* Errors that came and went, and no more of them in the soak than its limit allows: those the limits file
 * takes for good. What stays wrong has another finding. */
static void allow_errors(const struct ship_plan *plan, struct ship_seen *seen) {
    const struct ship_figure *errors = &seen->figures[seen->figure_count - 1];
    bool allowed = seen->end == RECORD_FAIL && plan->soak_min > 0 && errors->within && errors->value > 0;
    for (size_t i = 0; i < seen->finding_count && allowed; i++) {
        const enum finding_kind kind = seen->findings[i].kind;
        allowed =
            kind == FINDING_CART_CONTACT || (kind == FINDING_CART_SLOW && seen->findings[i].alternative);
    }
    if (allowed) {
        seen->end = RECORD_PASS;
        seen->finding_count = 0;
    }
}

static void take_run(const struct record_run *run, const struct ship_plan *plan, struct ship_seen *seen) {
    seen->end = run->end;
    snprintf(seen->problem, sizeof seen->problem, "%s", run->problem);
    seen->finding_count = run->finding_count < FINDINGS_MAX ? run->finding_count : FINDINGS_MAX;
    if (seen->finding_count > 0) {
        memcpy(seen->findings, run->findings, seen->finding_count * sizeof *run->findings);
    }
    if (run->end != RECORD_TROUBLE) {
        take_rounds(run, plan, seen);
        allow_errors(plan, seen);
    }
}

static bool read_back(const struct options *options, int64_t id, const struct ship_plan *plan,
                      struct ship_seen *seen, struct problem *problem) {
    struct records *records = NULL;
    struct record_run *run = NULL;
    const bool good =
        records_open(options->store, RECORDS_READ, &records, problem) &&
        records_run(records, id, RECORDS_FINDINGS | RECORDS_BLOBS | RECORDS_PLAN, &run, problem);
    if (good) {
        take_run(run, plan, seen);
    }
    record_free(run);
    records_close(records);
    return good;
}

/* What `run` is asked for. */
static struct options options_of(const struct options *options, const struct ship_plan *plan) {
    struct options run = *options;
    run.plan = "cartridge";
    run.scheme = scheme_name(plan->scheme);
    run.ram = plan->ram;
    run.cartridge = options->serial;
    run.serial = NULL; /* of a serial device there */
    run.json = run.html = NULL;
    run.quiet = true;
    run.soak_told = true;
    run.rounds = plan->soak_min > 0 ? -1 : plan->rounds;
    run.for_minutes = plan->soak_min;
    run.standard = plan->standard;
    run.standard_given = true;
    return run;
}

bool ship_console_ready(const struct options *options, const struct ship_plan *plan,
                        struct problem *problem) {
    struct setup *setup = calloc(1, sizeof *setup);
    const struct options run = options_of(options, plan);
    const bool good = setup != NULL ? setup_make(setup, &run, problem)
                                    : problem_set(problem, PROBLEM_BENCH, "ship: out of memory");
    if (setup != NULL) {
        setup_free(setup);
    }
    free(setup);
    return good;
}

bool ship_console(const struct options *options, const struct ship_plan *plan, struct ship_seen *seen,
                  struct problem *problem) {
    struct options run = options_of(options, plan);
    int64_t id = 0;
    const struct run_place place = {.attempt = 1, .minutes_on = -1, .run = &id};
    char folder[4096];
    *seen = (struct ship_seen){.end = RECORD_TROUBLE};
    if (options->out != NULL) {
        const int length = snprintf(folder, sizeof folder, "%s/console", options->out);
        if (length < 0 || (size_t)length >= sizeof folder) {
            return problem_set(problem, PROBLEM_INPUT, "--out %.80s...: the path is too long", options->out);
        }
        run.out = folder;
    }
    const int status = run_once(&run, &place);
    if (id != 0) {
        struct problem why = {0};
        seen->run = id;
        if (!read_back(options, id, plan, seen, &why)) {
            snprintf(seen->problem, sizeof seen->problem, "%s", why.text);
        }
        return true;
    }
    if (status == EXIT_INPUT) {
        problem_set(problem, PROBLEM_INPUT, "%s", ""); /* it has said why */
        return false;
    }
    snprintf(seen->problem, sizeof seen->problem, "the console's check left no record");
    return true;
}
