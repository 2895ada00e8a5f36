#include "core/fake_bus.h"

#include "core/bytes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

uint8_t fake_byte(int bank, uint16_t address) {
    const unsigned mixed = ((unsigned)address * 40503U + (unsigned)bank * 30011U) ^ (unsigned)address >> 3;
    return (uint8_t)(mixed >> 4);
}

unsigned fake_time(uint16_t from, uint16_t to) {
    const unsigned changed = (from ^ to) & 0x1FFF;
    const unsigned spread = ((unsigned)to * 7919U >> 3) % 40;
    unsigned line = 0;
    while (!(changed >> line & 1) && line < 13) {
        line++;
    }
    if (changed & 0x1000) {
        return 12 + spread;
    }
    return (changed & (changed - 1)) == 0 ? 9 + spread + (line * 5 + to) % 13 : 15 + spread;
}

/* ---- the cartridge ---- */

static bool answers(const struct fake_bus *fake) {
    const uint64_t now_us = fake->now_ns / 1000;
    const uint64_t on_for = now_us - fake->on_at_us;
    const bool away = on_for >= fake->away_us && on_for < fake->back_us;
    return fake->on && !fake->dead && !away && now_us >= fake->answers_from_us &&
           (fake->gone_at_us == 0 || now_us < fake->gone_at_us);
}

static void access(struct fake_bus *fake, uint16_t address) {
    fake->seen[address & 0x1FFF]++;
    if (fake->ram && (address & 0x1F00) == 0x1000) {
        const int cell = address & 0x7F;
        fake->up += cell == fake->cell + 1;
        fake->down += cell == fake->cell - 1;
        fake->cell = cell;
    }
    if (answers(fake) && fake->first_hotspot != 0 && address >= fake->first_hotspot &&
        address < fake->first_hotspot + fake->banks) {
        fake->bank = address - fake->first_hotspot;
    }
    fake->bank = fake->also_at != 0 && address == fake->also_at && answers(fake) ? 0 : fake->bank;
}

static uint8_t pulled(const struct fake_bus *fake) {
    return fake->pull_high ? 0xFF : 0x00;
}

static uint8_t lines(const struct fake_bus *fake, uint8_t byte) {
    return (uint8_t)((byte & ~fake->open) | (pulled(fake) & fake->open));
}

static uint8_t byte_at(const struct fake_bus *fake, uint16_t address) {
    if (!answers(fake)) {
        return pulled(fake);
    }
    if (!(address & 0x1000)) {
        return (uint8_t)((pulled(fake) | fake->held_high) & ~fake->held_low);
    }
    if (fake->ram && address < 0x1080) {
        return pulled(fake);
    }
    return lines(fake, fake->ram && address < 0x1100
                           ? fake->cells[address & 0x7F]
                           : fake_byte(address == fake->same_at ? 0 : fake->bank, address));
}

static void write_cell(struct fake_bus *fake, uint16_t address, uint8_t value) {
    if (fake->ram && (address & 0x1F80) == 0x1000 && answers(fake)) {
        const uint8_t cell = address & 0x7F;
        fake->cells[cell] = cell == fake->stuck_cell ? (uint8_t)(value & ~fake->stuck_mask) : value;
    }
}

/* ---- the bus ---- */

static void supply(void *state, bool on) {
    struct fake_bus *fake = state;
    fake->switched_on += on && !fake->on;
    if (on && !fake->on) {
        fake->on_at_us = fake->now_ns / 1000;
        fake->answers_from_us = fake->now_ns / 1000 + fake->late_us;
        fake->bank = fake->comes_up;
    }
    fake->on = on;
}

static enum wire_supply supply_state(void *state, bool *on) {
    const struct fake_bus *fake = state;
    *on = fake->on;
    return fake->on ? fake->trouble : WIRE_SUPPLY_GOOD;
}

static uint64_t now_us(void *state) {
    const struct fake_bus *fake = state;
    return fake->now_ns / 1000;
}

static uint8_t sample(void *state, uint16_t from, uint16_t to, unsigned after) {
    struct fake_bus *fake = state;
    fake->samples++;
    access(fake, from);
    access(fake, to);
    write_cell(fake, from, 0xA7);
    write_cell(fake, to, 0xA7);
    const uint8_t byte = byte_at(fake, to);
    const unsigned time = from == to ? 0 : fake_time(from, to);
    fake->now_ns += FAKE_SAMPLE_NS;
    const bool late = fake->late_sample != 0 && after == time + fake->late_sample;
    if (fake->two_ways && after >= 250 && from != to && fake->samples % 2 == 0) {
        return (uint8_t)~byte;
    }
    fake->lot = fake->lot * 1664525U + 1013904223U;
    if (fake->wrong_sample_in != 0 && (fake->lot >> 16) % fake->wrong_sample_in == 0) {
        return (uint8_t)~byte;
    }
    return after >= time && !late ? byte : (uint8_t)~byte;
}

static void read_bytes(void *state, const uint16_t *addresses, uint8_t *bytes, size_t count) {
    struct fake_bus *fake = state;
    for (size_t i = 0; i < count; i++) {
        access(fake, addresses[i]);
        write_cell(fake, addresses[i], 0xA7);
        bytes[i] = byte_at(fake, addresses[i]);
        fake->reads++;
        if (fake->unsteady_one_in != 0 && fake->reads % fake->unsteady_one_in == 0) {
            bytes[i] ^= 0x08;
        }
        fake->now_ns += READER_PACE_NS;
    }
}

static void write_byte(void *state, uint16_t address, uint8_t value) {
    struct fake_bus *fake = state;
    fake->writes++;
    access(fake, address);
    write_cell(fake, address, value);
    fake->now_ns += READER_PACE_NS;
}

static uint8_t released(void *state, uint16_t address, bool pull_high, unsigned after) {
    struct fake_bus *fake = state;
    const uint8_t level = pull_high ? 0xFF : 0x00;
    access(fake, address);
    const uint8_t byte = byte_at(fake, address);
    access(fake, address & 0xFFF);
    fake->now_ns += FAKE_SAMPLE_NS;
    return after >= fake->release ? (uint8_t)((level | fake->held_high) & ~fake->held_low) : byte;
}

static void pull(void *state, bool high) {
    struct fake_bus *fake = state;
    fake->pull_high = high;
}

/* ---- the wire ---- */

static size_t room(void *state) {
    const struct fake_bus *fake = state;
    return sizeof fake->out - fake->out_count;
}

static void send_reply(void *state, const uint8_t *bytes, size_t count) {
    struct fake_bus *fake = state;
    memcpy(fake->out + fake->out_count, bytes, count);
    fake->out_count += count;
}

static void no_loader(void *chip) {
    struct fake_bus *fake = chip;
    fake->loader_with_supply = fake->on;
    fake->in_loader = true;
}

void fake_bus_start(struct fake_bus *fake, int scheme, bool ram) {
    static const uint16_t hotspots[] = {0, 0, 0x1FF8, 0x1FF6, 0x1FF4}; /* [P] */
    static const int banks[] = {1, 1, 2, 4, 8};
    *fake = (struct fake_bus){.banks = banks[scheme],
                              .comes_up = banks[scheme] - 1,
                              .first_hotspot = hotspots[scheme],
                              .ram = ram,
                              .release = 6,
                              .pull_high = true,
                              .now_ns = 1000};
}

void fake_bus_config(struct fake_bus *fake, struct reader_config *config) {
    *config = (struct reader_config){.bus = {.state = fake,
                                             .supply = supply,
                                             .supply_state = supply_state,
                                             .now_us = now_us,
                                             .cycle_ps = FAKE_CYCLE_PS,
                                             .own = FAKE_OWN,
                                             .sample = sample,
                                             .read = read_bytes,
                                             .write = write_byte,
                                             .released = released,
                                             .pull = pull},
                                     .ports = {{.state = fake, .room = room, .send = send_reply}},
                                     .port_count = 1,
                                     .serial = {1, 2, 3, 4, 5, 6, 7, 8},
                                     .chip = fake,
                                     .loader = no_loader};
}

/* ---- talk ---- */

static bool take_answer(struct fake_bus *fake, struct fake_answer *answer) {
    static struct frame_decoder decoder;
    struct frame_in in;
    bool found = false;
    frame_start(&decoder);
    for (size_t i = 0; i < fake->out_count; i++) {
        if (frame_feed(&decoder, fake->out[i], &in) && in.type != WIRE_LOG) {
            answer->type = in.type;
            answer->sequence = in.sequence;
            answer->count = in.count;
            memcpy(answer->payload, in.payload, in.count);
            found = true;
        }
    }
    fake->out_count = 0;
    return found;
}

bool fake_ask(struct reader *reader, struct fake_bus *fake, uint8_t type, uint8_t sequence,
              const uint8_t *payload, size_t count, struct fake_answer *answer) {
    uint8_t wire[WIRE_FRAME_MAX];
    const size_t length = frame_encode(type, sequence, payload, count, wire);
    *answer = (struct fake_answer){0};
    fake->out_count = 0;
    reader_input(reader, 0, wire, length, fake->now_ns / 1000);
    return take_answer(fake, answer);
}

int fake_task(struct reader *reader, struct fake_bus *fake, const struct reader_task *task,
              uint8_t sequence) {
    uint8_t ask[12] = {task->task, task->scheme, task->flags, task->bank};
    struct fake_answer answer;
    put16(ask + 4, task->first);
    put16(ask + 6, task->count);
    put32(ask + 8, task->option);
    return fake_ask(reader, fake, WIRE_TASK, sequence, ask, sizeof ask, &answer) ? answer.payload[0] : -1;
}

uint64_t fake_run(struct reader *reader, struct fake_bus *fake, uint64_t limit_us) {
    enum { IDLE_NS = 10000 };
    const uint64_t until = fake->now_ns + limit_us * 1000;
    uint64_t longest = 0;
    bool more = true;
    while (more && fake->now_ns < until) {
        const uint64_t began = fake->now_ns;
        fake->out_count = 0;
        more = reader_poll(reader, began / 1000);
        longest = fake->now_ns - began > longest ? fake->now_ns - began : longest;
        fake->now_ns += fake->now_ns == began ? IDLE_NS : 0;
    }
    return longest / 1000;
}

void fake_begin(struct reader *reader, struct fake_bus *fake, int scheme, bool ram) {
    struct reader_config config;
    fake_bus_start(fake, scheme, ram);
    fake_bus_config(fake, &config);
    reader_start(reader, &config, fake->now_ns / 1000);
}

bool fake_is_hot(const struct fake_bus *fake, uint16_t address) {
    return fake->first_hotspot != 0 && address >= fake->first_hotspot &&
           address < fake->first_hotspot + fake->banks;
}

uint32_t fake_whole_task(struct reader *reader, struct fake_bus *fake, const struct reader_task *task,
                         uint32_t size) {
    enum { MOST_US = 100000000 };
    struct fake_answer answer;
    static uint8_t sequence;
    assert_int_equal(fake_task(reader, fake, task, ++sequence), WIRE_OK);
    fake_run(reader, fake, MOST_US);
    assert_true(fake_ask(reader, fake, WIRE_TASK_STATE, ++sequence, NULL, 0, &answer));
    assert_int_equal(answer.payload[2], WIRE_TASK_DONE);
    assert_int_equal(get32(answer.payload + 11), size);
    return get32(answer.payload + 15);
}
