/* Between the files of the reader; not for others. */
#ifndef SLOTJIG_CORE_READER_INSIDE_H
#define SLOTJIG_CORE_READER_INSIDE_H

#include "core/reader.h"

enum {
    READER_PIECE_US = 2000, /* of a task, between two looks at the wire */
    READER_STANDS = 0x1000, /* A12 */
    READER_WINDOW = 0x1FFF,
    READER_RAM_WRITE = 0x1000,
    READER_RAM_READ = 0x1080,
    READER_RAM_END = 0x1100,
    READER_NEVER_CYCLES = 255
};

/* ---- messages (reader_answer.c) ---- */
size_t reader_answer_room(uint8_t type);
void reader_answer(void *reader, int port, const struct frame_in *in);

/* ---- supply and presence (reader.c, reader_presence.c) ---- */
void reader_supply(struct reader *reader, bool on);
/* The supply goes off; a task under way has failed. */
void reader_trip(struct reader *reader, enum wire_supply trouble);
uint64_t reader_now(const struct reader *reader);
/* What stands on the data lines at this address. */
uint8_t reader_still(const struct reader *reader, uint16_t address);
/* Data lines that nobody drives at this address. */
uint8_t reader_floats(const struct reader *reader, uint16_t address);
/* Data lines that nobody drives at any address of a few. */
uint8_t reader_floats_all(const struct reader *reader);
/* Something drives most of the data lines, at one at least of a few addresses. */
bool reader_answers(const struct reader *reader);
bool reader_gone(const struct reader *reader);
/* Cycles after which data count as what stands there. */
unsigned reader_steady(const struct reader *reader);

/* ---- accesses ---- */
/* The address that selects the bank, 0 where there is none. */
uint16_t reader_hotspot(uint8_t scheme, unsigned bank);
void reader_select(const struct reader *reader, unsigned bank);
uint8_t reader_byte(const struct reader *reader, uint16_t address);

/* ---- times (reader_search.c) ---- */
enum reader_edge_kind { EDGE_SAMPLE, EDGE_TO_HIGH, EDGE_TO_LOW };
struct reader_edge {
    struct reader *reader;
    enum reader_edge_kind kind;
    uint16_t from, to; /* to: of EDGE_SAMPLE */
    bool slow;         /* the lines stand at `from` until any byte has come, READER_STEADY_NS */
    uint8_t right;     /* of EDGE_SAMPLE: found by reader_time() */
};
/* The fewest cycles, `least` or more, after which the data are right and stay so; looks at `guess` first. */
uint8_t reader_time(struct reader_edge *edge, unsigned least, unsigned guess);

/* ---- tasks (reader_tasks.c and one file each) ---- */
struct reader_kind {
    bool (*possible)(const struct reader_task *task);
    uint32_t (*of)(const struct reader_task *task); /* units of work */
    void (*begin)(struct reader *reader);
    /* A piece of the work, READER_PIECE_US or a little more. True: the task is done, its result there. */
    bool (*step)(struct reader *reader);
};
/* NULL: no such task. */
const struct reader_kind *reader_kind(uint8_t task);
extern const struct reader_kind reader_kind_read, reader_kind_map, reader_kind_hotspots, reader_kind_release,
    reader_kind_ram, reader_kind_wake, reader_kind_quiet;
/* An address of the window, that lies outside the RAM's write window and is no hotspot. */
bool reader_plain_address(const struct reader_task *task, uint16_t address);
bool reader_has_ram(const struct reader_task *task);
/* A piece has lasted long enough. */
bool reader_pause(const struct reader *reader, uint64_t began);

#endif
