/* What must be so before a console is left to itself. */
#ifndef SLOTJIG_COMMANDS_SOAK_H
#define SLOTJIG_COMMANDS_SOAK_H

#include <stdio.h>

void soak_tell(FILE *stream, int minutes); /* 0: until somebody stops it */

#endif
