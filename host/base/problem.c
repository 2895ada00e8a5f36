#include "base/problem.h"

#include <stdarg.h>
#include <stdio.h>

bool problem_set(struct problem *problem, enum problem_kind kind, const char *format, ...) {
    if (problem == NULL) {
        return false;
    }
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(problem->text, sizeof problem->text, format, arguments);
    va_end(arguments);
    /* What a name or a file brought along must not steer a terminal. */
    for (char *c = problem->text; *c != '\0'; c++) {
        if ((unsigned char)*c < ' ' || *c == 0x7F) {
            *c = '?';
        }
    }
    problem->kind = kind;
    return false;
}
