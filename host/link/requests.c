/* The plain questions: status, watch, select, read, abort, log level, loader. */
#include "core/bytes.h"
#include "link/inside.h"

#include <string.h>

enum {
    STATUS_BYTES = 24, /* of a reply, after its status */
    WATCH_BYTES = 48
};

static bool nonsense(const struct link *link, uint8_t type, const char *what, struct problem *problem) {
    char who[LINK_WHO];
    return problem_set(problem, PROBLEM_BENCH, "%s answered %s with %s that cannot be: renew its firmware",
                       link_who(link, who), link_message_name(type), what);
}

/* ---- status ---- */

static void read_status(const uint8_t *bytes, struct link_status *status) {
    *status = (struct link_status){
        .state = (enum wire_state)bytes[0],
        .generation = get32(bytes + 1),
        .crc = get32(bytes + 5),
        .size = (size_t)bytes[9] * 1024,
        .scheme = (enum wire_scheme)bytes[10],
        .flags = bytes[11],
        .select = (enum wire_select)bytes[12],
        .step = bytes[13],
        .start = (enum wire_start)bytes[14],
        .supply = bytes[15] != 0,
        .uptime_ms = get32(bytes + 16),
        .bad_frames = get32(bytes + 20),
    };
}

bool link_status(struct link *link, struct link_status *status, struct problem *problem) {
    const struct question question = {.type = WIRE_STATUS};
    struct reply reply;
    if (!link_query(link, &question, STATUS_BYTES, &reply, problem)) {
        return false;
    }
    const uint8_t *bytes = reply.bytes;
    if (bytes[0] > WIRE_HANDING || bytes[10] >= WIRE_SCHEMES || bytes[12] >= WIRE_SELECTS ||
        bytes[14] > WIRE_START_FORCED || bytes[9] * 1024 > WIRE_IMAGE_MAX) {
        return nonsense(link, WIRE_STATUS, "a value", problem);
    }
    read_status(bytes, status);
    return true;
}

/* ---- watch ---- */

static int read_age(const uint8_t *bytes) {
    const uint16_t age = get16(bytes);
    return age == 0xFFFF ? -1 : age;
}

static void read_watch(const uint8_t *bytes, struct link_watch *watch) {
    *watch = (struct link_watch){
        .supply = bytes[0] != 0,
        .age_ms = read_age(bytes + 1),
        .cycles = get32(bytes + 3),
        .resets = get32(bytes + 7),
        .vsyncs = get32(bytes + 11),
        .mailbox = get32(bytes + 15),
        .missed = get32(bytes + 19),
        .high = get16(bytes + 23),
        .low = get16(bytes + 25),
        .echoed_low = (bytes[27] & 1) != 0,
        .echoed_high = (bytes[27] & 2) != 0,
        .echoed_step = (bytes[27] & 4) != 0,
        .vector_low = bytes[28],
        .vector_high = bytes[29],
        .step = bytes[30],
        .traced = bytes[31],
    };
    for (int i = 0; i < watch->traced; i++) {
        watch->trace[i] = get16(bytes + 32 + 2 * i);
    }
}

bool link_watch(struct link *link, struct link_watch *watch, struct problem *problem) {
    const struct question question = {.type = WIRE_WATCH};
    struct reply reply;
    if (!link_query(link, &question, WATCH_BYTES, &reply, problem)) {
        return false;
    }
    if (reply.bytes[31] > WIRE_TRACE) {
        return nonsense(link, WIRE_WATCH, "a trace", problem);
    }
    read_watch(reply.bytes, watch);
    return true;
}

/* ---- the rest ---- */

bool link_select(struct link *link, enum wire_select mode, int step, struct problem *problem) {
    const uint8_t payload[] = {(uint8_t)mode, (uint8_t)step};
    const struct question question = {.type = WIRE_SELECT, .payload = payload, .count = sizeof payload};
    struct reply reply;
    if (step < 0 || step > 255) {
        return problem_set(problem, PROBLEM_INPUT, "step %d cannot be held; give 0 to 255", step);
    }
    return link_query(link, &question, 0, &reply, problem);
}

bool link_read(struct link *link, uint32_t offset, uint8_t *bytes, size_t count, struct problem *problem) {
    struct reply reply;
    for (size_t at = 0; at < count;) {
        const size_t piece = count - at < WIRE_BLOCK ? count - at : WIRE_BLOCK;
        uint8_t payload[6];
        const struct question question = {.type = WIRE_READ, .payload = payload, .count = sizeof payload};
        put32(payload, offset + (uint32_t)at);
        put16(payload + 4, (uint16_t)piece);
        if (!link_query(link, &question, piece, &reply, problem)) {
            return false;
        }
        memcpy(bytes + at, reply.bytes, piece);
        at += piece;
    }
    return true;
}

bool link_abort(struct link *link, struct problem *problem) {
    const struct question question = {.type = WIRE_ABORT};
    struct reply reply;
    return link_query(link, &question, 0, &reply, problem);
}

bool link_log_level(struct link *link, int level, struct problem *problem) {
    const uint8_t payload[] = {(uint8_t)level};
    const struct question question = {.type = WIRE_LOG_LEVEL, .payload = payload, .count = sizeof payload};
    struct reply reply;
    if (level < 0 || level > 2) {
        return problem_set(problem, PROBLEM_INPUT,
                           "log level %d is none; give 0 (off), 1 (trouble) or 2 (all)", level);
    }
    return link_query(link, &question, 0, &reply, problem);
}

bool link_loader(struct link *link, struct problem *problem) {
    uint8_t payload[4];
    const struct question question = {.type = WIRE_LOADER, .payload = payload, .count = sizeof payload};
    struct reply reply;
    put32(payload, WIRE_LOADER_KEY);
    return link_query(link, &question, 0, &reply, problem);
}
