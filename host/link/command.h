/*
 * A program of the user's, run without a shell: pushes an image to a board or cartridge that does not speak
 * our wire, or switches the console's supply. Standard input and output are /dev/null; the last line that it
 * writes to standard error is quoted when it fails. It runs in a process group of its own, all of which is
 * ended when the time is over.
 */
#ifndef SLOTJIG_LINK_COMMAND_H
#define SLOTJIG_LINK_COMMAND_H

#include "base/problem.h"

#include <stdbool.h>

/*
 * A line of the benches file to words. Words are separated by spaces and tabs; "double quotes" keep a word
 * together ("" is an empty one); a backslash takes the next character as it is, in quotes too. Nothing else
 * is special: no variables, no single quotes, no wildcards, no pipes. *argv ends with NULL and is freed by
 * command_free(). PROBLEM_INPUT: no word, an open quote, a backslash at the end.
 */
bool command_split(const char *text, char ***argv, struct problem *problem);
void command_free(char **argv);

/* Runs argv with {image}, {size} (bytes) and {scheme} (2K ... F4) in its arguments replaced by what holds for
 * that file. Waits at most timeout_s seconds and a moment for it to end. PROBLEM_INPUT: no such program, or
 * an image of no known size; PROBLEM_BENCH: it failed, with its exit status, or took too long. */
bool command_push(char *const argv[], const char *image_path, int timeout_s, struct problem *problem);

/* The same with {state}: "on" or "off". */
bool command_power(char *const argv[], const char *state, int timeout_s, struct problem *problem);

#endif
