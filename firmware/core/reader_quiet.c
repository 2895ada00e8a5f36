/* With A12 = 0 the cartridge must leave the data lines alone: they follow a pull to either level. */
#include "core/bytes.h"
#include "core/reader_inside.h"

enum { ADDRESSES = 0x1000, BLOCK = 64, RESULT = 6 };

static bool possible(const struct reader_task *task) {
    (void)task;
    return true;
}

static uint32_t of(const struct reader_task *task) {
    (void)task;
    return ADDRESSES;
}

static void begin(struct reader *reader) {
    bytes_fill(reader->result, 0, RESULT);
}

/* Bit i: at the block's address i some line did not follow. */
static uint64_t held(const struct reader *reader, bool high, uint8_t *lines) {
    const struct reader_bus *bus = &reader->config.bus;
    const unsigned steady = reader_steady(reader);
    uint64_t found = 0;
    bus->pull(bus->state, high);
    for (unsigned i = 0; i < BLOCK; i++) {
        const uint16_t address = (uint16_t)(reader->done + i);
        const uint8_t differs = bus->sample(bus->state, address, address, steady) ^ (high ? 0xFF : 0x00);
        *lines |= differs;
        found |= (uint64_t)(differs != 0) << i;
    }
    bus->pull(bus->state, true);
    return found;
}

static bool step(struct reader *reader) {
    const uint64_t began = reader_now(reader);
    do {
        const uint64_t low = held(reader, true, &reader->result[0]);
        const uint64_t high = held(reader, false, &reader->result[1]);
        for (uint64_t left = low | high; left != 0; left &= left - 1) {
            reader->work.differing++;
        }
        reader->done += BLOCK;
        if (reader->done == reader->of) {
            put32(reader->result + 2, reader->work.differing);
            reader->size = RESULT;
            return true;
        }
    } while (!reader_pause(reader, began));
    return false;
}

const struct reader_kind reader_kind_quiet = {possible, of, begin, step};
