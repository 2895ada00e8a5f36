#include "commands/commands.h"

#include "commands/options.h"
#include "commands/run_once.h"
#include "virtual/bench.h"

#include <stdio.h>

static const uint64_t takes = TAKES_PLAN | TAKES_VIRTUAL | TAKES_CHOICE | TAKES_BENCH | TAKES_STANDARD |
                              TAKES_HOLD | TAKES_FLASHING | TAKES_JSON | TAKES_OUT | TAKES_BY_EYE |
                              TAKES_LIVE | TAKES_THREADS | TAKES_AGAINST | TAKES_RECORD | TAKES_SOAK;

static void help_spellings(const char *title, const struct fault_spelling *spellings) {
    if (spellings->spelling == NULL) {
        return;
    }
    printf("\n%s:\n", title);
    for (; spellings->spelling != NULL; spellings++) {
        printf("  %-26s %s\n", spellings->spelling, spellings->about);
    }
}

static int help(void) {
    printf(
        "usage: slotjig run [--bench NAME] [--plan NAME|FILE] [options]\n\n"
        "Shows a plan on a bench, watches the video, says which cells are right, and names what is "
        "wrong. A bench with a\n"
        "board gets the image first; the console takes it by itself, or is switched off and on. With "
        "--by-eye the board\n"
        "holds each step until you have answered. The video is the bench's: a device that is watched until "
        "every step was seen,\n"
        "or a recording (`slotjig doctor` looks at it alone). Whatever does not pass is explained from what "
        "the board saw in the\n"
        "slot, too.\n\n"
        "Test patterns flash. On a screen that people see, a plan beyond the limits of WCAG 2.3.1 and ITU-R "
        "BT.1702 is refused\n"
        "(`slotjig plan --flashes` tells how each flashes), unless everybody who can see it has agreed "
        "(--agreed-to-flashing);\n"
        "then the picture stays dark for three seconds first. --calm shows it slowly enough. The virtual "
        "bench shows nothing.\n\n"
        "Every run is recorded, in $XDG_DATA_HOME/slotjig/records.sqlite (~/.local/share/slotjig/...): "
        "`slotjig history` and\n"
        "`slotjig report` show it again. --console names the console, else the benches file does, else it "
        "has the bench's name.\n"
        "--out DIR leaves a page of the run in DIR/report.html. A store that cannot be written is found out "
        "before anything is\n"
        "shown; --no-record runs without.\n\n");
    options_help(takes);
    help_spellings("faults of the virtual bench (--fault TEXT)", virtual_fault_spellings);
    help_spellings("impairments of the virtual grabber (--impair TEXT)", virtual_impairment_spellings);
    printf("\nkinds of virtual grabber (--grabber SET):\n");
    for (const struct grabber_set *set = virtual_sets; set->name != NULL; set++) {
        printf("  %-26s %s\n", set->name, set->about);
    }
    printf("\nexit: 0 pass, 1 fail, 2 wrong usage or input, 3 bench trouble, 4 inconclusive; a pass that "
           "differs "
           "from --against: 1\n");
    return EXIT_PASS;
}

int command_run(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, takes, &options, &problem)) {
        return command_refuse(&problem);
    }
    return options.help ? help() : run_once(&options, NULL);
}
