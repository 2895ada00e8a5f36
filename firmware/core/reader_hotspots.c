/* Hotspots by reads and writes from every bank, and their neighbours, which must switch nothing. */
#include "core/reader_inside.h"

enum { READS, WRITES, MANNERS, LINES = 13, BELOW = 13, ABOVE = 14, PLACES = 15 };

static bool possible(const struct reader_task *task) {
    return cart_banks(task->scheme) > 1 && task->option <= READER_WINDOW &&
           reader_plain_address(task, (uint16_t)task->option);
}

static uint32_t of(const struct reader_task *task) {
    return (uint32_t)((MANNERS + PLACES) * cart_banks(task->scheme) * cart_banks(task->scheme));
}

static void begin(struct reader *reader) {
    (void)reader;
}

/* The neighbour, or 0 where that place has none of this hotspot. */
static uint16_t neighbour(const struct reader_task *task, unsigned place, unsigned hotspot) {
    const unsigned banks = (unsigned)cart_banks(task->scheme);
    uint16_t address = (uint16_t)(reader_hotspot(task->scheme, hotspot) ^ 1U << place);
    if (place >= LINES) {
        const uint16_t lowest = reader_hotspot(task->scheme, 0);
        address = (uint16_t)(hotspot != 0 ? 0 : place == BELOW ? lowest - 1U : lowest + banks);
    }
    return cart_hotspot(task->scheme, address) == CART_NO_BANK ? address : 0;
}

/* The accesses in between are back to back where they are reads. */
static uint8_t after_read(const struct reader *reader, unsigned bank, uint16_t address) {
    const struct reader_bus *bus = &reader->config.bus;
    uint16_t addresses[3] = {reader_hotspot(reader->task.scheme, bank)};
    uint8_t bytes[3];
    size_t count = 1;
    if (address != 0) {
        addresses[count++] = address;
    }
    addresses[count++] = (uint16_t)reader->task.option;
    bus->read(bus->state, addresses, bytes, count);
    return bytes[count - 1];
}

static uint8_t after_write(const struct reader *reader, unsigned bank, uint16_t address) {
    const struct reader_bus *bus = &reader->config.bus;
    reader_select(reader, bank);
    bus->write(bus->state, address, 0);
    return reader_byte(reader, (uint16_t)reader->task.option);
}

static uint8_t measure(const struct reader *reader, uint32_t index) {
    const struct reader_task *task = &reader->task;
    const unsigned banks = (unsigned)cart_banks(task->scheme);
    const unsigned manner = index / (banks * banks), row = index / banks % banks, column = index % banks;
    if (manner >= MANNERS) {
        return after_read(reader, column, neighbour(task, manner - MANNERS, row));
    }
    const uint16_t hotspot = reader_hotspot(task->scheme, column);
    return manner == READS ? after_read(reader, row, hotspot) : after_write(reader, row, hotspot);
}

static bool step(struct reader *reader) {
    const uint64_t began = reader_now(reader);
    do {
        reader->result[reader->done] = measure(reader, reader->done);
        reader->done++;
        if (reader->done == reader->of) {
            reader->size = reader->of;
            return true;
        }
    } while (!reader_pause(reader, began));
    return false;
}

const struct reader_kind reader_kind_hotspots = {possible, of, begin, step};
