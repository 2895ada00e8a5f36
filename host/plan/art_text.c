/* Text: a row a line, 40 cells as cells_parse() takes them, then COLUPF=$1C and COLUBK=$00 where they are not
 * white on black; `;` begins a comment, lines that are empty then do not count. */
#include "plan/art.h"

#include "expect/expect.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

enum { LINE_MOST = 400 };

static bool refuse(const char *path, int line, const char *what, struct problem *problem) {
    return problem_set(problem, PROBLEM_INPUT, "%.200s:%d: %s", path, line, what);
}

/* One word behind the cells. */
static bool take_colour(const char *word, struct art_row *row) {
    char *const equals = strchr(word, '=');
    uint8_t value;
    if (equals == NULL || !parse_byte(equals + 1, &value)) {
        return false;
    }
    const size_t length = (size_t)(equals - word);
    if (length == 6 && strncasecmp(word, "COLUPF", 6) == 0) {
        row->lit_colour = value;
    } else if (length == 6 && strncasecmp(word, "COLUBK", 6) == 0) {
        row->dark_colour = value;
    } else {
        return false;
    }
    return true;
}

static bool take_row(const char *path, int number, char *line, struct art *art, int rows_most,
                     struct problem *problem) {
    uint8_t cells[CELLS];
    int count = 0;
    struct problem why;
    char *words = strpbrk(line, "Cc"), *rest = NULL;
    struct art_row row = {.lit_colour = plan_default_colour(REG_COLUPF),
                          .dark_colour = plan_default_colour(REG_COLUBK)};
    char colours[LINE_MOST] = "";
    if (words != NULL) {
        snprintf(colours, sizeof colours, "%s", words);
        *words = '\0';
    }
    if (!cells_parse(line, cells, &count, &why) || count != CELLS) {
        return refuse(path, number,
                      "no row of 40 cells (# 1 X lit, . 0 - dark), with COLUPF=$1C and COLUBK=$00 behind it "
                      "where it is not white on black",
                      problem);
    }
    for (char *word = strtok_r(colours, " \t", &rest); word != NULL; word = strtok_r(NULL, " \t", &rest)) {
        if (!take_colour(word, &row)) {
            return refuse(path, number, "behind the cells there can be COLUPF=$1C and COLUBK=$00", problem);
        }
    }
    if (art->rows++ >= rows_most) {
        return true; /* counted, to be told */
    }
    for (int cell = 0; cell < CELLS; cell++) {
        row.lit |= (uint64_t)cells[cell] << cell;
    }
    art->row[art->rows - 1] = row;
    return true;
}

bool art_text(const char *path, const uint8_t *bytes, size_t size, int rows_most, struct art *art,
              struct problem *problem) {
    const char *at = (const char *)bytes, *const end = at + size;
    for (int number = 1; at < end; number++) {
        char line[LINE_MOST];
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        const size_t length = (size_t)((stop == NULL ? end : stop) - at);
        if (length >= sizeof line || memchr(at, '\0', length) != NULL) {
            return refuse(path, number, "is neither PNG nor PBM, and no text of 40 cells a line", problem);
        }
        memcpy(line, at, length);
        line[length] = '\0';
        line[strcspn(line, ";\r")] = '\0';
        if (line[strspn(line, " \t")] != '\0' && !take_row(path, number, line, art, rows_most, problem)) {
            return false;
        }
        at = stop == NULL ? end : stop + 1;
    }
    return art_check_size(path, CELLS, (unsigned long)art->rows, rows_most, problem);
}
