/* Programs run by a test, and what they said: slotjig itself, or any other. */
#ifndef TESTS_COMMANDS_PROGRAM_H
#define TESTS_COMMANDS_PROGRAM_H

/* Runs a shell's line with its outputs kept, for at most that many seconds. Returns its exit status; 128 and
 * more: a signal ended it. */
int program_line(int seconds, const char *line);
/* Runs `slotjig ARGUMENTS`, which must exit with that status. */
void program_slotjig(int wanted, const char *arguments);
/* What the last one printed, on both outputs. */
const char *program_said(void);
/* Fails the test where it did not print that (or did). */
void program_says(const char *what);
void program_says_not(const char *what);

#endif
