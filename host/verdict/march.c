#include "verdict/march.h"

/* ---- the march ---- */

/* The last is done downwards, as the reader does it. Of each element: what it reads and then writes, as "the
 * complement of the background?"; -1: not at all. */
static const struct {
    int8_t reads, writes;
    bool down;
} elements[CHECK_ELEMENTS] = {{-1, 0, false}, {0, 1, false}, {1, 0, false},
                              {0, 1, true},   {1, 0, true},  {0, -1, true}};

struct march {
    march_access *access;
    void *state;
    struct march_error *log;
    size_t room, wrong;
};

static void visit(struct march *march, int background, int element, uint8_t cell) {
    const uint8_t base = check_backgrounds[background];
    if (elements[element].reads >= 0) {
        const uint8_t right = elements[element].reads ? (uint8_t)~base : base;
        const uint8_t read = march->access(march->state, cell, -1);
        if (read != right) {
            if (march->wrong < march->room) {
                march->log[march->wrong] =
                    (struct march_error){(uint8_t)background, (uint8_t)element, cell, read, right};
            }
            march->wrong++;
        }
    }
    if (elements[element].writes >= 0) {
        march->access(march->state, cell, elements[element].writes ? (uint8_t)~base : base);
    }
}

size_t march_over(march_access *access, void *state, const uint8_t *cells, size_t count,
                  struct march_error *log, size_t room) {
    struct march march = {access, state, log, room, 0};
    for (int background = 0; background < CHECK_BACKGROUNDS; background++) {
        for (int element = 0; element < CHECK_ELEMENTS; element++) {
            for (size_t i = 0; i < count; i++) {
                visit(&march, background, element, cells[elements[element].down ? count - 1 - i : i]);
            }
        }
    }
    return march.wrong;
}

/* ---- a RAM with a fault ---- */

struct faulty {
    const struct march_fault *fault;
    uint8_t cells[SCHEME_RAM];
};

static bool bit_of(uint8_t byte, unsigned bit) {
    return byte >> bit & 1;
}

static void set_bit(uint8_t *byte, unsigned bit, bool value) {
    *byte = (uint8_t)(value ? *byte | 1U << bit : *byte & ~(1U << bit));
}

static bool state_holds(const struct faulty *ram) {
    const struct march_fault *fault = ram->fault;
    return (fault->kind == MARCH_STATE_READ || fault->kind == MARCH_STATE_HELD) &&
           bit_of(ram->cells[fault->by_cell], fault->by) == fault->when;
}

/* What the write of a cell did to the bit that the fault is about. `before`: the cell's. */
static void couple(struct faulty *ram, uint8_t cell, uint8_t before) {
    const struct march_fault *fault = ram->fault;
    uint8_t *const victim = &ram->cells[fault->cell];
    const bool was = bit_of(before, fault->by), is = bit_of(ram->cells[cell], fault->by);
    if (cell == fault->by_cell && was != is && is == fault->when) {
        if (fault->kind == MARCH_INVERSION) {
            *victim ^= (uint8_t)(1U << fault->bit);
        } else if (fault->kind == MARCH_IDEMPOTENT) {
            set_bit(victim, fault->bit, fault->value);
        }
    }
    if (fault->kind == MARCH_STATE_HELD && state_holds(ram)) {
        set_bit(victim, fault->bit, fault->value);
    }
}

static void write_cell(struct faulty *ram, uint8_t cell, uint8_t value) {
    const struct march_fault *fault = ram->fault;
    const uint8_t before = ram->cells[cell];
    ram->cells[cell] = value;
    if (cell == fault->cell && fault->kind == MARCH_STUCK) {
        set_bit(&ram->cells[cell], fault->bit, fault->value);
    } else if (cell == fault->cell && fault->kind == MARCH_TRANSITION &&
               bit_of(before, fault->bit) != fault->value) {
        set_bit(&ram->cells[cell], fault->bit, !fault->value);
    }
    couple(ram, cell, before);
}

static uint8_t read_cell(const struct faulty *ram, uint8_t cell) {
    uint8_t value = ram->cells[cell];
    if (cell == ram->fault->cell && state_holds(ram)) {
        set_bit(&value, ram->fault->bit, ram->fault->value);
    }
    return value;
}

static uint8_t faulty_access(void *state, uint8_t cell, int written) {
    struct faulty *ram = state;
    const struct march_fault *fault = ram->fault;
    const bool decoder = fault->kind >= MARCH_NO_CELL && cell == fault->cell;
    if (decoder && fault->kind == MARCH_NO_CELL) {
        return 0xFF;
    }
    const uint8_t at = decoder && fault->kind == MARCH_OTHER_CELL ? fault->by_cell : cell;
    const bool both = decoder && fault->kind == MARCH_BOTH_CELLS;
    if (written >= 0) {
        write_cell(ram, at, (uint8_t)written);
        if (both) {
            write_cell(ram, fault->by_cell, (uint8_t)written);
        }
        return (uint8_t)written;
    }
    return (uint8_t)(read_cell(ram, at) & (both ? read_cell(ram, fault->by_cell) : 0xFF));
}

size_t march_run(const struct march_fault *fault, const uint8_t *cells, size_t count, struct march_error *log,
                 size_t room) {
    struct faulty ram = {.fault = fault};
    for (size_t i = 0; i < SCHEME_RAM; i++) {
        ram.cells[i] = 0;
    }
    ram.cells[fault->cell] = fault->begins & 1 ? 0xFF : 0;
    set_bit(&ram.cells[fault->by_cell], fault->by, fault->begins >> 1);
    if (fault->kind == MARCH_STUCK) {
        set_bit(&ram.cells[fault->cell], fault->bit, fault->value);
    }
    return march_over(faulty_access, &ram, cells, count, log, room);
}
