/* Names like one that does not exist. */
#ifndef SLOTJIG_COMMANDS_NEAR_H
#define SLOTJIG_COMMANDS_NEAR_H

#include <stddef.h>

/* Letters to put in, take out or change until one name is the other, case aside. Of long names the beginning.
 */
int near_distance(const char *first, const char *second);
/* "did you mean A or B?" where some are near, else "there are A, B, C and 12 more"; at most three are named.
 * count 0: "". */
void near_names(const char *name, const char *const *names, size_t count, char *text, size_t size);

#endif
