#include "commands/near.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

enum { LETTERS = 64, NAMED = 3 };

static int least(int a, int b, int c) {
    const int two = a < b ? a : b;
    return two < c ? two : c;
}

/* Wagner and Fischer's table, of which a row is kept. */
int near_distance(const char *first, const char *second) {
    const int rows = (int)strnlen(first, LETTERS), columns = (int)strnlen(second, LETTERS);
    int row[LETTERS + 1];
    for (int i = 0; i <= columns; i++) {
        row[i] = i;
    }
    for (int i = 1; i <= rows; i++) {
        int corner = row[0];
        row[0] = i;
        for (int j = 1; j <= columns; j++) {
            const int other = tolower((unsigned char)first[i - 1]) != tolower((unsigned char)second[j - 1]);
            const int here = least(row[j] + 1, row[j - 1] + 1, corner + other);
            corner = row[j];
            row[j] = here;
        }
    }
    return row[columns];
}

/* A third of the letters may be wrong. */
static int bound(const char *name) {
    const int third = (int)strnlen(name, LETTERS) / 3;
    return third > 1 ? third : 1;
}

/* The nearest ones first. Returns how many. */
static size_t nearest(const char *name, const char *const *names, size_t count, const char *found[NAMED]) {
    size_t have = 0;
    for (int distance = 0; distance <= bound(name); distance++) {
        for (size_t i = 0; i < count && have < NAMED; i++) {
            if (near_distance(name, names[i]) == distance) {
                found[have++] = names[i];
            }
        }
    }
    return have;
}

static void add(char *text, size_t size, const char *before, const char *name) {
    const size_t at = strlen(text);
    snprintf(text + at, size - at, "%s%.60s", before, name);
}

void near_names(const char *name, const char *const *names, size_t count, char *text, size_t size) {
    const char *found[NAMED];
    const size_t have = nearest(name, names, count, found);
    text[0] = '\0';
    for (size_t i = 0; i < have; i++) {
        add(text, size, i == 0 ? "did you mean " : i + 1 < have ? ", " : " or ", found[i]);
    }
    if (have > 0) {
        add(text, size, "?", "");
        return;
    }
    for (size_t i = 0; i < count && i < NAMED; i++) {
        add(text, size, i == 0 ? "there are " : ", ", names[i]);
    }
    if (count > NAMED) {
        char more[40];
        snprintf(more, sizeof more, " and %zu more", count - NAMED);
        add(text, size, more, "");
    }
}
