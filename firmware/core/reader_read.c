/* All bytes, several times over. */
#include "core/bytes.h"
#include "core/reader_inside.h"

enum { CHUNK = 128, NOT_KEPT = 0xFFFF, SPARE = 3, DEFAULT_PASSES = 2, PASSES_MAX = 65535 };

struct chunk {
    uint16_t addresses[CHUNK], places[CHUNK]; /* places in the image */
    uint8_t bytes[CHUNK];
    size_t count;
};

static bool possible(const struct reader_task *task) {
    return task->option <= PASSES_MAX;
}

static uint32_t passes(const struct reader_task *task) {
    return task->option == 0 ? DEFAULT_PASSES : task->option;
}

static uint32_t of(const struct reader_task *task) {
    return passes(task) * (uint32_t)cart_size(task->scheme);
}

static size_t bank_bytes(const struct reader_task *task) {
    const size_t size = cart_size(task->scheme);
    return size < CART_WINDOW ? size : CART_WINDOW;
}

static uint16_t lowest(const struct reader_task *task) {
    const uint16_t first = (uint16_t)(READER_WINDOW + 1 - bank_bytes(task));
    return reader_has_ram(task) && first < READER_RAM_END ? READER_RAM_END : first;
}

static void begin(struct reader *reader) {
    bytes_fill(reader->result, 0, 2 * cart_size(reader->task.scheme));
    reader->work.address = lowest(&reader->task);
}

static void add(struct chunk *chunk, uint16_t address, size_t place) {
    chunk->addresses[chunk->count] = address;
    chunk->places[chunk->count++] = (uint16_t)place;
}

static void next_bank(struct reader *reader) {
    struct reader_work *work = &reader->work;
    work->address = lowest(&reader->task);
    work->bank++;
    if (work->bank == cart_banks(reader->task.scheme)) {
        work->bank = 0;
        work->pass++;
        reader->done = work->pass * (uint32_t)cart_size(reader->task.scheme);
    }
}

/* The accesses up to the bank's end or the chunk's. */
static void gather(struct reader *reader, struct chunk *chunk) {
    struct reader_work *work = &reader->work;
    const struct reader_task *task = &reader->task;
    const uint16_t own = reader_hotspot(task->scheme, work->bank);
    const size_t bytes = bank_bytes(task);
    chunk->count = 0;
    if (work->address == lowest(task) && own != 0) {
        add(chunk, own, NOT_KEPT);
    }
    while (work->address <= READER_WINDOW && chunk->count <= CHUNK - SPARE) {
        const uint16_t address = work->address++;
        const uint8_t selects = cart_hotspot(task->scheme, address);
        add(chunk, address, work->bank * bytes + (address & (bytes - 1)));
        if (selects != CART_NO_BANK && selects != work->bank) {
            add(chunk, own, NOT_KEPT);
        }
    }
}

static void keep(struct reader *reader, const struct chunk *chunk) {
    uint8_t *const first = reader->result, *const unsteady = first + cart_size(reader->task.scheme);
    for (size_t i = 0; i < chunk->count; i++) {
        const uint16_t place = chunk->places[i];
        if (place == NOT_KEPT) {
            continue;
        }
        if (reader->work.pass == 0) {
            first[place] = chunk->bytes[i];
        } else {
            const uint8_t differs = first[place] ^ chunk->bytes[i];
            unsteady[place] |= differs;
            reader->work.differing += differs != 0;
        }
    }
}

static void finish(struct reader *reader) {
    uint8_t *const end = reader->result + 2 * cart_size(reader->task.scheme);
    put32(end, passes(&reader->task));
    put32(end + 4, reader->work.differing);
    end[8] = reader_floats_all(reader);
    reader->size = (uint32_t)(end + 9 - reader->result);
}

static bool step(struct reader *reader) {
    const struct reader_bus *bus = &reader->config.bus;
    const uint64_t began = reader_now(reader);
    struct chunk chunk;
    do {
        gather(reader, &chunk);
        bus->read(bus->state, chunk.addresses, chunk.bytes, chunk.count);
        keep(reader, &chunk);
        if (reader->work.address > READER_WINDOW) {
            next_bank(reader);
        }
        if (reader->work.pass == passes(&reader->task)) {
            finish(reader);
            return true;
        }
    } while (!reader_pause(reader, began));
    return false;
}

const struct reader_kind reader_kind_read = {possible, of, begin, step};
