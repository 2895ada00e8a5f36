#include "report/table.h"

#include "base/utf8.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

enum { GAP = 2 };

void table_begin(struct table *table, const char *const heads[]) {
    *table = (struct table){.columns = 0};
    for (; table->columns < TABLE_COLUMNS_MAX && heads[table->columns] != NULL; table->columns++) {
        table->rights |= heads[table->columns][0] == '>' ? 1u << table->columns : 0;
    }
    for (int i = 0; i < table->columns; i++) {
        table_add(table, "%s", heads[i] + (heads[i][0] == '>'));
    }
}

static bool make_room(struct table *table) {
    if (table->count < table->room) {
        return true;
    }
    const size_t room = table->room * 2 + 256;
    char **cells = realloc(table->cells, room * sizeof *cells);
    if (cells == NULL) {
        return false;
    }
    table->cells = cells;
    table->room = room;
    return true;
}

void table_add(struct table *table, const char *format, ...) {
    char *text = NULL;
    va_list list;
    va_start(list, format);
    const int length = vasprintf(&text, format, list);
    va_end(list);
    char *clean = length < 0 ? NULL : utf8_copy(text);
    if (length >= 0) {
        free(text);
    }
    if (clean == NULL || !make_room(table)) {
        free(clean);
        table->bad = true;
        return;
    }
    table->cells[table->count++] = clean;
}

static void print_row(const struct table *table, FILE *stream, size_t first, const int widths[]) {
    for (int i = 0; i < table->columns && first + (size_t)i < table->count; i++) {
        const char *const cell = table->cells[first + (size_t)i];
        const int pad = widths[i] - utf8_width(cell);
        const bool right = (table->rights >> i) & 1, last = i + 1 == table->columns;
        fprintf(stream, "%*s%s%*s", right ? pad : 0, "", cell, right || last ? 0 : pad, "");
        fprintf(stream, "%*s", last ? 0 : GAP, "");
    }
    fputc('\n', stream);
}

bool table_end(struct table *table, FILE *stream) {
    int widths[TABLE_COLUMNS_MAX] = {0};
    const size_t columns = (size_t)table->columns;
    const bool good = !table->bad;
    for (size_t i = 0; i < table->count; i++) {
        const int width = utf8_width(table->cells[i]);
        widths[i % columns] = width > widths[i % columns] ? width : widths[i % columns];
    }
    for (size_t i = 0; good && i < table->count; i += columns) {
        print_row(table, stream, i, widths);
    }
    for (size_t i = 0; i < table->count; i++) {
        free(table->cells[i]);
    }
    free(table->cells);
    *table = (struct table){.columns = 0};
    return good;
}
