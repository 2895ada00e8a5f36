/* Pushing by a program of the user's, for boards and cartridges that speak another wire than ours. */
#ifndef SLOTJIG_COMMANDS_PROGRAM_PUSH_H
#define SLOTJIG_COMMANDS_PROGRAM_PUSH_H

#include "link/link.h"

/* Hands the image over as a file that is gone afterwards. Its end with status 0 is all that is known. */
bool program_push(const char *program, const struct link_image *image, struct problem *problem);

#endif
