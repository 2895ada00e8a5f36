/*
 * Which console to put in: asked of a person (a line on standard error; Enter answers) or of a robot (a line
 * on standard output, "put-in<TAB>BENCH<TAB>CONSOLE"). Answers are lines: `ready`, `skip`, `stop`, with the
 * bench's name behind them where several are asked at once.
 */
#ifndef SLOTJIG_COMMANDS_SWEEP_ASK_H
#define SLOTJIG_COMMANDS_SWEEP_ASK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum { ASK_LINE_MAX = 256 };

enum answer {
    ANSWER_NONE, /* no whole line yet */
    ANSWER_READY,
    ANSWER_SKIP,
    ANSWER_STOP,
    ANSWER_UNKNOWN, /* a line that is none of these */
    ANSWER_END      /* no more lines will come */
};

struct ask {
    bool robot;
    int in;
    FILE *out;
    bool ended;
    bool overlong; /* what comes up to the next line end belongs to a line that is no answer */
    size_t used;
    char bytes[2 * ASK_LINE_MAX];
};

/* previous: the console that is in, or NULL. Where nobody can be asked any more, no answers will come either.
 */
void ask_put_in(struct ask *ask, const char *bench, const char *console, const char *previous);
/* Reads what is there: call it when `in` can be read. */
void ask_read(struct ask *ask);
/* The next line's meaning; bench: the name behind the word, or "". */
enum answer ask_next(struct ask *ask, char bench[ASK_LINE_MAX]);
/* That an answer was of no use, and why, on standard error. */
void ask_refuse(const struct ask *ask, const char *why);

#endif
