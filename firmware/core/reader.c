/* Start, ports, supply, and the course of a task: voltage, an answer from the cartridge, its pieces. */
#include "core/reader.h"

#include "core/bytes.h"
#include "core/reader_inside.h"

enum { NEVER = 0, VOLTAGE_US = 100000, LOOK_US = 100000 };
enum stage { STAGE_VOLTAGE, STAGE_ANSWER, STAGE_WORK };

void reader_start(struct reader *reader, const struct reader_config *config, uint64_t now_us) {
    bytes_fill((uint8_t *)reader, 0, sizeof *reader);
    reader->config = *config;
    reader->now = now_us;
    reader->heard_at = now_us;
    reader->loader_at = NEVER;
    reader->begun = -1;
    for (int port = 0; port < BOARD_PORTS; port++) {
        frame_start(&reader->ports[port].decoder);
    }
    config->bus.supply(config->bus.state, false);
    config->bus.pull(config->bus.state, true);
}

static const struct ports_server server = {reader_answer_room, reader_answer};

size_t reader_input(struct reader *reader, int port, const uint8_t *bytes, size_t count, uint64_t now_us) {
    reader->now = now_us;
    return ports_input(&server, reader, &reader->config.ports[port], &reader->ports[port], port, bytes,
                       count);
}

void reader_port_lost(struct reader *reader, int port) {
    frame_start(&reader->ports[port].decoder);
    reader->ports[port].log_level = 0;
}

uint64_t reader_now(const struct reader *reader) {
    return reader->config.bus.now_us(reader->config.bus.state);
}

/* ---- supply ---- */

void reader_supply(struct reader *reader, bool on) {
    reader->config.bus.supply(reader->config.bus.state, on);
    reader->on = on;
    reader->on_at = reader_now(reader);
    reader->awake = false;
}

static void tell(struct reader *reader, enum wire_supply trouble) {
    static const char *const texts[] = {
        [WIRE_SUPPLY_GOOD] = "the supply is switched off",
        [WIRE_SUPPLY_OVERLOAD] = "the supply's limiter tripped; it is off",
        [WIRE_SUPPLY_MISSING] = "switched on, and no voltage came; the supply is off",
        [WIRE_SUPPLY_GONE] = "the cartridge answers no more; the supply is off",
    };
    ports_log(reader->config.ports, reader->ports, reader->config.port_count, reader->wire, 1,
              texts[trouble]);
}

void reader_trip(struct reader *reader, enum wire_supply trouble) {
    reader_supply(reader, false);
    reader->trouble = (uint8_t)trouble;
    if (reader->state == WIRE_TASK_RUNNING) {
        reader->state = WIRE_TASK_FAILED;
        reader->size = 0;
    }
    tell(reader, trouble);
}

/* False: there is trouble, and the supply is off. */
static bool supply_holds(struct reader *reader) {
    bool on = false;
    const enum wire_supply found = reader->config.bus.supply_state(reader->config.bus.state, &on);
    const bool waits = found == WIRE_SUPPLY_MISSING && reader_now(reader) - reader->on_at < VOLTAGE_US;
    if (found != WIRE_SUPPLY_GOOD && !waits) {
        reader_trip(reader, found);
        return false;
    }
    return true;
}

static bool has_voltage(const struct reader *reader) {
    bool on = false;
    return reader->config.bus.supply_state(reader->config.bus.state, &on) == WIRE_SUPPLY_GOOD && on;
}

/* ---- the course of a task ---- */

static void await_voltage(struct reader *reader) {
    if (!reader->on) {
        reader_supply(reader, true);
    }
    if (supply_holds(reader) && has_voltage(reader)) {
        reader->stage = STAGE_ANSWER;
    }
}

/* One that never answered is measured all the same: what is read then is a finding. */
static void await_answer(struct reader *reader) {
    const bool late = reader_now(reader) - reader->on_at >= READER_WAKE_US;
    if (!reader->awake) {
        reader->awake = reader_answers(reader);
        reader->prompt = reader->awake && !late;
    }
    if (reader->awake || late) {
        reader->stage = STAGE_WORK;
        reader->began = reader_now(reader);
        bytes_fill((uint8_t *)&reader->work, 0, sizeof reader->work);
        reader_kind(reader->task.task)->begin(reader);
    }
}

static void work(struct reader *reader) {
    const bool done = reader_kind(reader->task.task)->step(reader);
    if (reader->state != WIRE_TASK_RUNNING || !supply_holds(reader)) {
        return;
    }
    if (reader->awake && reader_gone(reader)) {
        reader_trip(reader, WIRE_SUPPLY_GONE);
    } else if (done) {
        reader->state = WIRE_TASK_DONE;
        reader->done = reader->of;
        reader->took_us = reader_now(reader) - reader->began;
    }
}

static void run(struct reader *reader) {
    switch (reader->stage) {
    case STAGE_VOLTAGE:
        await_voltage(reader);
        break;
    case STAGE_ANSWER:
        await_answer(reader);
        break;
    default:
        work(reader);
    }
}

/* Between tasks, now and then: a cartridge that is pulled out takes the supply with it. */
static void look_after(struct reader *reader) {
    if (supply_holds(reader) && reader->awake && reader->now - reader->looked_at >= LOOK_US) {
        reader->looked_at = reader->now;
        if (reader_gone(reader)) {
            reader_trip(reader, WIRE_SUPPLY_GONE);
        }
    }
}

bool reader_poll(struct reader *reader, uint64_t now_us) {
    reader->now = now_us;
    if (reader->loader_at != NEVER && now_us >= reader->loader_at && reader->config.loader) {
        reader->loader_at = NEVER;
        reader_supply(reader, false);
        reader->config.loader(reader->config.chip);
    }
    const bool running = reader->state == WIRE_TASK_RUNNING;
    if ((reader->on || running) && now_us - reader->heard_at >= READER_SILENCE_US) {
        reader_trip(reader, WIRE_SUPPLY_GOOD);
    } else if (running) {
        run(reader);
    } else if (reader->on) {
        look_after(reader);
    }
    return reader->state == WIRE_TASK_RUNNING;
}
