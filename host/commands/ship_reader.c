/* A cartridge on a reader: everything measured, judged within the file's limits, kept as a run. */
#include "base/date.h"
#include "base/output.h"
#include "commands/commands.h"
#include "commands/reader_bench.h"
#include "commands/reader_measure.h"
#include "commands/reader_record.h"
#include "commands/setup.h"
#include "commands/ship_way.h"
#include "report/reader_report.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { WAKE_NEVER_MS = 2000 }; /* not by then */

/* Large, and one at a time. */
struct ship_reading {
    struct setup setup; /* its image is that of plan cartridge */
    struct bench_settings settings;
    struct reader_bench bench;
    struct reader_order order;
    struct reader_seen seen;
    struct reader_limits limits;
    struct reader_result result;
    const uint8_t *image;
};

/* ---- what is measured with ---- */

/* A virtual bench's others are of its console and its video. */
static void keep_cartridge_faults(struct options *wanted) {
    int kept = 0;
    for (int i = 0; i < wanted->fault_count; i++) {
        if (strncmp(wanted->faults[i], "cart-", 5) == 0) {
            wanted->faults[kept++] = wanted->faults[i];
        }
    }
    wanted->fault_count = kept;
    wanted->impairment_count = 0;
    wanted->noise_given = false;
    wanted->grabber = NULL;
}

/* --reader; else a virtual bench has one too; else the only one on USB. */
static bool find_bench(const struct options *options, struct ship_reading *reading, struct problem *problem) {
    struct options wanted = *options;
    struct bench_settings bench;
    wanted.serial = NULL; /* a cartridge's here, not a device */
    keep_cartridge_faults(&wanted);
    if (options->reader == NULL && !setup_bench(&bench, &wanted, problem)) {
        return false;
    }
    wanted.wants_reader = true;
    if (options->reader != NULL) {
        wanted.bench = options->reader;
    } else if (bench.kind == BENCH_VIRTUAL) {
        wanted.bench = options->bench != NULL ? options->bench : "virtual";
    } else {
        wanted.bench = NULL;
    }
    return setup_bench(&reading->settings, &wanted, problem);
}

/* What should be on it: the maker's own image, else the check's, made as for the console. */
static bool find_image(const struct options *options, const struct ship_plan *plan,
                       struct ship_reading *reading, struct problem *problem) {
    struct options wanted = *options;
    if (plan->bytes != NULL) {
        reading->image = plan->bytes;
        return true;
    }
    wanted.serial = NULL;
    wanted.plan = "cartridge";
    wanted.scheme = scheme_name(plan->scheme);
    wanted.ram = plan->ram;
    wanted.standard = plan->standard;
    wanted.standard_given = true;
    if (!setup_make(&reading->setup, &wanted, problem)) {
        return false;
    }
    reading->image = reading->setup.image->bytes;
    return true;
}

static struct reader_limits limits_of(const struct ship_plan *plan) {
    struct reader_limits limits;
    reader_limits_default(&limits);
    /* The narrower of the two: a margin is what is left of the console's own time. */
    limits.access_ns = fmin(plan->limit[SHIP_ACCESS], SHIP_ACCESS_NS - plan->limit[SHIP_MARGIN]);
    limits.margin_ns = 0;
    limits.release_ns = plan->limit[SHIP_RELEASE];
    limits.wake_ms = plan->limit[SHIP_WAKE];
    limits.differing = (uint32_t)plan->limit[SHIP_DIFFERING];
    return limits;
}

/* ---- what came of it ---- */

static void take_figures(const struct reader_result *result, const struct ship_plan *plan,
                         struct ship_seen *seen) {
    const bool timed = result->mapped > 0;
    const double slowest = result->slowest_ns;
    struct ship_figure *to = seen->figures;
    *to++ = ship_figure_of(plan, SHIP_ACCESS, timed, slowest);
    *to++ = ship_figure_of(plan, SHIP_MARGIN, timed, SHIP_ACCESS_NS - slowest);
    *to++ = ship_figure_of(plan, SHIP_RELEASE, result->release_known, result->release_ns);
    *to++ = ship_figure_of(plan, SHIP_WAKE, result->wake_known,
                           result->wake_never ? WAKE_NEVER_MS : result->wake_ms);
    to[-1].within = to[-1].within && !result->wake_never;
    *to++ = ship_figure_of(plan, SHIP_DIFFERING, result->passes > 0, result->differing);
    seen->figure_count = (size_t)(to - seen->figures);
}

static enum record_end end_of(enum verdict verdict) {
    return verdict == VERDICT_PASS   ? RECORD_PASS
           : verdict == VERDICT_FAIL ? RECORD_FAIL
                                     : RECORD_INCONCLUSIVE;
}

static void take_result(const struct ship_reading *reading, const struct ship_plan *plan,
                        const struct problem *lost, struct ship_seen *seen) {
    const struct reader_result *result = &reading->result;
    seen->end = lost != NULL ? RECORD_TROUBLE : end_of(result->verdict);
    if (lost != NULL) {
        snprintf(seen->problem, sizeof seen->problem, "%s", lost->text);
        command_refuse(lost); /* as a run in a console says it */
        return;
    }
    take_figures(result, plan, seen);
    seen->finding_count = result->finding_count;
    memcpy(seen->findings, result->findings, result->finding_count * sizeof *result->findings);
}

static bool write_folder(const struct options *options, const struct ship_reading *reading,
                         struct problem *problem) {
    char folder[4096];
    if (options->out == NULL) {
        return true;
    }
    const int length = snprintf(folder, sizeof folder, "%s/reader", options->out);
    if (length < 0 || (size_t)length >= sizeof folder) {
        return problem_set(problem, PROBLEM_INPUT, "--out %.80s...: the path is too long", options->out);
    }
    return output_folder(folder, problem) && reader_write(&reading->seen, reading->image, &reading->result,
                                                          &reading->limits, options->serial, folder, problem);
}

static void keep(const struct options *options, const struct ship_reading *reading,
                 const struct problem *lost, int64_t started_ms, struct ship_seen *seen) {
    struct problem problem = {0};
    const struct reader_facts facts = {.bench = reading->settings.name,
                                       .way = reading->bench.transport != NULL ? reading->bench.transport
                                                                               : "none",
                                       .serial = options->serial,
                                       .firmware = "",
                                       .faults = &reading->settings.faults,
                                       .seen = &reading->seen,
                                       .result = &reading->result,
                                       .limits = &reading->limits,
                                       .problem = lost != NULL ? lost->text : NULL,
                                       .started_ms = started_ms,
                                       .took_ms = date_now_ms() - started_ms,
                                       .seed = reading->settings.options.seed,
                                       .has_seed = reading->settings.kind == BENCH_VIRTUAL};
    if ((!reader_record_keep(&facts, options, &seen->run, &problem) ||
         (lost == NULL && !write_folder(options, reading, &problem)))) {
        seen->end = RECORD_TROUBLE;
        snprintf(seen->problem, sizeof seen->problem, "%s", problem.text);
    }
}

/* ---- all of it ---- */

static bool measure(struct ship_reading *reading, const struct ship_plan *plan, struct problem *lost,
                    struct problem *problem) {
    uint64_t chip_us = 0;
    if (!reader_bench_open(&reading->bench, &reading->settings, plan->scheme, plan->ram, reading->image,
                           lost)) {
        if (lost->kind == PROBLEM_INPUT) {
            *problem = *lost;
            return false;
        }
        return true;
    }
    /* An overload is the cartridge's own doing, which the verdict names. */
    if (reader_measure(reading->bench.link, &reading->order, &reading->seen, &chip_us, lost) ||
        reading->seen.overload) {
        lost->kind = PROBLEM_NONE;
    }
    return true;
}

static bool carry_out(const struct options *options, const struct ship_plan *plan,
                      struct ship_reading *reading, struct ship_seen *seen, struct problem *problem) {
    struct problem lost = {0};
    const int64_t started_ms = date_now_ms();
    if (!find_bench(options, reading, problem) || !find_image(options, plan, reading, problem)) {
        return false;
    }
    reading->limits = limits_of(plan);
    reader_order_all(plan->scheme, plan->ram, reading->image, &reading->order);
    reading->seen.scheme = plan->scheme;
    reading->seen.ram = plan->ram;
    if (!measure(reading, plan, &lost, problem)) {
        return false;
    }
    const struct problem *why = lost.kind != PROBLEM_NONE ? &lost : NULL;
    reader_judge(&reading->seen, reading->image, &reading->limits, &reading->result);
    if (why != NULL) {
        reading->result.finding_count = 0; /* what was broken off says nothing of the cartridge */
    }
    take_result(reading, plan, why, seen);
    keep(options, reading, why, started_ms, seen);
    return true;
}

bool ship_reader(const struct options *options, const struct ship_plan *plan, struct ship_seen *seen,
                 struct problem *problem) {
    struct ship_reading *reading = calloc(1, sizeof *reading);
    *seen = (struct ship_seen){.end = RECORD_TROUBLE};
    if (reading == NULL) {
        snprintf(seen->problem, sizeof seen->problem, "out of memory for a reading; close other programs");
        return true;
    }
    const bool good = carry_out(options, plan, reading, seen, problem);
    reader_bench_close(&reading->bench);
    setup_free(&reading->setup);
    free(reading);
    return good;
}

bool ship_reader_ready(const struct options *options, const struct ship_plan *plan, struct problem *problem) {
    struct ship_reading *reading = calloc(1, sizeof *reading);
    if (reading == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for a reading; close other programs");
    }
    const bool good = find_bench(options, reading, problem) && find_image(options, plan, reading, problem);
    setup_free(&reading->setup);
    free(reading);
    return good;
}
