#include "commands/sweep_ask.h"

#include <errno.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

static void to_robot(FILE *out, const char *bench, const char *console) {
    fprintf(out, "put-in\t%s\t%s\n", bench, console);
}

/* The caution stands where the hands are. */
static void to_person(FILE *out, const char *bench, const char *console, const char *previous) {
    fprintf(out, "\nBench %s: ", bench);
    if (previous != NULL) {
        fprintf(out, "switch console %s off, and only then take the board out of its slot.\n", previous);
    } else {
        fprintf(out, "the console is off before anything goes in or out of its slot.\n");
    }
    fprintf(
        out,
        "While console %s is off, put the board into its slot and lead its video to this bench's grabber; "
        "then switch it on.\nEnter when it is on, `skip` to leave it for later, `stop` to end: ",
        console);
}

/* What was typed before the question is no answer to it: an Enter too many would take the console that is in
 * for the next one. */
static void forget_typed(struct ask *ask) {
    if (isatty(ask->in)) {
        tcflush(ask->in, TCIFLUSH);
        ask->used = 0;
    }
}

void ask_put_in(struct ask *ask, const char *bench, const char *console, const char *previous) {
    forget_typed(ask);
    if (ask->robot) {
        to_robot(ask->out, bench, console);
    } else {
        to_person(ask->out, bench, console, previous);
    }
    if (fflush(ask->out) != 0 || ferror(ask->out)) {
        fprintf(stderr,
                "slotjig: which console to put in can no longer be told: %s; what is left stays open\n",
                ask->robot ? "standard output is closed or full" : "standard error is closed or full");
        ask->ended = true;
        ask->used = 0;
    }
}

void ask_read(struct ask *ask) {
    if (ask->used == sizeof ask->bytes) { /* whole lines were taken out of it before */
        ask->used = 0;
        ask->overlong = true;
    }
    const ssize_t got = read(ask->in, ask->bytes + ask->used, sizeof ask->bytes - ask->used);
    if (got > 0) {
        ask->used += (size_t)got;
    } else if (got == 0 || (errno != EINTR && errno != EAGAIN)) {
        ask->ended = true;
    }
}

/* Takes a line out of what was read; what cannot be an answer becomes "?". The last one may have no end. */
static bool take_line(struct ask *ask, char line[ASK_LINE_MAX]) {
    const char *end = memchr(ask->bytes, '\n', ask->used);
    if (end == NULL && (!ask->ended || ask->used == 0)) {
        return false;
    }
    size_t length = end != NULL ? (size_t)(end - ask->bytes) : ask->used;
    const size_t whole = end != NULL ? length + 1 : length;
    while (length > 0 && strchr(" \t\r", ask->bytes[length - 1]) != NULL) {
        length--;
    }
    if (ask->overlong || length >= ASK_LINE_MAX || memchr(ask->bytes, '\0', whole) != NULL) {
        length = (size_t)snprintf(line, ASK_LINE_MAX, "?");
    } else {
        memcpy(line, ask->bytes, length);
    }
    line[length] = '\0';
    ask->overlong = false;
    ask->used -= whole;
    memmove(ask->bytes, ask->bytes + whole, ask->used);
    return true;
}

enum answer ask_next(struct ask *ask, char bench[ASK_LINE_MAX]) {
    static const struct {
        const char *word;
        enum answer answer;
    } words[] = {{"ready", ANSWER_READY}, {"skip", ANSWER_SKIP}, {"stop", ANSWER_STOP}};
    char line[ASK_LINE_MAX];
    bench[0] = '\0';
    if (!take_line(ask, line)) {
        return ask->ended ? ANSWER_END : ANSWER_NONE;
    }
    if (line[0] == '\0') {
        return ask->robot ? ANSWER_UNKNOWN : ANSWER_READY;
    }
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        const size_t length = strlen(words[i].word);
        if (strncmp(line, words[i].word, length) != 0 || strchr(" \t", line[length]) == NULL) {
            continue;
        }
        const char *name = line + length + strspn(line + length, " \t");
        memcpy(bench, name, strlen(name) + 1);
        return words[i].answer;
    }
    return ANSWER_UNKNOWN;
}

void ask_refuse(const struct ask *ask, const char *why) {
    fprintf(stderr, "slotjig: %s; say ready, skip or stop%s\n", why,
            ask->robot ? ", with the bench's name behind it where several are asked" : "");
}
