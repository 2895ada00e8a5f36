/* One question, one answer: asked again when none comes, and after a reconnect. */
#include "link/inside.h"
#include "link/reader.h"

#include <stdio.h>
#include <string.h>

enum {
    LONGEST_WAIT = 4, /* times reply_ms */
    FLASH_WAIT = 2    /* the same: a sector's erase takes up to 400 ms */
};

static int next_wait(const struct link_options *options, int wait) {
    const int longest = LONGEST_WAIT * options->reply_ms;
    return wait * 2 < longest ? wait * 2 : longest;
}

int link_ask_ms(const struct link_options *options) {
    int sum = 0;
    int wait = options->reply_ms;
    for (int i = 0; i <= options->retries; i++) {
        sum += wait;
        wait = next_wait(options, wait);
    }
    return sum;
}

/* A refusal names the type that it refuses. */
static bool answers(const struct frame_in *frame, uint8_t type, uint8_t sequence) {
    if (frame->sequence != sequence || frame->count < 1) {
        return false;
    }
    return frame->type == (type | WIRE_REPLY) ||
           (frame->type == WIRE_ERROR && frame->count == 2 && frame->payload[1] == type);
}

static void take_reply(const struct frame_in *frame, struct reply *reply) {
    reply->status = frame->payload[0];
    reply->count = frame->count - 1;
    memcpy(reply->bytes, frame->payload + 1, reply->count);
}

static enum answer wait_for(struct link *link, uint8_t type, uint8_t sequence, int wait_ms,
                            struct reply *reply) {
    const uint64_t until = link_reply_until(link, wait_ms);
    struct frame_in frame;
    for (;;) {
        switch (link_frame(link, until, &frame)) {
        case IO_LOST:
            return ANSWER_LOST;
        case IO_TIMEOUT:
            return ANSWER_SILENT;
        case IO_OK:
            if (answers(&frame, type, sequence)) {
                take_reply(&frame, reply);
                return ANSWER_GIVEN;
            }
            if (link_left_ms(link, until) == 0) {
                return ANSWER_SILENT;
            }
        }
    }
}

enum answer link_ask(struct link *link, const struct question *question, struct reply *reply) {
    const uint8_t sequence = ++link->sequence;
    const uint64_t started = link_now(link);
    int wait = link->options.reply_ms * (question->budget_ms > 0 ? FLASH_WAIT : 1);
    for (int tries = 0;; tries++) {
        if (link_send(link, question->type, sequence, question->payload, question->count) == IO_LOST) {
            return ANSWER_LOST;
        }
        if (question->behind != NULL && tries == 0) {
            question->behind(question->user);
        }
        const enum answer answer = wait_for(link, question->type, sequence, wait, reply);
        if (answer != ANSWER_SILENT) {
            return answer;
        }
        const bool budget_left = link_now(link) - started < (uint64_t)question->budget_ms * 1000;
        if ((tries >= link->options.retries && !budget_left) || link_late(link)) {
            return ANSWER_SILENT;
        }
        link->spoilt = true;
        link->retries++;
        wait = next_wait(&link->options, wait);
    }
}

bool link_query(struct link *link, const struct question *question, size_t wanted, struct reply *reply,
                struct problem *problem) {
    enum answer answer = ANSWER_LOST;
    for (int tries = 0; answer == ANSWER_LOST && tries <= link->options.retries; tries++) {
        if (link->lost && !link_reconnect(link, problem)) {
            return false;
        }
        answer = link_ask(link, question, reply);
    }
    if (answer != ANSWER_GIVEN) {
        return link_silent(link, question->type, problem);
    }
    if (reply->status != WIRE_OK) {
        return link_refused(link, question->type, reply->status, problem);
    }
    if (wanted != SIZE_MAX && reply->count != wanted) {
        char who[LINK_WHO];
        return problem_set(
            problem, PROBLEM_BENCH,
            "%s answered %s with %zu bytes where the wire's version %d has %zu; its firmware and "
            "this program do not fit: renew both",
            link_who(link, who), link_message_name(question->type), reply->count, link->facts.version,
            wanted);
    }
    return true;
}

/* ---- texts ---- */

const char *link_message_name(uint8_t type) {
    static const char *const names[] = {
        [WIRE_HELLO] = "hello",
        [WIRE_BEGIN] = "begin",
        [WIRE_DATA] = "data",
        [WIRE_COMMIT] = "commit",
        [WIRE_ABORT] = "abort",
        [WIRE_READ] = "read",
        [WIRE_SUMS] = "sums",
        [WIRE_SELECT] = "select",
        [WIRE_STATUS] = "status",
        [WIRE_WATCH] = "watch",
        [WIRE_LOG_LEVEL] = "log level",
        [WIRE_LOADER] = "loader",
        [WIRE_VALUES] = "values",
        [WIRE_SUPPLY] = "supply",
        [WIRE_TASK] = "a task",
        [WIRE_TASK_STATE] = "a task's state",
        [WIRE_TASK_RESULT] = "a task's result",
    };
    return type < sizeof names / sizeof names[0] && names[type] != NULL ? names[type] : "a message";
}

const char *link_who(const struct link *link, char *text) {
    if (link->known) {
        snprintf(text, LINK_WHO, "%s %s (%s)", link_is_reader(link) ? "reader" : "board", link->facts.serial,
                 link->transport.name);
    } else {
        snprintf(text, LINK_WHO, "the board (%s)", link->transport.name);
    }
    return text;
}

bool link_overdue(const struct link *link, struct problem *problem) {
    char who[LINK_WHO];
    return problem_set(
        problem, PROBLEM_BENCH,
        "%s did not take the image within %llu s, although it answers; check cable, baud rate and "
        "flash. It holds the old image or the new one, whole",
        link_who(link, who), (unsigned long long)link->bound_ms / 1000);
}

bool link_silent(const struct link *link, uint8_t type, struct problem *problem) {
    char who[LINK_WHO];
    if (link_late(link)) {
        return link_overdue(link, problem);
    }
    if (link->lost) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "%s was lost again and again while it was asked for %s; check cable and connectors, "
            "then try again",
            link_who(link, who), link_message_name(type));
    }
    return problem_set(problem, PROBLEM_BENCH,
                       "%s does not answer %s; unplug it, plug it in again and try again",
                       link_who(link, who), link_message_name(type));
}

static const char *why_no_values(uint8_t status) {
    switch (status) {
    case WIRE_NOT_BEGUN:
        return "another image or a held step came in between; start again";
    case WIRE_NO_MAILBOX:
        return "the image it serves does not ask which picture comes next; push one that does";
    default:
        return NULL;
    }
}

static const char *why_no_task(uint8_t status) {
    switch (status) {
    case WIRE_BAD_VALUE:
        return "it cannot do that with this scheme, bank, address or count";
    case WIRE_NOT_BEGUN:
        return "there is no result: it was started anew, or another program uses it; try again";
    case WIRE_BUSY:
        return "it is at another task, of another program; wait for its end, or switch it off and on";
    default:
        return NULL;
    }
}

/* A message of the other kind of board, or NULL. */
static const char *why_unknown(const struct link *link, uint8_t type) {
    const bool of_reader = type >= WIRE_SUPPLY && type <= WIRE_TASK_RESULT;
    const bool is_reader = (link->facts.capabilities & WIRE_CAN_READ) != 0;
    if (is_reader && !of_reader) {
        return "it is a reader, which stands in the console's place and takes no image; give a cartridge "
               "board";
    }
    return !is_reader && of_reader
               ? "it is a cartridge board, which stands in a cartridge's place; give a reader"
               : NULL;
}

static const char *why_special(const struct link *link, uint8_t type, uint8_t status) {
    if (status == WIRE_UNKNOWN) {
        return why_unknown(link, type);
    }
    if (type == WIRE_VALUES) {
        return why_no_values(status);
    }
    return type >= WIRE_SUPPLY && type <= WIRE_TASK_RESULT ? why_no_task(status) : NULL;
}

bool link_refused(const struct link *link, uint8_t type, uint8_t status, struct problem *problem) {
    static const char *const why[WIRE_STATUSES] = {
        [WIRE_UNKNOWN] = "its firmware does not know this message: renew it",
        [WIRE_BAD_LENGTH] = "the message's length is wrong for it: renew its firmware or this program",
        [WIRE_BAD_VALUE] =
            "a value is outside what it can do: look at the image's size and bank scheme, or the "
            "offset",
        [WIRE_NOT_BEGUN] = "no push is under way: it was given up or the board restarted; push again",
        [WIRE_MISSING] = "blocks are missing; push again",
        [WIRE_BAD_CRC] =
            "what arrived is not what was announced; push again, and if it happens again suspect "
            "the board's flash",
        [WIRE_FLASH_FAILED] =
            "its flash could not be written; push again, and if it happens again change the "
            "board",
        [WIRE_NO_MAILBOX] = "the image it serves takes no step to hold; push one that does",
        [WIRE_BAD_VERSION] =
            "there is no version of the wire that both ends know: renew its firmware or this "
            "program",
        [WIRE_BUSY] = "another link has a push under way; wait for its end, or unplug that one",
    };
    char who[LINK_WHO];
    const char *text = why_special(link, type, status);
    if (text == NULL && status < WIRE_STATUSES) {
        text = why[status];
    }
    if (text != NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s refused %s: %s", link_who(link, who),
                           link_message_name(type), text);
    }
    return problem_set(problem, PROBLEM_BENCH,
                       "%s refused %s with status %d, which this program does not know: renew this program",
                       link_who(link, who), link_message_name(type), status);
}
