#include "commands/ship.h"

#include "base/utf8.h"
#include "commands/commands.h"
#include "plan/ship_plan.h"

#include <stdio.h>
#include <string.h>

static const uint64_t takes = TAKES_SHIP | TAKES_VIRTUAL | TAKES_BENCH | TAKES_HOLD | TAKES_FLASHING |
                              TAKES_JSON | TAKES_OUT | TAKES_LIVE | TAKES_THREADS | TAKES_STORE;

/* As in ship_plan.h. */
static void help_limits(void) {
    printf("The limits file is INI; here with what counts where a line is left out:\n\n"
           "  [ship]\n"
           "  scheme = F8                2K, 4K, F8, F6 or F4: must be there\n"
           "  ram = no                   yes: with 128 bytes of RAM\n"
           "  ways = console, reader     in the order of testing; or one of them\n"
           "  product = NAME             for the pages (no name)\n"
           "  standard = ntsc            of the console: ntsc, pal, secam\n"
           "  image = FILE               what is on it when the reader looks, beside this file (the check's "
           "image)\n"
           "  rounds = 2                 of the console's check, at least\n"
           "  soak = 0                   minutes that the console goes on checking\n"
           "  [limits]\n");
    for (int i = 0; i < SHIP_LIMITS; i++) {
        const struct ship_limit_about *about = &ship_limit_table[i];
        char left[40];
        snprintf(left, sizeof left, "%s = %g", about->key, about->usual);
        printf("  %-26s %s %s%s%s; %.9g to %.9g\n", left, about->at_least ? "least" : "most",
               about->unit[0] != '\0' ? about->unit : "", about->unit[0] != '\0' ? " " : "", about->about,
               about->least, about->most);
    }
    printf("\nA key that is not known, out of its range, or of a way that is not asked for, and soak_errors\n"
           "without soak, are refused before anything is tested.\n\n");
}

static int help(void) {
    printf("usage: slotjig ship --serial TEXT --limits FILE [--lot NAME] [options]\n"
           "       slotjig ship --serial TEXT [--html FILE]    what is on record of it, its box's page\n"
           "       slotjig ship --lot NAME [--html FILE]       its yield, why cartridges failed, margins\n"
           "       slotjig ship --list\n\n"
           "Tests a cartridge in a console (plan cartridge), on a reader, or both, as the limits file\n"
           "says, and passes it only if all of it passed and every limit was kept. In the console it\n"
           "carries the check's image (`slotjig rom --plan cartridge -o FILE` makes it), on the reader\n"
           "the one that the limits file names: which of them is put on it last is yours to order, by\n"
           "ways = console, reader or ways = reader, console.\n\n"
           "Every test stays on record. A serial that has a verdict is shown and not tested, unless you\n"
           "say --again. A test that the bench spoiled (exit 3), or that could not be read (exit 4), is\n"
           "no verdict: say the same again.\n\n"
           "Put cartridges in and take them out with the power off. --out DIR leaves the page for the\n"
           "box in DIR/box.html.\n\n");
    help_limits();
    options_help(takes);
    printf("\nexit: 0 pass, 1 fail, 2 wrong usage or input, or a serial that has a verdict,\n"
           "3 bench trouble, 4 inconclusive\n");
    return EXIT_PASS;
}

bool ship_name_good(const char *what, const char *text, struct problem *problem) {
    const size_t length = strlen(text);
    if (length == 0 || length > SHIP_SERIAL_MAX) {
        return problem_set(problem, PROBLEM_INPUT, "--%s: has %zu bytes; give 1 to %d", what, length,
                           SHIP_SERIAL_MAX);
    }
    return utf8_is_name(text) ||
           problem_set(
               problem, PROBLEM_INPUT,
               "--%s: has control or hidden characters, blanks at an end, or is not UTF-8; give plain text",
               what);
}

static bool check(const struct options *options, struct problem *problem) {
    if ((options->serial != NULL && !ship_name_good("serial", options->serial, problem)) ||
        (options->lot != NULL && !ship_name_good("lot", options->lot, problem)) ||
        (options->station != NULL && !ship_name_good("station", options->station, problem))) {
        return false;
    }
    if (options->limits != NULL && (options->serial == NULL || options->list)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--limits: to test a cartridge give --serial, and leave --list out");
    }
    if (options->limits == NULL && options->again) {
        return problem_set(problem, PROBLEM_INPUT, "--again: to test a cartridge give --serial and --limits");
    }
    if (options->limits == NULL && options->out != NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--out: is of a test; for a page of what is on record give --html FILE");
    }
    return options->serial != NULL || options->lot != NULL || options->list ||
           problem_set(problem, PROBLEM_INPUT,
                       "ship: give --serial and --limits to test a cartridge, --lot or --list to "
                       "see what is on record");
}

int command_ship(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, takes, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (!check(&options, &problem)) {
        return command_refuse(&problem);
    }
    return options.limits != NULL ? ship_test(&options) : ship_show(&options);
}
