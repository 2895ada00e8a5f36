/*
 * One file for each subcommand. A command gets its own words (argv[0] is its name), prints its result and
 * returns the exit status. 0 pass, 1 fail, 2 wrong usage or input, 3 bench trouble, 4 inconclusive.
 */
#ifndef SLOTJIG_COMMANDS_COMMANDS_H
#define SLOTJIG_COMMANDS_COMMANDS_H

#include "base/problem.h"

enum { EXIT_PASS = 0, EXIT_FAIL = 1, EXIT_INPUT = 2, EXIT_BENCH = 3, EXIT_INCONCLUSIVE = 4 };

int command_run(int argc, char **argv);
int command_plan(int argc, char **argv);
int command_rom(int argc, char **argv);
int command_expect(int argc, char **argv);
int command_grab(int argc, char **argv);
int command_judge(int argc, char **argv);
int command_compare(int argc, char **argv);
int command_sweep(int argc, char **argv);
int command_history(int argc, char **argv);
int command_baseline(int argc, char **argv);
int command_report(int argc, char **argv);
int command_ship(int argc, char **argv);
int command_reader(int argc, char **argv);
int command_watch(int argc, char **argv);
int command_push_image(int argc, char **argv);
int command_doctor(int argc, char **argv);
int command_boards(int argc, char **argv);
int command_benches(int argc, char **argv);

/* Prints the one line on standard error and returns its exit status. */
int command_refuse(const struct problem *problem);

#endif
