#include "commands/commands.h"

int command_baseline(int argc, char **argv) {
    struct problem problem;
    (void)argc, (void)argv;
    problem_set(&problem, PROBLEM_INPUT, "baseline: not built yet");
    return command_refuse(&problem);
}
