#include "virtual/reader.h"

#include "core/reader.h"

#include <stdlib.h>
#include <string.h>

enum {
    CYCLE_PS = 8000,    /* 125 MHz */
    OWN = 3,            /* cycles from "go" to the contacts and from the contacts to the sample [P] */
    SOFTWARE_NS = 1000, /* of a sample: the chip's program around it [P] */
    DRIVES_NS = 419,    /* into a write cycle: its second half */
    POLL_NS = 20000,    /* a turn of the chip's main loop that measures nothing */
    QUEUE = 1 << 14     /* bytes each way; a power of two */
};

struct queue {
    uint8_t bytes[QUEUE];
    uint64_t in, out; /* counts ever */
};

struct virtual_reader {
    struct reader reader;
    struct cart_model *cartridge;
    bool in_socket, on, pull_high;
    uint64_t now_ns, pulled_at_ns; /* UINT64_MAX: stays in */
    struct queue input, output;
};

/* ---- the contacts ---- */

static void settle_socket(struct virtual_reader *reader) {
    if (reader->now_ns >= reader->pulled_at_ns) {
        reader->pulled_at_ns = UINT64_MAX;
        virtual_reader_insert(reader, false);
    }
}

static void drive(struct virtual_reader *reader, uint16_t address, uint8_t driven, uint8_t data) {
    settle_socket(reader);
    if (reader->in_socket) {
        cart_model_drive(reader->cartridge, reader->now_ns, address, driven, data);
    }
}

/* after: ns after the last change. */
static uint8_t data_at(struct virtual_reader *reader, uint64_t ns) {
    const uint8_t floating = reader->pull_high ? 0xFF : 0x00;
    return reader->in_socket ? cart_model_data(reader->cartridge, ns, floating) : floating;
}

static uint64_t cycles_ns(unsigned cycles) {
    return (uint64_t)cycles * CYCLE_PS / 1000;
}

/* What the lines show when the board samples `after` cycles after its "go", of which it takes OWN itself. */
static uint8_t change(struct virtual_reader *reader, uint16_t from, uint16_t to, unsigned after) {
    uint8_t byte;
    drive(reader, from, 0, 0);
    reader->now_ns += READER_SETTLE_NS;
    if (after < OWN) {
        byte = data_at(reader, reader->now_ns);
        drive(reader, to, 0, 0);
    } else {
        drive(reader, to, 0, 0);
        reader->now_ns += cycles_ns(after - OWN);
        byte = data_at(reader, reader->now_ns);
    }
    reader->now_ns += SOFTWARE_NS;
    return byte;
}

static uint8_t sample(void *state, uint16_t from, uint16_t to, unsigned after) {
    return change(state, from, to, after);
}

static void read_bytes(void *state, const uint16_t *addresses, uint8_t *bytes, size_t count) {
    struct virtual_reader *reader = state;
    for (size_t i = 0; i < count; i++) {
        drive(reader, addresses[i], 0, 0);
        bytes[i] = data_at(reader, reader->now_ns + READER_TAKES_NS);
        reader->now_ns += READER_PACE_NS;
    }
}

static void write_byte(void *state, uint16_t address, uint8_t value) {
    struct virtual_reader *reader = state;
    drive(reader, address, 0, 0);
    reader->now_ns += DRIVES_NS;
    drive(reader, address, 0xFF, value);
    reader->now_ns += READER_PACE_NS - DRIVES_NS;
}

static uint8_t released(void *state, uint16_t address, bool pull_high, unsigned after) {
    struct virtual_reader *reader = state;
    const bool before = reader->pull_high;
    reader->pull_high = pull_high;
    const uint8_t byte = change(reader, address | 0x1000, address & 0xFFF, after);
    reader->pull_high = before;
    return byte;
}

static void pull(void *state, bool high) {
    struct virtual_reader *reader = state;
    reader->pull_high = high;
}

static void supply(void *state, bool on) {
    struct virtual_reader *reader = state;
    if (on != reader->on && reader->in_socket) {
        cart_model_power(reader->cartridge, reader->now_ns, on);
    }
    reader->on = on;
}

static enum wire_supply supply_state(void *state, bool *on) {
    const struct virtual_reader *reader = state;
    *on = reader->on;
    return WIRE_SUPPLY_GOOD;
}

static uint64_t bus_now(void *state) {
    return virtual_reader_now_us(state);
}

void virtual_reader_insert(struct virtual_reader *reader, bool in) {
    if (in != reader->in_socket && reader->on) {
        cart_model_power(reader->cartridge, reader->now_ns, in);
    }
    reader->in_socket = in;
}

void virtual_reader_pull_after(struct virtual_reader *reader, uint64_t us) {
    reader->pulled_at_ns = reader->now_ns + us * 1000;
}

bool virtual_reader_supply(const struct virtual_reader *reader) {
    return reader->on;
}

uint64_t virtual_reader_now_us(const struct virtual_reader *reader) {
    return reader->now_ns / 1000;
}

/* ---- queues ---- */

static size_t queued(const struct queue *queue) {
    return (size_t)(queue->in - queue->out);
}

static size_t put(struct queue *queue, const uint8_t *bytes, size_t count) {
    size_t done = 0;
    while (done < count && queued(queue) < QUEUE) {
        queue->bytes[queue->in++ % QUEUE] = bytes[done++];
    }
    return done;
}

static size_t take(struct queue *queue, uint8_t *bytes, size_t size) {
    size_t done = 0;
    while (done < size && queued(queue) > 0) {
        bytes[done++] = queue->bytes[queue->out++ % QUEUE];
    }
    return done;
}

static size_t room(void *state) {
    const struct virtual_reader *reader = state;
    return QUEUE - queued(&reader->output);
}

static void send_reply(void *state, const uint8_t *bytes, size_t count) {
    struct virtual_reader *reader = state;
    put(&reader->output, bytes, count);
}

/* ---- a turn of the chip's main loop ---- */

static void feed(struct virtual_reader *reader) {
    struct queue *input = &reader->input;
    while (queued(input) > 0) {
        const size_t at = (size_t)(input->out % QUEUE);
        const size_t count = queued(input) < QUEUE - at ? queued(input) : QUEUE - at;
        const size_t taken =
            reader_input(&reader->reader, 0, input->bytes + at, count, virtual_reader_now_us(reader));
        input->out += taken;
        if (taken < count) {
            return;
        }
    }
}

static bool turn(struct virtual_reader *reader) {
    const uint64_t began = reader->now_ns;
    settle_socket(reader);
    feed(reader);
    const bool more = reader_poll(&reader->reader, virtual_reader_now_us(reader));
    if (reader->now_ns == began) {
        reader->now_ns += POLL_NS;
    }
    return more;
}

/* ---- the wire ---- */

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct virtual_reader *reader = state;
    (void)timeout_ms;
    *done = 0;
    while (*done < count) {
        const size_t now = put(&reader->input, bytes + *done, count - *done);
        *done += now;
        feed(reader);
        if (now == 0 && queued(&reader->input) == QUEUE) {
            return IO_TIMEOUT;
        }
    }
    return IO_OK;
}

/* With no task under way nothing happens until the host's wait is over, but what is looked after now and
 * then. */
static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct virtual_reader *reader = state;
    enum { IDLE_NS = 500000 };
    const uint64_t until = reader->now_ns + (uint64_t)timeout_ms * 1000000;
    for (;;) {
        *done = take(&reader->output, bytes, size);
        if (*done > 0) {
            return IO_OK;
        }
        if (reader->now_ns >= until) {
            return IO_TIMEOUT;
        }
        if (!turn(reader)) {
            reader->now_ns +=
                until > reader->now_ns && until - reader->now_ns < IDLE_NS ? until - reader->now_ns : IDLE_NS;
        }
    }
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    struct virtual_reader *reader = state;
    (void)timeout_ms;
    (void)problem;
    reader->input.out = reader->input.in;
    reader->output.out = reader->output.in;
    reader_port_lost(&reader->reader, 0);
    return true;
}

static uint64_t now_us(void *state) {
    return virtual_reader_now_us(state);
}

static void close_nothing(void *state) {
    (void)state;
}

void virtual_reader_transport(struct virtual_reader *reader, struct transport *transport) {
    *transport = (struct transport){
        .state = reader,
        .name = "virtual",
        .send = send_bytes,
        .receive = receive_bytes,
        .reopen = reopen,
        .now_us = now_us,
        .close = close_nothing,
    };
}

/* ---- start ---- */

static const struct reader_config config = {
    .bus = {.supply = supply,
            .supply_state = supply_state,
            .now_us = bus_now,
            .cycle_ps = CYCLE_PS,
            .own = OWN,
            .sample = sample,
            .read = read_bytes,
            .write = write_byte,
            .released = released,
            .pull = pull},
    .ports = {{.room = room, .send = send_reply}},
    .port_count = 1,
    .serial = {0x56, 0x49, 0x52, 0x54, 0, 0, 0, 2},
};

struct virtual_reader *virtual_reader_new(struct cart_model *cartridge, uint64_t seed,
                                          struct problem *problem) {
    struct virtual_reader *reader = calloc(1, sizeof *reader);
    struct reader_config own = config;
    if (reader == NULL) {
        problem_set(problem, PROBLEM_BENCH, "no memory for the virtual reader; close other programs");
        return NULL;
    }
    (void)seed;
    reader->cartridge = cartridge;
    reader->in_socket = true;
    reader->pulled_at_ns = UINT64_MAX;
    own.bus.state = reader;
    own.ports[0].state = reader;
    reader_start(&reader->reader, &own, 0);
    return reader;
}

void virtual_reader_free(struct virtual_reader *reader) {
    free(reader);
}
