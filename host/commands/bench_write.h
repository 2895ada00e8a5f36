/* Changes a benches file as a careful person would: only the lines that are meant. */
#ifndef SLOTJIG_COMMANDS_BENCH_WRITE_H
#define SLOTJIG_COMMANDS_BENCH_WRITE_H

#include "base/problem.h"

#include <stdbool.h>
#include <stddef.h>

struct bench_key {
    const char *key;
    const char *value; /* NULL: a line with that key is taken out */
};

/* The text of a benches file with these keys in the section [bench NAME]. A key that is there gets the new
 * value on its line, whose comment stays; others come after the section's last setting; a section that is not
 * there comes at the end of the text. All else stays byte for byte. To be freed; NULL when memory is short.
 */
char *bench_edit(const char *text, const char *name, const struct bench_key *keys, size_t count);

/* Whether a text can be a value in such a file: printable, not empty, no blank at an end, no " ;" in it, not
 * too long. */
bool bench_value_fits(const char *value);

/* bench_edit() onto the file, which need not exist, nor its folder. Whole or not at all. */
bool bench_write(const char *path, const char *name, const struct bench_key *keys, size_t count,
                 struct problem *problem);

#endif
