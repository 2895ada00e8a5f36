/* Switching the console's low-voltage supply off and on. Never mains: what the user's program switches is the
 * lead between the console and its supply. */
#ifndef SLOTJIG_COMMANDS_POWER_H
#define SLOTJIG_COMMANDS_POWER_H

#include "base/problem.h"

#include <stdbool.h>

/* By the user's program (words with {state}), or, where the text is empty, by a person at the terminal, who
 * is asked on standard error and answers on standard input. PROBLEM_BENCH when nobody can. */
bool power_cycle(const char *program, struct problem *problem);

#endif
