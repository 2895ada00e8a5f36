/* Which tasks there are, and what they share. */
#include "core/reader_inside.h"

const struct reader_kind *reader_kind(uint8_t task) {
    static const struct reader_kind *const kinds[WIRE_TASKS] = {
        [WIRE_TASK_READ] = &reader_kind_read,         [WIRE_TASK_MAP] = &reader_kind_map,
        [WIRE_TASK_HOTSPOTS] = &reader_kind_hotspots, [WIRE_TASK_RELEASE] = &reader_kind_release,
        [WIRE_TASK_RAM] = &reader_kind_ram,           [WIRE_TASK_WAKE] = &reader_kind_wake,
        [WIRE_TASK_QUIET] = &reader_kind_quiet,
    };
    return task < WIRE_TASKS ? kinds[task] : NULL;
}

uint16_t reader_hotspot(uint8_t scheme, unsigned bank) {
    for (unsigned address = CART_HOTSPOTS; address <= READER_WINDOW; address++) {
        if (cart_hotspot(scheme, (uint16_t)address) == bank) {
            return (uint16_t)address;
        }
    }
    return 0;
}

uint8_t reader_byte(const struct reader *reader, uint16_t address) {
    const struct reader_bus *bus = &reader->config.bus;
    uint8_t byte;
    bus->read(bus->state, &address, &byte, 1);
    return byte;
}

void reader_select(const struct reader *reader, unsigned bank) {
    const uint16_t address = reader_hotspot(reader->task.scheme, bank);
    if (address != 0) {
        reader_byte(reader, address);
    }
}

bool reader_has_ram(const struct reader_task *task) {
    return (task->flags & WIRE_IMAGE_RAM) != 0;
}

bool reader_plain_address(const struct reader_task *task, uint16_t address) {
    const bool window = address >= READER_STANDS && address <= READER_WINDOW;
    const bool writes = reader_has_ram(task) && address < READER_RAM_READ;
    return window && !writes && cart_hotspot(task->scheme, address) == CART_NO_BANK;
}

bool reader_pause(const struct reader *reader, uint64_t began) {
    return reader_now(reader) - began >= READER_PIECE_US;
}
