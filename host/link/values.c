/* Values for the console to show in turn. */
#include "core/bytes.h"
#include "link/inside.h"

enum {
    HEAD = 6, /* of a request */
    ITEM = 3, /* bytes of a value */
    VALUE_MAX = 0xFFFFFF,
    ANSWER = 10 /* bytes of a reply, after its status */
};

static bool put_values(const uint32_t *values, size_t count, uint8_t *items, struct problem *problem) {
    for (size_t i = 0; i < count; i++) {
        if (values[i] > VALUE_MAX) {
            return problem_set(problem, PROBLEM_INPUT, "value %u is none that a board can take; give 0 to %u",
                               (unsigned)values[i], (unsigned)VALUE_MAX);
        }
        put16(items + ITEM * i, (uint16_t)values[i]);
        items[ITEM * i + 2] = (uint8_t)(values[i] >> 16);
    }
    return true;
}

static bool ask(struct link *link, const struct question *question, struct reply *reply,
                struct problem *problem) {
    char who[LINK_WHO];
    if (!link_query(link, question, SIZE_MAX, reply, problem)) {
        return false;
    }
    if (reply->count != ANSWER || reply->bytes[0] != question->payload[0]) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%s answered values with what cannot be: renew its firmware", link_who(link, who));
    }
    return true;
}

bool link_values(struct link *link, uint8_t stream, uint32_t first, const uint32_t *values, size_t count,
                 struct link_queue *queue, struct problem *problem) {
    char who[LINK_WHO];
    uint8_t payload[HEAD + ITEM * WIRE_VALUES_MAX] = {stream};
    struct reply reply;
    if ((link->facts.capabilities & WIRE_CAN_VALUES) == 0) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%s cannot tell the console which picture comes next: renew its firmware",
                           link_who(link, who));
    }
    count = count < WIRE_VALUES_MAX ? count : WIRE_VALUES_MAX;
    put32(payload + 1, first);
    payload[HEAD - 1] = (uint8_t)count;
    if (!put_values(values, count, payload + HEAD, problem)) {
        return false;
    }
    const struct question question = {.type = WIRE_VALUES, .payload = payload, .count = HEAD + ITEM * count};
    if (!ask(link, &question, &reply, problem)) {
        return false;
    }
    *queue = (struct link_queue){
        .next = get32(reply.bytes + 1), .taken = get32(reply.bytes + 5), .room = reply.bytes[9]};
    return true;
}
