/* `run --by-eye --plan cartridge`: a person copies the digits that the screen shows. */
#ifndef SLOTJIG_COMMANDS_BY_EYE_CHECK_H
#define SLOTJIG_COMMANDS_BY_EYE_CHECK_H

#include "commands/by_eye.h"

/* Asks on standard output for the screen's top row and for the rounds. The exit status: 0 when no item was
 * wrong after two rounds, 1 when one was, 4 when it was left open. board: as of by_eye_run(). */
int by_eye_check(const struct setup *setup, const struct options *options, struct bench_board *board,
                 struct recorder *recorder);

#endif
