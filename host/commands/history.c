#include "commands/commands.h"

int command_history(int argc, char **argv) {
    struct problem problem;
    (void)argc, (void)argv;
    problem_set(&problem, PROBLEM_INPUT, "history: not built yet");
    return command_refuse(&problem);
}
