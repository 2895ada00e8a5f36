#include "commands/commands.h"

int command_sweep(int argc, char **argv) {
    struct problem problem;
    (void)argc, (void)argv;
    problem_set(&problem, PROBLEM_INPUT, "sweep: not built yet");
    return command_refuse(&problem);
}
