/* `run --by-eye`: for who has no grabber. A person looks at the screen and says what is there; the answers
 * are recorded as seen by eye. */
#ifndef SLOTJIG_COMMANDS_BY_EYE_H
#define SLOTJIG_COMMANDS_BY_EYE_H

#include "commands/bench_board.h"
#include "commands/options.h"
#include "commands/recorder.h"
#include "commands/setup.h"

/* False, with a problem: there is nothing in the plan's pictures that a person could judge. */
bool by_eye_possible(const struct plan *plan, struct problem *problem);

/* board: shows each step until it is answered, if it can; NULL where the person puts the image into a
 * cartridge of their own. Asks on standard output, reads answers from standard input: y, n, q, or a note.
 * Returns the exit status: 0 when every step was seen right, 1 when one was seen wrong, 4 when steps were
 * left open, 3 when the board was lost. */
int by_eye_run(const struct setup *setup, const struct options *options, struct bench_board *board,
               struct recorder *recorder);

#endif
