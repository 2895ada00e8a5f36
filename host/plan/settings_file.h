/*
 * INI files, as plan files and benches files use them: inih with its silent limits turned into problems, and
 * a line number at every setting.
 *
 * Text is UTF-8. A line has at most 198 characters, a section's name at most 49. A value stays on its own
 * line; an indented line is a line like any other. Comments: a line that starts with ; or #, and the rest of
 * a line after a blank and ;.
 */
#ifndef SLOTJIG_PLAN_SETTINGS_FILE_H
#define SLOTJIG_PLAN_SETTINGS_FILE_H

#include "base/problem.h"

#include <stdbool.h>

enum { SETTINGS_FILE_MAX = 1 << 20 }; /* bytes; a longer file is refused */

struct setting {
    const char *path;
    int line; /* from 1 */
    const char *section;
    const char *key; /* NULL: the section begins here */
    const char *value;
};

/* Returns false, with *problem filled, to end the reading. Strings live during the call only. */
typedef bool setting_taker(void *user, const struct setting *setting, struct problem *problem);

/* Hands every section and setting to take(), in the file's order. PROBLEM_INPUT when the file cannot be read
 * or is no INI text. */
bool settings_read(const char *path, setting_taker *take, void *user, struct problem *problem);

/* The same from a text in memory; what: its name in problems. */
bool settings_read_text(const char *what, const char *text, setting_taker *take, void *user,
                        struct problem *problem);

/* problem_set() of kind PROBLEM_INPUT with "path:line: " in front. */
bool setting_refuse(struct problem *problem, const struct setting *setting, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* "yes", "true", "on", "1" or "no", "false", "off", "0", any case. */
bool setting_yes_no(const char *text, bool *value);

#endif
