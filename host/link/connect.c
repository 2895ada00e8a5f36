/* Opening, hello, and coming back to a board that was lost. */
#include "core/bytes.h"
#include "link/inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    HELLO_BYTES = 24, /* of a reply, after its status */
    DRAIN_ROUNDS = 64
};

void link_defaults(struct link_options *options) {
    *options = (struct link_options){
        .reply_ms = 250,
        .commit_ms = 8000,
        .retries = 5,
        .reconnect_ms = 5000,
        .read_back = true,
        .hand_over_ms = 2000,
    };
}

const struct link_facts *link_facts(const struct link *link) {
    return &link->facts;
}

/* ---- hello ---- */

static void read_facts(const uint8_t *bytes, struct link_facts *facts) {
    facts->version = bytes[0];
    facts->firmware_minor = bytes[1];
    facts->firmware_major = bytes[2];
    facts->capabilities = get32(bytes + 3);
    facts->payload_max = get16(bytes + 7);
    facts->block = get16(bytes + 9);
    facts->window = bytes[11];
    facts->image_max = get32(bytes + 12);
    for (int i = 0; i < WIRE_SERIAL; i++) {
        snprintf(facts->serial + 2 * i, 3, "%02X", bytes[16 + i]);
    }
}

static bool no_common_version(const struct link *link, const struct reply *reply, struct problem *problem) {
    const int theirs = reply->count > 0 ? reply->bytes[0] : 0;
    const char *renew = theirs == 0             ? "the board's firmware or this program"
                        : theirs > WIRE_VERSION ? "this program"
                                                : "the board's firmware";
    return problem_set(problem, PROBLEM_BENCH,
                       "the board (%s) speaks version %d of the wire, this program version %d: renew %s",
                       link->transport.name, theirs, WIRE_VERSION, renew);
}

static bool check_facts(const struct link *link, const struct link_facts *facts, struct problem *problem) {
    if (facts->version != WIRE_VERSION) {
        const struct reply reply = {.count = 1, .bytes = {(uint8_t)facts->version}};
        return no_common_version(link, &reply, problem);
    }
    if (facts->block != WIRE_BLOCK || facts->payload_max < WIRE_PAYLOAD_MAX || facts->window < 1) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "the board (%s) says that it takes blocks of %zu bytes, payloads of %zu and a window "
            "of %d, where version %d of the wire has %d, %d and at least 1: renew its firmware",
            link->transport.name, facts->block, facts->payload_max, facts->window, WIRE_VERSION, WIRE_BLOCK,
            WIRE_PAYLOAD_MAX);
    }
    if (link->known && strcmp(facts->serial, link->facts.serial) != 0) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "board %s came back as board %s (%s): another board is plugged in now; plug in the "
            "right one and try again",
            link->facts.serial, facts->serial, link->transport.name);
    }
    return true;
}

static bool no_hello(const struct link *link, uint64_t bytes, uint64_t frames, struct problem *problem) {
    if (bytes > 0 && frames == 0) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "what is on the other end (%s) sends bytes, but is no slotjig board, or the baud rate "
            "is wrong; check which device it is",
            link->transport.name);
    }
    if (frames > 0) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "what is on the other end (%s) sends frames, but answers none: it gives back what it gets, or "
            "another program talks to it; check which device it is, and that its two data wires do not touch",
            link->transport.name);
    }
    return problem_set(
        problem, PROBLEM_BENCH,
        "nothing answers on the other end (%s); check that it is the board, that it has power and "
        "its firmware, and unplug it and plug it in again",
        link->transport.name);
}

/* The status of a hello's answer, and the problem where it is not WIRE_OK. */
static enum answer ask_hello(struct link *link, struct problem *problem) {
    static const uint8_t versions[] = {WIRE_VERSION, WIRE_VERSION};
    const struct question question = {.type = WIRE_HELLO, .payload = versions, .count = sizeof versions};
    const uint64_t bytes = link->bytes_in;
    const uint64_t frames = link->frames_in;
    struct reply reply;
    struct link_facts facts;
    const enum answer answer = link_ask(link, &question, &reply);
    if (answer != ANSWER_GIVEN) {
        no_hello(link, link->bytes_in - bytes, link->frames_in - frames, problem);
        return answer;
    }
    if (reply.status == WIRE_BAD_VERSION) {
        no_common_version(link, &reply, problem);
        return ANSWER_SILENT;
    }
    if (reply.status != WIRE_OK || reply.count < HELLO_BYTES) {
        problem_set(
            problem, PROBLEM_BENCH,
            "the board (%s) answered hello with status %d and %zu bytes, which makes no sense: renew its "
            "firmware",
            link->transport.name, reply.status, reply.count);
        return ANSWER_SILENT;
    }
    read_facts(reply.bytes, &facts);
    if (!check_facts(link, &facts, problem)) {
        return ANSWER_SILENT;
    }
    link->facts = facts;
    link->known = true;
    return ANSWER_GIVEN;
}

bool link_hello(struct link *link, struct problem *problem) {
    return ask_hello(link, problem) == ANSWER_GIVEN;
}

/* ---- open and close ---- */

/* What an earlier program left on the way. Bounded: a device may never stop. */
static void drain(struct link *link) {
    for (int i = 0; i < DRAIN_ROUNDS; i++) {
        size_t done = 0;
        const enum io result =
            link->transport.receive(link->transport.state, link->in, sizeof link->in, 0, &done);
        link->bytes_in += done;
        if (result != IO_OK) {
            link->lost = result == IO_LOST;
            return;
        }
    }
}

bool link_open(const struct transport *transport, const struct link_options *options, struct link **link,
               struct problem *problem) {
    struct link *made = calloc(1, sizeof *made);
    if (made == NULL) {
        transport->close(transport->state);
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the link to the board; free some");
    }
    made->transport = *transport;
    made->deadline_us = UINT64_MAX;
    if (options != NULL) {
        made->options = *options;
    } else {
        link_defaults(&made->options);
    }
    drain(made);
    link_flush(made);
    if (!link_hello(made, problem)) {
        link_close(made);
        return false;
    }
    *link = made;
    return true;
}

void link_close(struct link *link) {
    if (link != NULL) {
        link->transport.close(link->transport.state);
        free(link);
    }
}

/* ---- coming back ---- */

static bool not_back(const struct link *link, uint64_t waited_us, const char *why, struct problem *problem) {
    char who[LINK_WHO];
    return problem_set(
        problem, PROBLEM_BENCH,
        "%s was lost and did not come back within %d ms (%s); plug it in and try again, what it "
        "serves is whole",
        link_who(link, who), (int)(waited_us / 1000), why);
}

bool link_reconnect(struct link *link, struct problem *problem) {
    struct problem why = {.text = "not waited for"};
    const uint64_t started = link_now(link);
    const uint64_t until = link_until(link, link->options.reconnect_ms);
    const uint64_t deadline = link->deadline_us;
    enum answer answer = ANSWER_LOST;
    link->reconnects++;
    /* Hello's own waits must not outlast reconnect_ms. */
    link->deadline_us = until;
    while (answer == ANSWER_LOST && link_left_ms(link, until) > 0) {
        if (!link->transport.reopen(link->transport.state, link_left_ms(link, until), &why)) {
            break;
        }
        link->lost = false;
        link_flush(link);
        answer = ask_hello(link, &why);
    }
    link->deadline_us = deadline;
    if (answer == ANSWER_GIVEN) {
        return true;
    }
    link->lost = true;
    return not_back(link, until > started ? until - started : 0, why.text, problem);
}
