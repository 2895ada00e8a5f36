/* A table in plain characters: columns as wide as what stands in them. */
#ifndef SLOTJIG_REPORT_TABLE_H
#define SLOTJIG_REPORT_TABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum { TABLE_COLUMNS_MAX = 12 };
struct table {
    int columns;
    size_t count, room; /* of cells */
    char **cells;       /* row by row */
    unsigned rights;    /* bit n: column n is set to the right */
    bool bad;           /* memory was short */
};

/* Ends the columns' heads with NULL; they are the first row. A head that begins with '>' is set to the right.
 */
void table_begin(struct table *table, const char *const heads[]);
/* The next cell of the row at hand. Control characters and what is no UTF-8 become '?'. */
__attribute__((format(printf, 2, 3))) void table_add(struct table *table, const char *format, ...);
/* Prints and frees. False: memory was short, and nothing is printed. */
bool table_end(struct table *table, FILE *stream);

#endif
