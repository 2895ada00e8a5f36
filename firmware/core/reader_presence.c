/* Whether something drives the data lines: they are pulled to either level and looked at. */
#include "core/reader_inside.h"

enum {
    PROBES = 16,
    PROBE_FIRST = 0x1900, /* above any RAM, in the half that a 2 KiB image has to itself */
    PROBE_STEP = 0x6D,    /* so that no probe is a hotspot: the last is $1F63 */
    MOST_LINES = 5,
    LOOKS = 4
};

unsigned reader_steady(const struct reader *reader) {
    const unsigned cycles = READER_STEADY_NS * 1000U / reader->config.bus.cycle_ps + reader->config.bus.own;
    return cycles < READER_AFTER_MOST ? cycles : READER_AFTER_MOST;
}

uint8_t reader_still(const struct reader *reader, uint16_t address) {
    const struct reader_bus *bus = &reader->config.bus;
    return bus->sample(bus->state, address, address, reader_steady(reader));
}

uint8_t reader_floats(const struct reader *reader, uint16_t address) {
    const struct reader_bus *bus = &reader->config.bus;
    bus->pull(bus->state, false);
    const uint8_t low = reader_still(reader, address);
    bus->pull(bus->state, true);
    const uint8_t high = reader_still(reader, address);
    return (uint8_t)(high & ~low);
}

static uint16_t probe(unsigned number) {
    return (uint16_t)(PROBE_FIRST + PROBE_STEP * number);
}

uint8_t reader_floats_all(const struct reader *reader) {
    uint8_t floats = 0xFF;
    for (unsigned i = 0; i < PROBES; i++) {
        floats &= reader_floats(reader, probe(i));
    }
    return floats;
}

static unsigned lines(uint8_t mask) {
    unsigned count = 0;
    for (; mask != 0; mask &= (uint8_t)(mask - 1)) {
        count++;
    }
    return count;
}

bool reader_answers(const struct reader *reader) {
    for (unsigned i = 0; i < PROBES; i++) {
        if (lines((uint8_t)~reader_floats(reader, probe(i))) >= MOST_LINES) {
            return true;
        }
    }
    return false;
}

/* Asked several times before it is believed: a contact that comes and goes is another thing. */
bool reader_gone(const struct reader *reader) {
    for (int look = 0; look < LOOKS; look++) {
        if (reader_answers(reader)) {
            return false;
        }
    }
    return true;
}
