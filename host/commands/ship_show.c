/* What is on record of tested cartridges: a serial, a lot, or all of them. */
#include "base/output.h"
#include "commands/choice.h"
#include "commands/commands.h"
#include "commands/ship.h"
#include "record/lot.h"
#include "report/html.h"
#include "report/json.h"
#include "report/ship_json.h"
#include "report/table.h"

#include <string.h>

/* ---- a lot ---- */

/* By what is named first of each, which adds up to all that failed; and by what is named at all. */
static void tell_causes(FILE *stream, const struct lot *lot) {
    static const char *const heads[] = {"cause", ">named first", ">named", NULL};
    struct table table;
    if (lot->cause_count == 0) {
        return;
    }
    table_begin(&table, heads);
    for (size_t i = 0; i < lot->cause_count; i++) {
        table_add(&table, "%s", lot->causes[i].name);
        table_add(&table, "%zu", lot->causes[i].first);
        table_add(&table, "%zu", lot->causes[i].any);
    }
    table_end(&table, stream);
}

static void tell_lot(FILE *stream, const struct lot *lot) {
    fprintf(stream,
            "%zu cartridges, %zu tests: %zu passed, %zu failed, %zu inconclusive, %zu bench trouble\n",
            lot->count, lot->tests, lot->passed, lot->by_end[RECORD_FAIL], lot->by_end[RECORD_INCONCLUSIVE],
            lot->by_end[RECORD_TROUBLE]);
    if (lot->rehearsed > 0) {
        fprintf(stream, "%zu of these tests rehearsed on a virtual bench: no cartridge was tested\n",
                lot->rehearsed);
    }
    if (lot->tested == 0) {
        return;
    }
    fprintf(stream,
            "yield %.1f %% (95 %%: %.1f to %.1f %%); at the first verdict %.1f %% (%.1f to %.1f %%)\n",
            100.0 * (double)lot->passed / (double)lot->tested, 100 * lot->yield.low, 100 * lot->yield.high,
            100.0 * (double)lot->first_passed / (double)lot->tested, 100 * lot->first_yield.low,
            100 * lot->first_yield.high);
    tell_causes(stream, lot);
}

static bool show_lot(const struct options *options, const struct ship_list *list, struct problem *problem) {
    struct lot *lot = lot_make(list);
    const char *name = options->lot != NULL ? options->lot : "";
    if (lot == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "ship: out of memory for a lot of %zu tests", list->count);
    }
    if (!options->quiet && !option_is_dash(options->html)) {
        tell_lot(options_people(options), lot);
    }
    const bool good = (options->json == NULL || json_write(lot_json(name, lot), options->json, problem)) &&
                      (options->html == NULL || html_write_lot(options->html, name, lot, problem));
    lot_free(lot);
    return good;
}

/* ---- a serial, or the list ---- */

/* The page for the box is that of the last test with a verdict. */
static const struct ship *for_the_box(const struct ship_list *list) {
    const struct ship *ship = list->ships[list->count - 1];
    for (size_t i = 0; i < list->count; i++) {
        ship = ship_is_verdict(list->ships[i]) || !ship_is_verdict(ship) ? list->ships[i] : ship;
    }
    return ship;
}

static bool show_tests(const struct options *options, const struct ship_list *list, struct problem *problem) {
    if (!options->quiet && !option_is_dash(options->html)) {
        ship_tell_earlier(options_people(options), list);
    }
    return (options->json == NULL || json_write(ship_list_json(list), options->json, problem)) &&
           (options->html == NULL || html_write_ship(options->html, for_the_box(list), problem));
}

static bool nothing(const struct options *options, struct problem *problem) {
    return options->serial != NULL
               ? problem_set(problem, PROBLEM_INPUT,
                             "--serial %.64s: no test of it is on record; add --limits FILE to test it",
                             options->serial)
           : options->lot != NULL
               ? problem_set(problem, PROBLEM_INPUT,
                             "--lot %.64s: no test of it is on record; `slotjig ship --list` "
                             "lists what there is",
                             options->lot)
               : problem_set(problem, PROBLEM_INPUT,
                             "ship: no cartridge was tested yet; give --serial and --limits");
}

static bool show(const struct options *options, struct problem *problem) {
    struct records *records = NULL;
    struct ship_list list = {0};
    bool good = choice_open(options, &records, problem) &&
                records_ships(records, options->serial, options->lot, &list, problem) &&
                (list.count > 0 || nothing(options, problem));
    records_close(records);
    good = good && (options->lot != NULL && options->serial == NULL && !options->list
                        ? show_lot(options, &list, problem)
                        : show_tests(options, &list, problem));
    ship_list_free(&list);
    return good;
}

int ship_show(const struct options *options) {
    struct problem problem = {0};
    if (options->list && options->serial == NULL && options->html != NULL) {
        problem_set(&problem, PROBLEM_INPUT,
                    "ship: a page is about a serial or a lot; --list has none: leave it or "
                    "--html out");
        return command_refuse(&problem);
    }
    if (option_is_dash(options->html) && option_is_dash(options->json)) {
        problem_set(&problem, PROBLEM_INPUT, "standard output can take one format; name files");
        return command_refuse(&problem);
    }
    if (output_same(options->html, options->json)) {
        problem_set(&problem, PROBLEM_INPUT, "%s: page and result need a file each", options->html);
        return command_refuse(&problem);
    }
    const bool good = output_ready(options->json, &problem) && output_ready(options->html, &problem) &&
                      show(options, &problem);
    return good ? EXIT_PASS : command_refuse(&problem);
}
