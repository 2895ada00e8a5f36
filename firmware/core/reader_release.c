/* How soon the cartridge lets the data lines go when A12 falls. */
#include "core/reader_inside.h"

static bool possible(const struct reader_task *task) {
    bool plain = task->count > 0;
    for (uint32_t address = task->first; plain && address < task->first + (uint32_t)task->count; address++) {
        plain = address <= READER_WINDOW && reader_plain_address(task, (uint16_t)address);
    }
    return plain;
}

static uint32_t of(const struct reader_task *task) {
    return task->count;
}

static void begin(struct reader *reader) {
    reader_select(reader, reader->task.bank);
}

static uint8_t time_to(struct reader *reader, uint16_t address, enum reader_edge_kind kind) {
    uint8_t *const guess = &reader->work.guess[kind == EDGE_TO_HIGH];
    struct reader_edge edge = {.reader = reader, .kind = kind, .from = address};
    const uint8_t time = reader_time(&edge, 0, *guess);
    *guess = time == 0 || time == READER_NEVER_CYCLES ? *guess : time;
    return time;
}

static bool step(struct reader *reader) {
    const uint64_t began = reader_now(reader);
    do {
        const uint16_t address = (uint16_t)(reader->task.first + reader->done);
        reader->result[2 * reader->done] = time_to(reader, address, EDGE_TO_HIGH);
        reader->result[2 * reader->done + 1] = time_to(reader, address, EDGE_TO_LOW);
        reader->done++;
        if (reader->done == reader->of) {
            reader->size = 2 * reader->of;
            return true;
        }
    } while (!reader_pause(reader, began));
    return false;
}

const struct reader_kind reader_kind_release = {possible, of, begin, step};
