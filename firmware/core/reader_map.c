/* Times from address to data: A12 rising, one address line changing, all twelve. */
#include "core/bytes.h"
#include "core/reader_inside.h"

enum {
    MANNERS = 3,
    RISING = 0,
    ONE = 1,
    ALL = 2,
    LINES = 12,
    A7 = 0x080,
    ALL_LINES = 0xFFF,
    SLOW_SPARE_NS = 100
};

static bool possible(const struct reader_task *task) {
    return task->first >= READER_STANDS && task->count > 0 &&
           task->first + (uint32_t)task->count <= READER_WINDOW + 1U;
}

static uint32_t of(const struct reader_task *task) {
    return task->count;
}

static void begin(struct reader *reader) {
    (void)reader;
}

static bool writes(const struct reader_task *task, uint16_t address) {
    return reader_has_ram(task) && address >= READER_RAM_WRITE && address < READER_RAM_READ;
}

/* Of another bank than the one that is looked at. */
static bool switches(const struct reader_task *task, uint16_t address) {
    const uint8_t bank = cart_hotspot(task->scheme, address);
    return bank != CART_NO_BANK && bank != task->bank;
}

/* Where the lines may come from without changing what is looked at. */
static bool may_stand_at(const struct reader_task *task, uint16_t address) {
    return !writes(task, address) && !switches(task, address);
}

/* Right at once, where the byte at `from` is another: that had not come yet when the lines went on, and what
 * they still showed was the sample's before. */
static bool came_too_late(const struct reader_edge *edge, uint8_t time) {
    return time == 0 && reader_still(edge->reader, edge->from) != edge->right;
}

static uint8_t time_from(struct reader *reader, uint16_t from, uint16_t to, unsigned least, unsigned guess) {
    struct reader_edge edge = {.reader = reader, .kind = EDGE_SAMPLE, .from = from, .to = to};
    uint8_t time = reader_time(&edge, least, guess);
    if (came_too_late(&edge, time)) {
        edge.slow = true;
        time = reader_time(&edge, least, guess);
    }
    return time;
}

/* Of the lines that may change, the slowest: one that is no slower than those before takes few samples. */
static uint8_t slowest_line(struct reader *reader, uint16_t to) {
    uint8_t slowest = 0;
    for (unsigned line = 0; line < LINES && slowest != READER_NEVER_CYCLES; line++) {
        const uint16_t from = (uint16_t)(to ^ 1U << line);
        if (may_stand_at(&reader->task, from)) {
            const uint8_t guess = slowest == 0 ? reader->work.guess[ONE] : slowest;
            slowest = time_from(reader, from, to, slowest, guess);
        }
    }
    return slowest;
}

static void times(struct reader *reader, uint16_t to, uint8_t *result) {
    const struct reader_task *task = &reader->task;
    uint8_t *const guess = reader->work.guess;
    const uint16_t far = to ^ ALL_LINES;
    reader_select(reader, task->bank);
    result[RISING] = time_from(reader, to & ALL_LINES, to, 0, guess[RISING]);
    result[ONE] = slowest_line(reader, to);
    result[ALL] = time_from(reader, may_stand_at(task, far) ? far : far ^ A7, to, 0, guess[ALL]);
    for (int manner = 0; manner < MANNERS; manner++) {
        const bool known = result[manner] != 0 && result[manner] != READER_NEVER_CYCLES;
        guess[manner] = known ? result[manner] : guess[manner];
    }
}

static bool step(struct reader *reader) {
    const uint64_t began = reader_now(reader);
    do {
        const uint16_t to = (uint16_t)(reader->task.first + reader->done);
        uint8_t *const result = reader->result + MANNERS * reader->done;
        if (writes(&reader->task, to)) {
            bytes_fill(result, READER_NEVER_CYCLES, MANNERS);
        } else {
            times(reader, to, result);
        }
        reader->done++;
        if (reader->done == reader->task.count) {
            reader->size = MANNERS * reader->done;
            return true;
        }
    } while (!reader_pause(reader, began));
    return false;
}

const struct reader_kind reader_kind_map = {possible, of, begin, step};
