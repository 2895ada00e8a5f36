#include "commands/reader_record.h"

#include "base/texts.h"
#include "base/utf8.h"
#include "commands/commands.h"
#include "plan/check.h"
#include "plan/plan_text.h"
#include "record/records.h"
#include "report/json.h"
#include "report/reader_report.h"

#include <sha2.h>
#include <stdlib.h>
#include <string.h>

static const char plan_name[] = "reader", local_station[] = "local";

/* Readers have a plan of their own, so that nobody holds a console's runs against them. */
static char *make_plan(const struct reader_facts *facts, struct record_plan *kept, struct problem *problem) {
    struct plan *plan = plan_new("cartridge", STANDARD_NTSC);
    SHA2_CTX hash;
    if (plan != NULL) { /* not check_plan(): a reader takes what no check's image is made for */
        plan->kind = PLAN_CARTRIDGE;
        plan->check = (struct cart_check){.scheme = (uint8_t)facts->seen->scheme, .ram = facts->seen->ram};
    }
    char *text = plan != NULL ? plan_text(plan) : NULL;
    if (plan != NULL) {
        plan_free(plan);
    }
    if (text == NULL) {
        problem_set(problem, PROBLEM_BENCH, "the record: out of memory; close other programs");
        return NULL;
    }
    *kept = (struct record_plan){
        .name = plan_name, .text = text, .standard = STANDARD_NTSC, .kind = PLAN_CARTRIDGE};
    SHA256Init(&hash);
    SHA256Update(&hash, (const uint8_t *)plan_name, sizeof plan_name);
    SHA256Update(&hash, (const uint8_t *)text, strlen(text));
    SHA256End(&hash, kept->id);
    return text;
}

static enum record_end end_of(const struct reader_facts *facts) {
    static const enum record_end ends[] = {[VERDICT_PASS] = RECORD_PASS,
                                           [VERDICT_FAIL] = RECORD_FAIL,
                                           [VERDICT_INCONCLUSIVE] = RECORD_INCONCLUSIVE};
    return facts->problem != NULL ? RECORD_TROUBLE : ends[facts->result->verdict];
}

static int exit_of(const struct reader_facts *facts) {
    return facts->problem != NULL ? EXIT_BENCH : verdict_exit(facts->result->verdict);
}

static char *settings_of(const struct reader_facts *facts) {
    json_t *faults = facts->faults != NULL ? json_texts(facts->faults) : json_array();
    json_t *json =
        json_pack("{s:s,s:b,s:I,s:o}", "scheme", scheme_name(facts->seen->scheme), "ram",
                  (int)facts->seen->ram, "passes", (json_int_t)facts->seen->passes, "faults", faults);
    char *text = json_dumps(json, JSON_COMPACT);
    json_decref(json);
    return text;
}

static char *blob_of(const struct reader_facts *facts) {
    json_t *json = reader_json(facts->result, facts->limits);
    char *text = json_dumps(json, JSON_COMPACT | JSON_REAL_PRECISION(6));
    json_decref(json);
    return text;
}

static bool put(struct record_run *run, const struct options *options, int64_t *id, struct problem *problem) {
    struct records *records = NULL;
    const bool good =
        records_open(options->store, RECORDS_WRITE, &records, problem) && records_put(records, run, problem);
    records_close(records);
    *id = run->id;
    return good;
}

bool reader_record_keep(const struct reader_facts *facts, const struct options *options, int64_t *id,
                        struct problem *problem) {
    struct record_plan plan;
    struct problem why = {0};
    *id = 0;
    char *text = make_plan(facts, &plan, &why), *settings = settings_of(facts), *json = blob_of(facts);
    bool good = text != NULL && settings != NULL && json != NULL;
    if (good) {
        const struct record_blob blob = {.name = "reader",
                                         .type = "application/json",
                                         .bytes = (const uint8_t *)json,
                                         .size = strlen(json)};
        struct record_run run = {.started_ms = facts->started_ms,
                                 .took_ms = facts->took_ms,
                                 .minutes_on = -1,
                                 .station = options->station != NULL ? options->station : local_station,
                                 .bench = facts->bench,
                                 .console = {facts->bench, "", "", ""},
                                 .cartridge = {facts->way, facts->serial, facts->firmware},
                                 .tool = SLOTJIG_VERSION,
                                 .plan = &plan,
                                 .settings = settings,
                                 .seed = facts->seed,
                                 .has_seed = facts->has_seed,
                                 .command = "reader",
                                 .attempt = 1,
                                 .end = end_of(facts),
                                 .exit = exit_of(facts),
                                 .problem = facts->problem != NULL ? facts->problem : "",
                                 .finding_count = facts->result->finding_count,
                                 .findings = facts->result->findings,
                                 .blob_count = 1,
                                 .blobs = &blob};
        good = put(&run, options, id, &why);
    }
    free(text);
    free(settings);
    free(json);
    return good || problem_set(problem, PROBLEM_BENCH, "the reading was not recorded: %.540s",
                               why.text[0] != '\0' ? why.text : "out of memory; close other programs");
}
