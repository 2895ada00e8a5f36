/* March C- over the cartridge's RAM: any(w0) up(r0,w1) up(r1,w0) down(r0,w1) down(r1,w0) any(r0), with 0 the
 * background and 1 its complement (A. J. van de Goor, "Testing Semiconductor Memories", 1991). */
#include "core/bytes.h"
#include "core/reader_inside.h"

enum { LOGGED = 5, HEAD = 4 };

static const uint8_t backgrounds[] = {0x00, 0x55, 0x33, 0x0F, 0xFF, 0xAA, 0xCC, 0xF0};

static const struct element {
    bool down, reads, writes;
    uint8_t expects, puts; /* 0xFF: the complement */
} elements[] = {
    {false, false, true, 0, 0},  {false, true, true, 0, 0xFF}, {false, true, true, 0xFF, 0},
    {true, true, true, 0, 0xFF}, {true, true, true, 0xFF, 0},  {true, true, false, 0, 0},
};
enum { ELEMENTS = sizeof elements / sizeof elements[0] };

static bool possible(const struct reader_task *task) {
    return reader_has_ram(task);
}

static uint32_t of(const struct reader_task *task) {
    (void)task;
    return sizeof backgrounds * ELEMENTS;
}

static void begin(struct reader *reader) {
    reader->size = HEAD;
}

static void note(struct reader *reader, uint8_t cell, uint8_t byte, uint8_t expected) {
    reader->work.differing++;
    if (reader->size < HEAD + LOGGED * WIRE_RAM_LOG) {
        uint8_t *const entry = reader->result + reader->size;
        entry[0] = (uint8_t)(reader->done / ELEMENTS);
        entry[1] = (uint8_t)(reader->done % ELEMENTS);
        entry[2] = cell;
        entry[3] = byte;
        entry[4] = expected;
        reader->size += LOGGED;
    }
}

static void march(struct reader *reader, const struct element *element, uint8_t background) {
    const struct reader_bus *bus = &reader->config.bus;
    for (unsigned i = 0; i < CART_RAM; i++) {
        const uint8_t cell = (uint8_t)(element->down ? CART_RAM - 1 - i : i);
        if (element->reads) {
            const uint8_t byte = reader_byte(reader, (uint16_t)(READER_RAM_READ + cell));
            const uint8_t expected = background ^ element->expects;
            if (byte != expected) {
                note(reader, cell, byte, expected);
            }
        }
        if (element->writes) {
            bus->write(bus->state, (uint16_t)(READER_RAM_WRITE + cell), background ^ element->puts);
        }
    }
}

static bool step(struct reader *reader) {
    const uint64_t began = reader_now(reader);
    do {
        march(reader, &elements[reader->done % ELEMENTS], backgrounds[reader->done / ELEMENTS]);
        reader->done++;
        if (reader->done == reader->of) {
            put32(reader->result, reader->work.differing);
            return true;
        }
    } while (!reader_pause(reader, began));
    return false;
}

const struct reader_kind reader_kind_ram = {possible, of, begin, step};
