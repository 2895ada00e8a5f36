/*
 * The reader: a board that stands in the console's place, drives the addresses of a cartridge in its slot and
 * samples its data. Portable as core/board.h is: no heap, no chip's register. A chip's start-up fills struct
 * reader_config, calls reader_start() once and reader_poll() for ever; the virtual reader does the same.
 *
 * Off is the state to be in: the supply is off after the start, after a task that failed, when the host has
 * been silent for READER_SILENCE_US, and whenever a cartridge goes in or out.
 */
#ifndef SLOTJIG_CORE_READER_H
#define SLOTJIG_CORE_READER_H

#include "core/cart.h"
#include "core/ports.h"

enum {
    READER_SETTLE_NS = 600,  /* before an access that is measured, the lines stand still so long */
    READER_STEADY_NS = 2000, /* after which data count as what stands there */
    READER_PACE_NS = 838,    /* the console's bus cycle [A]: 3 clocks of 3.579545 MHz */
    READER_TAKES_NS = 410,   /* into it the console takes the data [M] */
    READER_AFTER_MOST = 254, /* cycles */
    READER_SILENCE_US = 60000000,
    READER_WAKE_US = 2000000, /* so long a cartridge may take to answer */
    READER_RESULT = 2 * WIRE_IMAGE_MAX + 9
};

struct reader_bus {
    void *state;
    void (*supply)(void *state, bool on);
    enum wire_supply (*supply_state)(void *state, bool *on);
    uint64_t (*now_us)(void *state);
    uint32_t cycle_ps; /* of the chip's clock */
    uint16_t own;      /* cycles of the chip's own between address and sample, in every figure of sample() */
    /* The lines stand at `from` for READER_SETTLE_NS at least, then go to `to` all at once; the data lines as
     * they are `after` cycles (0..254) later. They stay at `to`. Nothing is driven on the data lines. */
    uint8_t (*sample)(void *state, uint16_t from, uint16_t to, unsigned after);
    /* Accesses one after the other without a pause, READER_PACE_NS each, each sampled READER_TAKES_NS after
     * its address. */
    void (*read)(void *state, const uint16_t *addresses, uint8_t *bytes, size_t count);
    /* One such access, with the data lines driven in its second half as a console does. */
    void (*write)(void *state, uint16_t address, uint8_t value);
    /* The lines stand at `address` (A12 set), then A12 falls; the data lines, pulled to one level by
     * resistors, as they are `after` cycles later. */
    uint8_t (*released)(void *state, uint16_t address, bool pull_high, unsigned after);
    /* The level to which the resistors pull lines that nobody drives, in the accesses of sample(), read() and
     * write() from now on. High after the start; what released() does to it is undone by itself. */
    void (*pull)(void *state, bool high);
};

struct reader_config {
    struct reader_bus bus;
    struct port_ops ports[BOARD_PORTS];
    int port_count;
    uint8_t serial[WIRE_SERIAL];
    void *chip;
    void (*loader)(void *chip); /* as struct board_config's */
};

struct reader_task {
    uint8_t task, scheme, flags, bank;
    uint16_t first, count;
    uint32_t option;
};

/* What a task remembers between its pieces. */
struct reader_work {
    uint16_t address, pass;
    uint8_t bank, stage;
    uint32_t differing, again;
    uint64_t since, on_at;
    uint8_t guess[3];                             /* times of the address before, where to look first */
    uint8_t first[CART_BANKS], tells[CART_BANKS]; /* bytes by bank, before the supply went off */
    uint8_t floats;
};

struct reader {
    struct reader_config config;
    struct board_port ports[BOARD_PORTS];
    uint64_t now, heard_at, loader_at;
    int begun;         /* sequence number of the last WIRE_TASK, or -1 */
    uint8_t begun_ago; /* requests since */
    bool on, awake;    /* the supply; the cartridge has driven its data lines since it is on */
    bool prompt;       /* it did so in time when it was last switched on for a task */
    uint64_t on_at, looked_at;
    struct reader_task task;
    uint8_t state, stage, trouble; /* enum wire_task_state; what the task waits for; enum wire_supply */
    uint32_t done, of, size;
    uint64_t began, took_us;
    struct reader_work work;
    uint8_t scratch[WIRE_PAYLOAD_MAX];
    uint8_t wire[WIRE_FRAME_MAX];
    uint8_t result[READER_RESULT];
};

void reader_start(struct reader *reader, const struct reader_config *config, uint64_t now_us);
/* As board_input(). */
size_t reader_input(struct reader *reader, int port, const uint8_t *bytes, size_t count, uint64_t now_us);
void reader_port_lost(struct reader *reader, int port);
/* A piece of the task under way, a few milliseconds at most. True: there is more to do at once. */
bool reader_poll(struct reader *reader, uint64_t now_us);

#endif
