/* A reader's supply and tasks. */
#include "link/reader.h"

#include "base/stop.h"
#include "core/bytes.h"
#include "link/inside.h"

#include <string.h>

enum {
    TASK_BYTES = 12,
    STATE_BYTES = 25, /* of a reply, after its status */
    SUPPLY_BYTES = 2,
    LOOK_MS = 5, /* between two looks at a task's state; twice that the next time, up to LOOK_MOST_MS */
    LOOK_MOST_MS = 40
};

bool link_is_reader(const struct link *link) {
    return (link->facts.capabilities & WIRE_CAN_READ) != 0;
}

/* ---- supply ---- */

static bool supply_trouble(const struct link *link, enum wire_supply trouble, struct problem *problem) {
    static const char *const texts[] = {
        [WIRE_SUPPLY_GOOD] = "the supply was switched off before the task was done: by another program, or "
                             "because this one was silent for a minute; try again",
        [WIRE_SUPPLY_OVERLOAD] =
            "the cartridge draws more than the supply's limit, so it was switched off; "
            "look for a short between +5 V and ground and for a cartridge that sits askew",
        [WIRE_SUPPLY_MISSING] = "the supply was switched on and no voltage came; check the reader's own "
                                "supply and wiring",
        [WIRE_SUPPLY_GONE] = "the cartridge answered and then no more: it was pulled out, or has lost its "
                             "contacts or its supply, or died; once the reader's light is off "
                             "seat it, and start again",
    };
    char who[LINK_WHO];
    return problem_set(problem, PROBLEM_BENCH, "%s: %s", link_who(link, who), texts[trouble]);
}

bool link_supply(struct link *link, bool on, struct problem *problem) {
    const uint8_t payload[] = {on};
    const struct question question = {.type = WIRE_SUPPLY, .payload = payload, .count = sizeof payload};
    struct reply reply;
    if (!link_query(link, &question, SUPPLY_BYTES, &reply, problem)) {
        return false;
    }
    if (reply.bytes[1] == WIRE_SUPPLY_OVERLOAD && on) {
        return supply_trouble(link, WIRE_SUPPLY_OVERLOAD, problem);
    }
    return true;
}

/* ---- tasks ---- */

static bool nonsense(const struct link *link, struct problem *problem) {
    char who[LINK_WHO];
    return problem_set(problem, PROBLEM_BENCH,
                       "%s answered a task's state with values that cannot be: renew its firmware",
                       link_who(link, who));
}

static bool begin(struct link *link, const struct link_task *task, struct problem *problem) {
    uint8_t payload[TASK_BYTES] = {(uint8_t)task->task, (uint8_t)task->scheme, task->ram ? WIRE_IMAGE_RAM : 0,
                                   (uint8_t)task->bank};
    const struct question question = {.type = WIRE_TASK, .payload = payload, .count = sizeof payload};
    struct reply reply;
    put16(payload + 4, task->first);
    put16(payload + 6, task->count);
    put32(payload + 8, task->option);
    return link_query(link, &question, 0, &reply, problem);
}

static bool read_state(const uint8_t *bytes, struct link_task_state *state) {
    *state = (struct link_task_state){
        .task = (enum wire_task)bytes[0],
        .state = (enum wire_task_state)bytes[1],
        .done = get32(bytes + 2),
        .of = get32(bytes + 6),
        .size = get32(bytes + 10),
        .took_us = get32(bytes + 14),
        .trouble = (enum wire_supply)bytes[18],
        .cycle_ps = get32(bytes + 19),
        .own = get16(bytes + 23),
    };
    return bytes[0] < WIRE_TASKS && bytes[1] <= WIRE_TASK_FAILED && bytes[18] <= WIRE_SUPPLY_GONE &&
           state->cycle_ps > 0;
}

static bool ask_state(struct link *link, struct link_task_state *state, struct problem *problem) {
    const struct question question = {.type = WIRE_TASK_STATE};
    struct reply reply;
    return link_query(link, &question, STATE_BYTES, &reply, problem) &&
           (read_state(reply.bytes, state) || nonsense(link, problem));
}

static bool too_long(const struct link *link, int wait_ms, const struct link_task_state *state,
                     struct problem *problem) {
    char who[LINK_WHO];
    return problem_set(problem, PROBLEM_BENCH,
                       "%s is not done with its task after %d ms (%u of %u); switch it off and on and try "
                       "again",
                       link_who(link, who), wait_ms, state->done, state->of);
}

static bool ended(const struct link *link, const struct link_task *task, const struct link_task_state *state,
                  struct problem *problem) {
    char who[LINK_WHO];
    if (state->state == WIRE_TASK_FAILED) {
        return supply_trouble(link, state->trouble, problem);
    }
    if (state->state != WIRE_TASK_DONE || state->task != task->task) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%s has forgotten its task: it was started anew, or another program uses it; try "
                           "again",
                           link_who(link, who));
    }
    return true;
}

static bool await(struct link *link, const struct link_task *task, int wait_ms, struct link_task_state *state,
                  struct problem *problem) {
    const uint64_t until = link_until(link, wait_ms);
    int pause = LOOK_MS;
    for (;;) {
        if (!ask_state(link, state, problem)) {
            return false;
        }
        if (state->state != WIRE_TASK_RUNNING) {
            return ended(link, task, state, problem);
        }
        if (stop_asked()) {
            return problem_set(problem, PROBLEM_BENCH,
                               "the reading was stopped before its end, as you asked");
        }
        if (link_left_ms(link, until) == 0) {
            return too_long(link, wait_ms, state, problem);
        }
        link_pause(link, pause);
        pause = 2 * pause < LOOK_MOST_MS ? 2 * pause : LOOK_MOST_MS;
    }
}

static bool fetch(struct link *link, uint8_t *result, size_t size, struct problem *problem) {
    struct reply reply;
    for (size_t at = 0; at < size;) {
        const size_t piece = size - at < WIRE_BLOCK ? size - at : WIRE_BLOCK;
        uint8_t payload[6];
        const struct question question = {
            .type = WIRE_TASK_RESULT, .payload = payload, .count = sizeof payload};
        put32(payload, (uint32_t)at);
        put16(payload + 4, (uint16_t)piece);
        if (!link_query(link, &question, piece, &reply, problem)) {
            return false;
        }
        memcpy(result + at, reply.bytes, piece);
        at += piece;
    }
    return true;
}

bool link_task(struct link *link, const struct link_task *task, int wait_ms, uint8_t *result, size_t room,
               size_t *size, struct link_task_state *state, struct problem *problem) {
    *state = (struct link_task_state){.task = task->task};
    *size = 0;
    if (!begin(link, task, problem) || !await(link, task, wait_ms, state, problem)) {
        return false;
    }
    if (state->size > room) {
        return nonsense(link, problem);
    }
    *size = state->size;
    return fetch(link, result, *size, problem);
}
