#include "commands/commands.h"

#include <stdio.h>

int command_refuse(const struct problem *problem) {
    static const int status[] = {[PROBLEM_NONE] = EXIT_BENCH,
                                 [PROBLEM_INPUT] = EXIT_INPUT,
                                 [PROBLEM_BENCH] = EXIT_BENCH,
                                 [PROBLEM_VIDEO] = EXIT_INCONCLUSIVE};
    fprintf(stderr, "slotjig: %s\n", problem->text);
    return status[problem->kind];
}
