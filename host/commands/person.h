/* Somebody who was asked on standard error, and answers by Enter on standard input. */
#ifndef SLOTJIG_COMMANDS_PERSON_H
#define SLOTJIG_COMMANDS_PERSON_H

#include <stdbool.h>

/* Waits for the end of a line, and at most so long for each character; false when nobody answers. */
bool person_answered(int ms);

#endif
