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
    /* What a read gave. False: enough. */
    bool (*told)(struct march *march, const struct march_error *error);
    struct march_error *log;
    size_t room, wrong;
    /* What the wrong reads should be. */
    const struct march_error *list;
    size_t count;
    bool cut, differs;
};

static bool visit(struct march *march, int background, int element, uint8_t cell) {
    const uint8_t base = check_backgrounds[background];
    bool more = true;
    if (elements[element].reads >= 0) {
        const uint8_t right = elements[element].reads ? (uint8_t)~base : base;
        const struct march_error error = {(uint8_t)background, (uint8_t)element, cell,
                                          march->access(march->state, cell, -1), right};
        more = march->told(march, &error);
    }
    if (elements[element].writes >= 0) {
        march->access(march->state, cell, elements[element].writes ? (uint8_t)~base : base);
    }
    return more;
}

static void walk(struct march *march, const uint8_t *cells, size_t count) {
    for (int background = 0; background < CHECK_BACKGROUNDS; background++) {
        for (int element = 0; element < CHECK_ELEMENTS; element++) {
            for (size_t i = 0; i < count; i++) {
                if (!visit(march, background, element, cells[elements[element].down ? count - 1 - i : i])) {
                    return;
                }
            }
        }
    }
}

static bool write_down(struct march *march, const struct march_error *error) {
    if (error->read != error->right) {
        if (march->wrong < march->room) {
            march->log[march->wrong] = *error;
        }
        march->wrong++;
    }
    return true;
}

size_t march_over(march_access *access, void *state, const uint8_t *cells, size_t count,
                  struct march_error *log, size_t room) {
    struct march march = {.access = access, .state = state, .told = write_down, .log = log, .room = room};
    walk(&march, cells, count);
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

/* ---- against what was seen ---- */

static bool same(const struct march_error *a, const struct march_error *b) {
    return a->background == b->background && a->element == b->element && a->cell == b->cell &&
           a->read == b->read && a->right == b->right;
}

/* Goes on as long as wrong reads come where the list has them, and nowhere else. */
static bool hold_against(struct march *march, const struct march_error *error) {
    const struct march_error *next = march->wrong < march->count ? &march->list[march->wrong] : NULL;
    if (error->read != error->right) {
        march->differs = next == NULL ? !march->cut : !same(next, error);
        march->wrong += next != NULL;
        return !march->differs;
    }
    if (next != NULL && next->background == error->background && next->element == error->element &&
        next->cell == error->cell) {
        march->differs = true; /* it should be wrong, and is not */
    }
    return !march->differs;
}

static void begin(struct faulty *ram, const struct march_fault *fault) {
    *ram = (struct faulty){.fault = fault};
    ram->cells[fault->cell] = fault->begins & 1 ? 0xFF : 0;
    set_bit(&ram->cells[fault->by_cell], fault->by, fault->begins >> 1);
    if (fault->kind == MARCH_STUCK) {
        set_bit(&ram->cells[fault->cell], fault->bit, fault->value);
    }
}

bool march_gives(const struct march_fault *fault, const struct march_error *list, size_t count, bool cut) {
    const bool two =
        fault->kind >= MARCH_INVERSION && fault->kind != MARCH_NO_CELL && fault->by_cell != fault->cell;
    const uint8_t low = fault->cell < fault->by_cell ? fault->cell : fault->by_cell,
                  high = fault->cell < fault->by_cell ? fault->by_cell : fault->cell;
    const uint8_t cells[2] = {two ? low : fault->cell, high};
    struct faulty ram;
    struct march march = {.access = faulty_access,
                          .state = &ram,
                          .told = hold_against,
                          .list = list,
                          .count = count,
                          .cut = cut};
    begin(&ram, fault);
    walk(&march, cells, two ? 2 : 1);
    return !march.differs && march.wrong == count;
}
