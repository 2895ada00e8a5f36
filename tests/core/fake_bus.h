/*
 * A cartridge and a reader's bus as plain arithmetic: every byte, every time is a formula, and each access is
 * counted. For tests of the reader's core; shares no code with the virtual bench.
 */
#ifndef TESTS_CORE_FAKE_BUS_H
#define TESTS_CORE_FAKE_BUS_H

#include "core/reader.h"

enum { FAKE_CYCLE_PS = 8000, FAKE_OWN = 2, FAKE_SAMPLE_NS = 3600 };

struct fake_bus {
    uint64_t now_ns;
    /* the cartridge */
    int banks, bank, comes_up;
    uint16_t first_hotspot; /* 0: none */
    bool ram, dead;
    uint8_t cells[128];
    uint8_t stuck_cell, stuck_mask; /* bits of that cell that are always 0 */
    uint8_t open;                   /* data lines that nobody drives */
    uint8_t held_low, held_high;    /* with A12 = 0 */
    uint64_t late_us;               /* after switching on, from the next time on */
    uint64_t away_us, back_us;      /* after that it does not answer from the one to the other */
    uint16_t same_at;               /* where every bank shows bank 0's byte */
    bool two_ways;                  /* what stands there is wrong every other time */
    uint16_t also_at;               /* an access there selects bank 0 as well; 0: none */
    uint64_t gone_at_us;            /* 0: never */
    uint8_t release;                /* cycles */
    unsigned unsteady_one_in;       /* of reads, so many have bit 3 turned over; 0: none */
    unsigned late_sample;           /* a sample that many cycles after its time is wrong; 0: none */
    unsigned wrong_sample_in; /* of so many samples, one (at a pace that falls on any of them) is wrong */
    /* the supply */
    bool on, pull_high;
    enum wire_supply trouble;
    uint64_t on_at_us, answers_from_us;
    /* what was seen */
    int cell;          /* of RAM, accessed last */
    uint32_t up, down; /* steps to the next cell, to the one before */
    uint32_t lot;
    uint64_t reads, writes, samples;
    uint32_t seen[0x2000]; /* accesses with that address */
    int switched_on;
    bool in_loader, loader_with_supply; /* how it stood then */
    /* the wire */
    uint8_t out[4096];
    size_t out_count;
};

void fake_bus_start(struct fake_bus *fake, int scheme, bool ram);
void fake_bus_config(struct fake_bus *fake, struct reader_config *config);
/* Both, and a reader that has started with them. */
void fake_begin(struct reader *reader, struct fake_bus *fake, int scheme, bool ram);
bool fake_is_hot(const struct fake_bus *fake, uint16_t address);
/* The byte of that bank at that address of the window. */
uint8_t fake_byte(int bank, uint16_t address);
/* Cycles from the address to the byte: A12 rises, one line changes, or several do. */
unsigned fake_time(uint16_t from, uint16_t to);

/* A question in a frame and the answer's payload: type, status and so on. Returns the answer's type, 0 where
 * none came. */
struct fake_answer {
    uint8_t type, sequence, payload[WIRE_PAYLOAD_MAX];
    size_t count;
};
bool fake_ask(struct reader *reader, struct fake_bus *fake, uint8_t type, uint8_t sequence,
              const uint8_t *payload, size_t count, struct fake_answer *answer);
/* Starts a task; its status. */
int fake_task(struct reader *reader, struct fake_bus *fake, const struct reader_task *task, uint8_t sequence);
/* A task from its start to a result of that size; what it took by the reader's own word, in us. Fails the
 * test where it does not come to that. */
uint32_t fake_whole_task(struct reader *reader, struct fake_bus *fake, const struct reader_task *task,
                         uint32_t size);
/* Polls until the task has ended, or limit_us of the bus's time have passed. The longest poll, in us. */
uint64_t fake_run(struct reader *reader, struct fake_bus *fake, uint64_t limit_us);

#endif
