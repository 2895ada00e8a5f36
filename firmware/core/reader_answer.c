/* The messages of a reader. */
#include "core/bytes.h"
#include "core/reader_inside.h"

enum {
    ROOM_USUAL = 80,
    LATE_MOST = 200 /* requests: a host's sequence number comes round after 256 */
};

/* Writes the reply, its status first, and returns its length. The payload's length was checked. */
typedef size_t answerer(struct reader *reader, int port, const struct frame_in *in, uint8_t *reply);

static size_t just(uint8_t *reply, enum wire_status status) {
    reply[0] = (uint8_t)status;
    return 1;
}

static size_t hello(struct reader *reader, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    reader->begun = -1;
    return ports_hello(in->payload, WIRE_CAN_READ | (reader->config.loader ? WIRE_CAN_LOADER : 0),
                       reader->config.serial, reply);
}

static size_t log_level(struct reader *reader, int port, const struct frame_in *in, uint8_t *reply) {
    return just(reply, ports_log_level(&reader->ports[port], in->payload));
}

static size_t loader(struct reader *reader, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    if (!reader->config.loader) {
        return just(reply, WIRE_BAD_VALUE);
    }
    return just(reply, ports_loader(in->payload, reader->now, &reader->loader_at));
}

static size_t supply(struct reader *reader, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    bool on = false;
    if (in->payload[0] > 1) {
        return just(reply, WIRE_BAD_VALUE);
    }
    if (in->payload[0] == 0 && reader->on) {
        reader_trip(reader, WIRE_SUPPLY_GOOD);
    } else if (in->payload[0] == 1 && !reader->on) {
        reader->trouble = WIRE_SUPPLY_GOOD;
        reader_supply(reader, true);
    }
    const enum wire_supply found = reader->config.bus.supply_state(reader->config.bus.state, &on);
    reply[0] = WIRE_OK;
    reply[1] = on;
    reply[2] = on ? (uint8_t)found : reader->trouble;
    return 3;
}

/* ---- tasks ---- */

static void read_task(const uint8_t *ask, struct reader_task *task) {
    task->task = ask[0];
    task->scheme = ask[1];
    task->flags = ask[2];
    task->bank = ask[3];
    task->first = get16(ask + 4);
    task->count = get16(ask + 6);
    task->option = get32(ask + 8);
}

static bool same(const struct reader_task *a, const struct reader_task *b) {
    return a->task == b->task && a->scheme == b->scheme && a->flags == b->flags && a->bank == b->bank &&
           a->first == b->first && a->count == b->count && a->option == b->option;
}

static bool possible(const struct reader_task *task) {
    const struct reader_kind *kind = reader_kind(task->task);
    return kind != NULL && cart_size(task->scheme) != 0 && (task->flags & ~WIRE_IMAGE_RAM) == 0 &&
           task->bank < cart_banks(task->scheme) && kind->possible(task);
}

static size_t begin(struct reader *reader, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    struct reader_task task;
    read_task(in->payload, &task);
    const bool again = same(&task, &reader->task);
    if (reader->state == WIRE_TASK_RUNNING) {
        return just(reply, again ? WIRE_OK : WIRE_BUSY);
    }
    /* One that the line delivers once more after its task has ended must not start another. */
    if (again && reader->begun == in->sequence && reader->begun_ago < LATE_MOST) {
        return just(reply, WIRE_OK);
    }
    if (!possible(&task)) {
        return just(reply, WIRE_BAD_VALUE);
    }
    reader->task = task;
    reader->state = WIRE_TASK_RUNNING;
    reader->stage = 0;
    reader->trouble = WIRE_SUPPLY_GOOD;
    reader->done = 0;
    reader->of = reader_kind(task.task)->of(&task);
    reader->size = 0;
    reader->took_us = 0;
    reader->begun = in->sequence;
    reader->begun_ago = 0;
    return just(reply, WIRE_OK);
}

static size_t state(struct reader *reader, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    (void)in;
    const bool done = reader->state == WIRE_TASK_DONE;
    reply[0] = WIRE_OK;
    reply[1] = reader->task.task;
    reply[2] = reader->state;
    put32(reply + 3, reader->done);
    put32(reply + 7, reader->of);
    put32(reply + 11, done ? reader->size : 0);
    put32(reply + 15, (uint32_t)reader->took_us);
    reply[19] = reader->trouble;
    put32(reply + 20, reader->config.bus.cycle_ps);
    put16(reply + 24, reader->config.bus.own);
    return 26;
}

static size_t result(struct reader *reader, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    const uint32_t offset = get32(in->payload);
    const size_t count = get16(in->payload + 4);
    if (reader->state != WIRE_TASK_DONE) {
        return just(reply, WIRE_NOT_BEGUN);
    }
    if (count < 1 || count > WIRE_BLOCK || offset > reader->size || count > reader->size - offset) {
        return just(reply, WIRE_BAD_VALUE);
    }
    bytes_copy(reply + 1, reader->result + offset, count);
    return just(reply, WIRE_OK) + count;
}

static const struct message {
    uint8_t type, length;
    answerer *answer;
} messages[] = {
    {WIRE_HELLO, 2, hello},        {WIRE_LOG_LEVEL, 1, log_level}, {WIRE_LOADER, 4, loader},
    {WIRE_SUPPLY, 1, supply},      {WIRE_TASK, 12, begin},         {WIRE_TASK_STATE, 0, state},
    {WIRE_TASK_RESULT, 6, result},
};

static const struct message *find(uint8_t type) {
    for (size_t i = 0; i < sizeof messages / sizeof messages[0]; i++) {
        if (messages[i].type == type) {
            return &messages[i];
        }
    }
    return NULL;
}

size_t reader_answer_room(uint8_t type) {
    return type == WIRE_TASK_RESULT ? WIRE_FRAME_MAX : ROOM_USUAL;
}

void reader_answer(void *state_of, int port, const struct frame_in *in) {
    struct reader *reader = state_of;
    const struct port_ops *ops = &reader->config.ports[port];
    const struct message *message = find(in->type);
    reader->heard_at = reader->now;
    if (!message || message->length != in->count) {
        ports_refuse(ops, reader->wire, in, message ? WIRE_BAD_LENGTH : WIRE_UNKNOWN);
        return;
    }
    if (reader->begun_ago < LATE_MOST) {
        reader->begun_ago++;
    }
    const size_t count = message->answer(reader, port, in, reader->scratch);
    ports_send(ops, reader->wire, in->type | WIRE_REPLY, in->sequence, reader->scratch, count);
}
