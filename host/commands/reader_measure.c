#include "commands/reader_measure.h"

#include "plan/check.h"

#include <stdlib.h>
#include <string.h>

enum {
    RESULT_MAX = 2 * WIRE_IMAGE_MAX + 9,
    PASSES = 2,
    WAIT_MS = 15000,        /* for a task: switching on, waiting for the cartridge, and working */
    PASS_MS = 400,          /* more for each reading of every byte */
    RELEASE_FIRST = 0x1900, /* outside any RAM, in the half that a 2 KiB image has to itself */
    RELEASE_COUNT = 64,
    WINDOW = 0x1000,
    WINDOW_END = 0x2000
};

void reader_order_all(int scheme, bool ram, const uint8_t *image, struct reader_order *order) {
    *order = (struct reader_order){.scheme = scheme,
                                   .ram = ram,
                                   .image = image,
                                   .passes = PASSES,
                                   .times = true,
                                   .hotspots = true,
                                   .release = true,
                                   .ram_march = true,
                                   .quiet = true,
                                   .wake = true};
}

/* What one measuring works with. */
struct measuring {
    struct link *link;
    const struct reader_order *order;
    struct reader_seen *seen;
    uint64_t chip_us;
    uint8_t result[RESULT_MAX];
    size_t size;
};

/* 2 KiB show twice in the window: both halves are read, since a line may be shorted to A11. */
static int read_as(const struct reader_order *order) {
    return order->scheme == WIRE_2K ? WIRE_4K : order->scheme;
}

/* Memory comes once, so what comes back is of one task at a time. */
static bool carry_out(struct measuring *at, const struct link_task *task, size_t wanted,
                      struct problem *problem) {
    struct link_task_state state;
    const struct reader_order *order = at->order;
    struct link_task full = *task;
    full.scheme = task->task == WIRE_TASK_READ ? read_as(order) : order->scheme;
    full.ram = order->ram;
    const int wait_ms = WAIT_MS + (task->task == WIRE_TASK_READ ? (int)task->option * PASS_MS : 0);
    if (order->progress != NULL) {
        order->progress(order->user, task->task, task->bank);
    }
    const bool good =
        link_task(at->link, &full, wait_ms, at->result, sizeof at->result, &at->size, &state, problem);
    at->seen->overload = at->seen->overload || state.trouble == WIRE_SUPPLY_OVERLOAD;
    if (!good) {
        return false;
    }
    at->chip_us += state.took_us;
    at->seen->cycle_ps = state.cycle_ps;
    at->seen->own = state.own;
    return at->size == wanted || wanted == 0 ||
           problem_set(problem, PROBLEM_BENCH,
                       "the reader gave %zu bytes for a task of %zu: renew its firmware or this program",
                       at->size, wanted);
}

static bool cannot_be(const char *what, struct problem *problem) {
    return problem_set(problem, PROBLEM_BENCH,
                       "the reader told of %s that cannot be: renew its firmware or this program", what);
}

static uint16_t get16(const uint8_t *bytes) {
    return (uint16_t)(bytes[0] | bytes[1] << 8);
}

static uint32_t get32(const uint8_t *bytes) {
    return get16(bytes) | (uint32_t)get16(bytes + 2) << 16;
}

/* ---- all bytes ---- */

static bool read_bytes(struct measuring *at, struct problem *problem) {
    const size_t bytes = scheme_bytes(at->order->scheme), all = scheme_bytes(read_as(at->order));
    const size_t lower = all - bytes; /* 0, but of 2 KiB */
    struct reader_seen *const seen = at->seen;
    const struct link_task task = {.task = WIRE_TASK_READ, .option = at->order->passes};
    if (!carry_out(at, &task, 2 * all + 9, problem)) {
        return false;
    }
    memcpy(seen->lower, at->result, lower);
    memcpy(seen->bytes, at->result + lower, bytes);
    memcpy(seen->lower_unsteady, at->result + all, lower);
    memcpy(seen->unsteady, at->result + all + lower, bytes);
    seen->has_lower = lower > 0;
    seen->passes = get32(at->result + 2 * all);
    seen->differing = get32(at->result + 2 * all + 4);
    seen->floats = at->result[2 * all + 8];
    seen->has_bytes = true;
    return true;
}

/* ---- which address tells banks apart ---- */

static bool is_plain(const struct reader_order *order, uint16_t address) {
    return scheme_selects(order->scheme, address) < 0 &&
           !(order->ram && address < SCHEME_RAM_READ + SCHEME_RAM);
}

static bool tells(const struct reader_order *order, const uint8_t *bytes, uint16_t address) {
    bool seen[256] = {false};
    for (int bank = 0; bank < scheme_banks(order->scheme); bank++) {
        const uint8_t byte = bytes[scheme_offset(order->scheme, bank, address)];
        if (seen[byte]) {
            return false;
        }
        seen[byte] = true;
    }
    return is_plain(order, address);
}

/* The image says it where there is one: on a cartridge that does not switch no address would. */
static uint16_t find_telling(const struct measuring *at) {
    const struct reader_order *order = at->order;
    const uint8_t *const bytes = order->image != NULL ? order->image : at->seen->bytes;
    const bool known = order->image != NULL || at->seen->has_bytes;
    if (scheme_banks(order->scheme) < 2 || !known) {
        return 0;
    }
    if (tells(order, bytes, CHECK_BANK_AT)) {
        return CHECK_BANK_AT;
    }
    for (uint16_t address = WINDOW_END - 1; address >= WINDOW; address--) {
        if (tells(order, bytes, address)) {
            return address;
        }
    }
    return 0;
}

/* ---- the rest ---- */

static bool map_bank(struct measuring *at, int bank, struct problem *problem) {
    const struct reader_order *order = at->order;
    const size_t bytes = scheme_bank_bytes(order->scheme);
    const struct link_task task = {.task = WIRE_TASK_MAP,
                                   .bank = bank,
                                   .first = (uint16_t)(WINDOW_END - bytes),
                                   .count = (uint16_t)bytes};
    if (!carry_out(at, &task, READER_TIMES * bytes, problem)) {
        return false;
    }
    memcpy(at->seen->map[(size_t)bank * bytes], at->result, READER_TIMES * bytes);
    return true;
}

static bool map(struct measuring *at, struct problem *problem) {
    for (int bank = 0; bank < scheme_banks(at->order->scheme); bank++) {
        if (!map_bank(at, bank, problem)) {
            return false;
        }
    }
    at->seen->has_map = true;
    return true;
}

static bool hotspots(struct measuring *at, struct problem *problem) {
    struct reader_seen *const seen = at->seen;
    const int banks = scheme_banks(at->order->scheme);
    const struct link_task task = {.task = WIRE_TASK_HOTSPOTS, .option = seen->tells};
    const uint8_t *byte = at->result;
    if (seen->tells == 0) {
        return true;
    }
    if (!carry_out(at, &task, (size_t)(2 + CHECK_NEIGHBOURS) * (size_t)(banks * banks), problem)) {
        return false;
    }
    for (int manner = 0; manner < 2; manner++) {
        for (int from = 0; from < banks; from++, byte += banks) {
            memcpy(seen->hotspot[manner][from], byte, (size_t)banks);
        }
    }
    for (int place = 0; place < CHECK_NEIGHBOURS; place++) {
        for (int hotspot = 0; hotspot < banks; hotspot++, byte += banks) {
            memcpy(seen->neighbour[place][hotspot], byte, (size_t)banks);
        }
    }
    seen->has_hotspots = true;
    return true;
}

static bool release(struct measuring *at, struct problem *problem) {
    struct reader_seen *const seen = at->seen;
    const struct link_task task = {.task = WIRE_TASK_RELEASE, .first = RELEASE_FIRST, .count = RELEASE_COUNT};
    if (!carry_out(at, &task, 2 * RELEASE_COUNT, problem)) {
        return false;
    }
    for (size_t i = 0; i < RELEASE_COUNT; i++) {
        const uint8_t high = at->result[2 * i], low = at->result[2 * i + 1];
        seen->release_high = high > seen->release_high ? high : seen->release_high;
        seen->release_low = low > seen->release_low ? low : seen->release_low;
    }
    seen->has_release = true;
    return true;
}

static bool ram(struct measuring *at, struct problem *problem) {
    enum { HEAD = 4, ENTRY = 5 };
    struct reader_seen *const seen = at->seen;
    const struct link_task task = {.task = WIRE_TASK_RAM};
    if (!carry_out(at, &task, 0, problem)) {
        return false;
    }
    if (at->size < HEAD || at->size > HEAD + ENTRY * WIRE_RAM_LOG) {
        return problem_set(problem, PROBLEM_BENCH,
                           "the reader gave %zu bytes of wrong reads of RAM: renew its firmware", at->size);
    }
    seen->ram_wrong = get32(at->result);
    seen->ram_logged = (at->size - HEAD) / ENTRY;
    for (size_t i = 0; i < seen->ram_logged; i++) {
        const uint8_t *const entry = at->result + HEAD + ENTRY * i;
        if (entry[0] >= CHECK_BACKGROUNDS || entry[1] >= CHECK_ELEMENTS || entry[2] >= SCHEME_RAM) {
            return cannot_be("a wrong read of RAM", problem);
        }
        seen->ram_error[i] = (struct reader_ram_error){entry[0], entry[1], entry[2], entry[3], entry[4]};
    }
    seen->has_ram = true;
    return true;
}

static bool quiet(struct measuring *at, struct problem *problem) {
    struct reader_seen *const seen = at->seen;
    const struct link_task task = {.task = WIRE_TASK_QUIET};
    if (!carry_out(at, &task, 6, problem)) {
        return false;
    }
    /* A line that does not follow a pull to high is held low. */
    seen->held_low = at->result[0];
    seen->held_high = at->result[1];
    seen->held_count = get32(at->result + 2);
    seen->has_quiet = true;
    return true;
}

static bool wake(struct measuring *at, struct problem *problem) {
    enum { NO_BANK = 255 };
    struct reader_seen *const seen = at->seen;
    const struct link_task task = {.task = WIRE_TASK_WAKE, .first = RELEASE_FIRST, .count = seen->tells};
    if (!carry_out(at, &task, 5, problem)) {
        return false;
    }
    if (at->result[4] != NO_BANK && at->result[4] >= scheme_banks(at->order->scheme)) {
        return cannot_be("a bank that came up", problem);
    }
    seen->wake_us = get32(at->result);
    seen->first_bank = at->result[4] == NO_BANK ? -1 : at->result[4];
    seen->has_wake = true;
    return true;
}

static bool all(struct measuring *at, struct problem *problem) {
    const struct reader_order *order = at->order;
    if (!read_bytes(at, problem)) {
        return false;
    }
    at->seen->tells = find_telling(at);
    return (!order->times || map(at, problem)) && (!order->hotspots || hotspots(at, problem)) &&
           (!order->release || release(at, problem)) &&
           (!order->ram_march || !order->ram || ram(at, problem)) && (!order->quiet || quiet(at, problem)) &&
           (!order->wake || wake(at, problem));
}

bool reader_measure(struct link *link, const struct reader_order *order, struct reader_seen *seen,
                    uint64_t *chip_us, struct problem *problem) {
    struct problem ignored;
    struct measuring *at = calloc(1, sizeof *at);
    memset(seen, 0, sizeof *seen);
    seen->scheme = order->scheme;
    seen->ram = order->ram;
    seen->first_bank = -1;
    *chip_us = 0;
    if (at == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the reader's results; free some");
    }
    at->link = link;
    at->order = order;
    at->seen = seen;
    const bool good = all(at, problem);
    *chip_us = at->chip_us;
    free(at);
    if (!good) {
        link_supply(link, false, &ignored);
        return false;
    }
    return link_supply(link, false, problem);
}
