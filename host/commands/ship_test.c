/* A cartridge is tested: first what is known of it already, then each way that the limits file asks for, then
 * the record, then page and JSON. */
#include "base/date.h"
#include "base/output.h"
#include "base/stop.h"
#include "commands/choice.h"
#include "commands/commands.h"
#include "commands/person.h"
#include "commands/ship.h"
#include "commands/ship_way.h"
#include "commands/soak.h"
#include "report/html.h"
#include "report/json.h"
#include "report/ship_json.h"

#include <stdlib.h>
#include <string.h>

enum { PERSON_MS = 3600000, PATH_SIZE = 4096 };

struct testing {
    const struct options *options;
    struct ship_plan plan;
    struct ship_list earlier;
    struct ship_seen console, reader;
    bool console_done, reader_done;
    struct finding findings[2 * FINDINGS_MAX];
    struct ship ship;
};

/* ---- before ---- */

/* Known before anything is shown or switched on: a store that cannot be written, and what it has of the
 * serial. */
static bool look_up(struct testing *testing, struct problem *problem) {
    struct records *records = NULL;
    const bool good = records_open(testing->options->store, RECORDS_WRITE, &records, problem) &&
                      records_ships(records, testing->options->serial, NULL, &testing->earlier, problem);
    records_close(records);
    return good;
}

/* A fail or a pass is not overtaken by accident; what ended without a verdict needs no leave to be tried
 * again. */
static bool may_test(const struct testing *testing, struct problem *problem) {
    const struct ship *last = NULL;
    size_t verdicts = 0;
    for (size_t i = 0; i < testing->earlier.count; i++) {
        if (ship_is_verdict(testing->earlier.ships[i])) {
            last = testing->earlier.ships[i];
            verdicts++;
        }
    }
    if (last == NULL || testing->options->again) {
        return true;
    }
    char when[DATE_TEXT_MAX];
    return problem_set(
        problem, PROBLEM_INPUT,
        "--serial %.64s: has %zu verdict%s, the last %s on %s UTC%s%.64s; is it the right serial? --again "
        "tests it once more, and keeps them all",
        last->serial, verdicts, verdicts == 1 ? "" : "s", record_end_name(last->end),
        date_text(last->started_ms, DATE_MINUTE, when), last->lot[0] != '\0' ? " in lot " : "", last->lot);
}

static void tell_known(const struct testing *testing) {
    FILE *stream = options_people(testing->options);
    if (testing->earlier.count > 0 && !testing->options->quiet) {
        fprintf(stream, "seen before:\n");
        ship_tell_earlier(stream, &testing->earlier);
        fputs("\n", stream);
    }
}

static bool folder_path(const struct options *options, const char *name, char path[PATH_SIZE],
                        struct problem *problem) {
    const int length = snprintf(path, PATH_SIZE, "%s/%s", options->out, name);
    return (length > 0 && length < PATH_SIZE) ||
           problem_set(problem, PROBLEM_INPUT, "--out %.80s...: the path is too long", options->out);
}

/* What the test is made from is never written over. */
static bool spares(const struct testing *testing, const char *path, struct problem *problem) {
    const struct options *options = testing->options;
    const char *const worth[] = {options->limits, testing->plan.image, options->benches, options->store};
    return output_spares(path, worth, sizeof worth / sizeof worth[0], problem);
}

static bool outputs_ready(const struct testing *testing, struct problem *problem) {
    const struct options *options = testing->options;
    char path[PATH_SIZE];
    if (option_is_dash(options->html) && option_is_dash(options->json)) {
        return problem_set(problem, PROBLEM_INPUT, "standard output can take one format; name files");
    }
    if (output_same(options->html, options->json)) {
        return problem_set(problem, PROBLEM_INPUT, "%s: page and result need a file each", options->html);
    }
    return spares(testing, options->html, problem) && spares(testing, options->json, problem) &&
           output_ready(options->json, problem) && output_ready(options->html, problem) &&
           (options->out == NULL ||
            (output_folder(options->out, problem) && folder_path(options, "box.html", path, problem)));
}

/* ---- between two ways ---- */

static bool is_virtual(const char *bench) {
    return bench == NULL || strcmp(bench, "virtual") == 0;
}

/* A person, or a program at the other end of a pipe, carries it over. */
static bool carry_over(const struct testing *testing, bool to_reader, struct ship_seen *next) {
    const struct options *options = testing->options;
    if (is_virtual(options->bench) && is_virtual(options->reader)) {
        return true;
    }
    fprintf(stderr,
            "Switch off, take the cartridge out, put %s on it where that is not there yet, put it %s.\n"
            "Then press Enter: ",
            to_reader && testing->plan.image[0] != '\0' ? testing->plan.image : "the check's image",
            to_reader ? "on the reader (its supply is off)" : "into the console, and switch that on");
    fflush(stderr);
    if (person_answered(PERSON_MS)) {
        return true;
    }
    snprintf(next->problem, sizeof next->problem, "nobody said that the cartridge is %s",
             to_reader ? "on the reader" : "in the console");
    next->end = RECORD_TROUBLE;
    return false;
}

/* ---- the ways ---- */

static void tell_way(const struct testing *testing, const char *name, const struct ship_seen *seen) {
    if (!testing->options->quiet) {
        fprintf(options_people(testing->options), "%s: %s\n", name, record_end_name(seen->end));
    }
}

/* The first way's test is not lost by what the second is refused for: one reader too many on USB, say. */
static bool keep_refusal(struct ship_seen *seen, bool to_reader, struct problem *problem) {
    *seen = (struct ship_seen){.end = RECORD_TROUBLE};
    if (problem->text[0] != '\0') {
        command_refuse(problem);
        snprintf(seen->problem, sizeof seen->problem, "%s", problem->text);
    } else {
        snprintf(seen->problem, sizeof seen->problem, "the %s could not begin",
                 to_reader ? "reader" : "console's check");
    }
    *problem = (struct problem){0};
    return true;
}

static bool test_way(struct testing *testing, bool to_reader, struct problem *problem) {
    const struct ship_plan *plan = &testing->plan;
    struct ship_seen *seen = to_reader ? &testing->reader : &testing->console;
    const bool second = testing->console_done || testing->reader_done;
    *(to_reader ? &testing->reader_done : &testing->console_done) = true;
    if (second && !carry_over(testing, to_reader, seen)) {
        return true;
    }
    if (!to_reader && plan->soak_min > 0) {
        soak_tell(stderr, plan->soak_min);
    }
    if (!(to_reader ? ship_reader : ship_console)(testing->options, plan, seen, problem)) {
        return second && keep_refusal(seen, to_reader, problem);
    }
    tell_way(testing, to_reader ? "reader" : "console", seen);
    return true;
}

/* Found out before the first way, which may take hours. */
static bool ways_ready(const struct testing *testing, struct problem *problem) {
    const struct ship_plan *plan = &testing->plan;
    return (!plan->console || ship_console_ready(testing->options, plan, problem)) &&
           (!plan->reader || ship_reader_ready(testing->options, plan, problem));
}

/* False: nothing was tested. Whatever became of one way, the other one may say why; but a person who stops it
 * has stopped all of it. */
static bool test(struct testing *testing, struct problem *problem) {
    const struct ship_plan *plan = &testing->plan;
    for (int i = 0; i < 2 && !stop_asked(); i++) {
        const bool to_reader = (i == 1) != plan->reader_first;
        if ((to_reader ? plan->reader : plan->console) && !test_way(testing, to_reader, problem)) {
            return false;
        }
    }
    return true;
}

/* ---- after ---- */

/* Two who test one serial at once: neither was shown the other's. */
static void tell_meanwhile(const struct testing *testing) {
    const int others = testing->ship.attempt - 1 - (int)testing->earlier.count;
    if (others > 0) {
        fprintf(stderr,
                "slotjig: note: %d more test%s of this serial came on record meanwhile; is it the right "
                "serial? `slotjig ship --serial` shows them\n",
                others, others == 1 ? "" : "s");
    }
}

static bool keep(struct testing *testing, struct problem *problem) {
    struct records *records = NULL;
    struct problem why = {0};
    const bool good = records_open(testing->options->store, RECORDS_WRITE, &records, &why) &&
                      records_put_ship(records, &testing->ship, &why);
    records_close(records);
    if (good) {
        tell_meanwhile(testing);
    }
    return good || problem_set(problem, PROBLEM_BENCH,
                               "the test was not recorded, so it does not count: %.500s", why.text);
}

static json_t *result_json(const struct testing *testing) {
    json_t *json = ship_json(&testing->ship);
    json_object_set_new(json, "earlier", ship_list_json(&testing->earlier));
    return json;
}

/* Where it is not on record there is no page to go into a box. */
static bool write_all(const struct testing *testing, bool kept, struct problem *problem) {
    const struct options *options = testing->options;
    char path[PATH_SIZE];
    return (options->json == NULL || json_write(result_json(testing), options->json, problem)) &&
           (!kept || options->html == NULL || html_write_ship(options->html, &testing->ship, problem)) &&
           (!kept || options->out == NULL ||
            (folder_path(options, "box.html", path, problem) &&
             html_write_ship(path, &testing->ship, problem)));
}

static int exit_of(enum record_end end) {
    static const int exits[RECORD_ENDS] = {EXIT_PASS, EXIT_FAIL, EXIT_INCONCLUSIVE, EXIT_BENCH};
    return exits[end];
}

/* Less was tested than was asked for: no pass, whatever passed until then. */
static void note_stop(struct ship *ship) {
    if (stop_asked()) {
        ship->end = ship->end == RECORD_FAIL ? RECORD_FAIL : RECORD_TROUBLE;
        ship->problem = ship->problem[0] != '\0' ? ship->problem : "a person stopped it before it was done";
    }
}

static int conclude(struct testing *testing) {
    struct problem unkept = {0}, problem = {0};
    const struct options *options = testing->options;
    ship_judge(testing->console_done ? &testing->console : NULL,
               testing->reader_done ? &testing->reader : NULL, &testing->plan, testing->findings,
               &testing->ship);
    note_stop(&testing->ship);
    const bool kept = keep(testing, &unkept);
    if (!options->quiet && !option_is_dash(options->html)) {
        ship_tell(options_people(options), &testing->ship);
    }
    const bool good = write_all(testing, kept, &problem);
    const int status = exit_of(testing->ship.end);
    return !kept ? command_refuse(&unkept) : !good ? command_refuse(&problem) : status;
}

static int carry_out(struct testing *testing) {
    struct problem problem = {0};
    const struct options *options = testing->options;
    const bool ready = ship_plan_read(options->limits, &testing->plan, &problem) &&
                       outputs_ready(testing, &problem) && ways_ready(testing, &problem) &&
                       look_up(testing, &problem);
    if (!ready) {
        return command_refuse(&problem);
    }
    tell_known(testing);
    testing->ship = (struct ship){.started_ms = date_now_ms(),
                                  .serial = options->serial,
                                  .lot = options->lot != NULL ? options->lot : "",
                                  .limits = testing->plan.text,
                                  .tool = SLOTJIG_VERSION,
                                  .problem = ""};
    if (!may_test(testing, &problem)) {
        return command_refuse(&problem);
    }
    stop_catch(); /* what was seen until then is kept */
    const bool tested = test(testing, &problem);
    const int status = tested                    ? conclude(testing)
                       : problem.text[0] != '\0' ? command_refuse(&problem)
                                                 : EXIT_INPUT;
    stop_release();
    return status;
}

int ship_test(const struct options *options) {
    struct testing *testing = calloc(1, sizeof *testing);
    struct problem problem = {0};
    if (testing == NULL) {
        problem_set(&problem, PROBLEM_BENCH, "ship: out of memory");
        return command_refuse(&problem);
    }
    testing->options = options;
    const int status = carry_out(testing);
    ship_plan_free(&testing->plan);
    ship_list_free(&testing->earlier);
    free(testing);
    return status;
}
