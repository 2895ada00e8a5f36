#include "commands/commands.h"

#include "base/output.h"
#include "commands/baseline_differ.h"
#include "commands/compare_records.h"
#include "commands/difference.h"
#include "commands/outcome.h"
#include "report/json.h"
#include "verdict/moments_differ.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TAKES (TAKES_JSON | TAKES_OPERANDS | TAKES_STORE | TAKES_CHOOSE | TAKES_GROUPS)

static int help(void) {
    printf(
        "usage: slotjig compare [options] FIRST.json SECOND.json\n"
        "       slotjig compare [options] --console NAME\n"
        "       slotjig compare [options] --revision TEXT\n"
        "       slotjig compare [options] --group KIND:TEXT --group KIND:TEXT\n\n"
        "Holds two results of plan moments, or two of plan colours, against each other: two consoles, or "
        "one before and\n"
        "after. A clock differs beyond %.2f, a level beyond %.2f of the black-white distance, a hue beyond "
        "%.0f degrees, and\n"
        "each beyond %d sigma of both measurements where that is more. With --out: difference.txt, "
        "difference.csv and\n"
        "difference.svg.\n\n"
        "--console: its records since its baseline was made (at most the latest %d) against that baseline, "
        "its own or else\n"
        "its revision's (`slotjig baseline`): what is new, gone or drifts. --last N: its latest N; --since "
        "DATE: all since.\n"
        "--revision: likewise each console of that revision.\n"
        "--group, twice: which quantity of which step tells two groups of consoles best apart.\n\n",
        MOMENTS_CLOCK_BOUND, PALETTE_LEVEL_BOUND, PALETTE_HUE_BOUND, PALETTE_SIGMAS, BASELINE_DIFFER_LAST);
    options_help(TAKES);
    printf(
        "\nexit: 0 nothing differs beyond the bounds (records: nothing is worse), 1 something does (is), 2 "
        "wrong usage or\ninput, no such console or baseline, 3 disk or memory, 4 nothing to compare "
        "(records: not known)\n");
    return EXIT_PASS;
}

static int status_of(const struct difference *difference) {
    return difference->differing > 0 ? EXIT_FAIL : difference->compared == 0 ? EXIT_INCONCLUSIVE : EXIT_PASS;
}

static json_t *result_json(const struct difference *difference) {
    char first[1024], second[1024];
    json_clean(difference->names[0], first, sizeof first);
    json_clean(difference->names[1], second, sizeof second);
    return json_pack("{s:s,s:s,s:s,s:s,s:s,s:i,s:o}", "command", "compare", "plan",
                     difference_plan(difference), "standard",
                     standard_table[difference->sides[0]->standard].name, "first", first, "second", second,
                     "exit", status_of(difference), "difference", difference_json(difference));
}

static bool tell(const struct difference *difference, const struct options *options,
                 struct problem *problem) {
    if (!options->quiet) {
        difference_text(options_people(options), difference);
    }
    if (options->json != NULL && !json_write(result_json(difference), options->json, problem)) {
        return false;
    }
    return options->out == NULL || difference_write(difference, options->out, problem);
}

static int compare(const struct options *options, struct difference *difference) {
    struct problem problem = {0};
    struct measured first = {0}, second = {0};
    const char *const *files = (const char *const *)options->operands;
    const bool good = output_ready(options->json, &problem) && measured_read(files[0], &first, &problem) &&
                      measured_read(files[1], &second, &problem) &&
                      difference_make(&first, files[0], &second, files[1], difference, &problem) &&
                      (options->out == NULL || output_folder(options->out, &problem)) &&
                      tell(difference, options, &problem);
    const int status = good ? status_of(difference) : command_refuse(&problem);
    measured_free(&first);
    measured_free(&second);
    return status;
}

/* Options that choose records mean nothing of files. */
static bool chooses_records(const struct options *options) {
    return options->console != NULL || options->group_count > 0 || options->revision != NULL ||
           options->of_plan != NULL || options->of_bench != NULL || options->station != NULL ||
           options->since != NULL || options->until != NULL || options->last != 0 || options->store != NULL;
}

int command_compare(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    const bool records = options.operand_count == 0 && options.out == NULL;
    if (records && options.group_count == 2) {
        return compare_groups(&options);
    }
    const bool against_baseline = options.console != NULL || options.revision != NULL;
    if (against_baseline && (options.of_bench != NULL || options.station != NULL)) {
        problem_set(&problem, PROBLEM_INPUT,
                    "compare --console, --revision: runs on every bench count; leave out --of-bench and "
                    "--station");
        return command_refuse(&problem);
    }
    if (records && options.group_count == 0 && against_baseline) {
        return compare_with_baseline(&options);
    }
    if (options.operand_count != 2 || chooses_records(&options)) {
        problem_set(&problem, PROBLEM_INPUT,
                    "compare: name two JSON results (and no records), or a console with --console, or a "
                    "revision with --revision, or two groups "
                    "with --group twice (and no --out); see `slotjig compare --help`");
        return command_refuse(&problem);
    }
    struct difference *difference = calloc(1, sizeof *difference);
    if (difference == NULL) {
        problem_set(&problem, PROBLEM_BENCH, "compare: out of memory");
        return command_refuse(&problem);
    }
    const int status = compare(&options, difference);
    free(difference);
    return status;
}
