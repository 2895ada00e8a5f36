#include "expect/expect.h"

#include <string.h>

bool cells_parse(const char *text, uint8_t cells[CELLS], int *count, struct problem *problem) {
    int found = 0;
    for (const char *c = text; *c != '\0'; c++) {
        if (*c == ' ' || *c == '\t') {
            continue;
        }
        bool lit = strchr("#1Xx", *c) != NULL;
        if (!lit && strchr(".0-", *c) == NULL) {
            return problem_set(problem, PROBLEM_INPUT, "'%c' in cells; lit is # 1 or X, dark is . 0 or -",
                               *c);
        }
        if (found == CELLS) {
            return problem_set(problem, PROBLEM_INPUT, "more than %d cells; give %d (the left half) or %d",
                               CELLS, CELLS / 2, CELLS);
        }
        cells[found++] = lit;
    }
    if (found != CELLS / 2 && found != CELLS) {
        return problem_set(problem, PROBLEM_INPUT, "%d cells; give %d (the left half) or %d", found,
                           CELLS / 2, CELLS);
    }
    *count = found;
    return true;
}
