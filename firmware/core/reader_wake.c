/* Supply off and on again: how soon the cartridge answers as before, and with which bank. */
#include "core/bytes.h"
#include "core/reader_inside.h"

enum { BEFORE, OFF, ON };
enum {
    OFF_MS = 500,
    OFF_MS_MAX = 60000,
    STEADY_US = 10000,
    NOTES = 15,
    RESULT = 5,
    NO_BANK = 255,
    NOT_SO_SOON = READER_WAKE_US + STEADY_US
};

static bool possible(const struct reader_task *task) {
    const bool tells = task->count == 0 || reader_plain_address(task, task->count);
    return reader_plain_address(task, task->first) && tells && task->option <= OFF_MS_MAX;
}

static uint32_t of(const struct reader_task *task) {
    (void)task;
    return 1;
}

static void begin(struct reader *reader) {
    (void)reader;
}

static unsigned banks(const struct reader *reader) {
    return (unsigned)cart_banks(reader->task.scheme);
}

/* Bit by bit what most looks see: a contact that comes and goes must not pass for a cartridge that is gone.
 * Each look is an access of its own: A12 was low before. */
static uint8_t usual(const struct reader *reader, unsigned bank, uint16_t address) {
    uint8_t count[8] = {0};
    uint8_t byte = 0;
    for (unsigned look = 0; look < NOTES; look++) {
        reader_still(reader, 0);
        reader_select(reader, bank);
        const uint8_t seen = reader_still(reader, address);
        for (unsigned bit = 0; bit < 8; bit++) {
            count[bit] = (uint8_t)(count[bit] + (seen >> bit & 1));
        }
    }
    for (unsigned bit = 0; bit < 8; bit++) {
        byte |= (uint8_t)((count[bit] > NOTES / 2) << bit);
    }
    return byte;
}

static void note_before(struct reader *reader) {
    struct reader_work *work = &reader->work;
    for (unsigned bank = 0; bank < banks(reader); bank++) {
        work->first[bank] = usual(reader, bank, reader->task.first);
        work->tells[bank] = reader->task.count != 0 ? usual(reader, bank, reader->task.count) : 0;
    }
    work->floats = reader->awake ? reader_floats(reader, reader->task.first) : 0;
    reader_supply(reader, false);
    work->since = reader_now(reader);
    work->stage = OFF;
}

static void switch_on(struct reader *reader) {
    const uint32_t ms = reader->task.option != 0 ? reader->task.option : OFF_MS;
    if (reader_now(reader) - reader->work.since >= (uint64_t)ms * 1000) {
        reader_supply(reader, true);
        reader->work.on_at = reader_now(reader);
        reader->work.since = 0;
        reader->work.stage = ON;
    }
}

/* As before, in whichever bank; driven, not pulled, but for lines that nobody drove before. */
static bool as_before(const struct reader *reader) {
    const uint8_t floats = reader_floats(reader, reader->task.first);
    if ((floats & ~reader->work.floats) != 0) {
        return false;
    }
    const uint8_t byte = reader_still(reader, reader->task.first);
    for (unsigned bank = 0; bank < banks(reader); bank++) {
        if (byte == reader->work.first[bank]) {
            return true;
        }
    }
    return false;
}

static void watch(struct reader *reader) {
    struct reader_work *work = &reader->work;
    if (!as_before(reader)) {
        work->since = 0;
        reader_still(reader, 0); /* the next look is an access of its own */
    } else if (work->since == 0) {
        work->since = reader_now(reader);
    }
}

static uint8_t bank_up(const struct reader *reader) {
    uint8_t found = NO_BANK;
    if (banks(reader) == 1) {
        return 0;
    }
    if (reader->task.count == 0) {
        return NO_BANK;
    }
    const uint8_t byte = reader_still(reader, reader->task.count);
    for (unsigned bank = 0; bank < banks(reader); bank++) {
        if (reader->work.tells[bank] == byte) {
            found = found == NO_BANK ? (uint8_t)bank : NO_BANK - 1;
        }
    }
    return found == NO_BANK - 1 ? NO_BANK : found;
}

static void finish(struct reader *reader, uint32_t us) {
    reader->awake = us != UINT32_MAX;
    put32(reader->result, us);
    reader->result[4] = reader->awake ? bank_up(reader) : NO_BANK;
    reader->size = RESULT;
}

/* One that answered in time before is more likely gone than late, unless something is there. */
static bool never(struct reader *reader) {
    if (reader->prompt && reader_gone(reader)) {
        reader_trip(reader, WIRE_SUPPLY_GONE);
        return false;
    }
    finish(reader, UINT32_MAX);
    return true;
}

static bool look(struct reader *reader) {
    const uint64_t began = reader_now(reader);
    const struct reader_work *work = &reader->work;
    do {
        watch(reader);
        const uint64_t now = reader_now(reader);
        if (work->since != 0 && now - work->since >= STEADY_US) {
            finish(reader, (uint32_t)(work->since - work->on_at));
            return true;
        }
        if (now - work->on_at >= NOT_SO_SOON) {
            return never(reader);
        }
    } while (!reader_pause(reader, began));
    return false;
}

static bool step(struct reader *reader) {
    switch (reader->work.stage) {
    case BEFORE:
        note_before(reader);
        return false;
    case OFF:
        switch_on(reader);
        return false;
    default:
        return look(reader);
    }
}

const struct reader_kind reader_kind_wake = {possible, of, begin, step};
