/* The slot watch: counts over each second what addresses on the slot say about the console. Fed by the chip
 * with the addresses it saw steady, each once for each change. */
#ifndef SLOTJIG_CORE_WATCH_H
#define SLOTJIG_CORE_WATCH_H

#include "slotjig/wire.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct watch_counts {
    uint32_t cycles, resets, vsyncs, mailbox, missed;
    uint16_t high, low;
};

struct watch {
    struct watch_counts now, whole; /* the second under way, and the last whole one */
    bool any_whole, supply;
    uint64_t second_started, second_ended; /* us */
    uint8_t echoed, vector[2], step;
    uint8_t traced;
    uint16_t trace[WIRE_TRACE];
    uint32_t in_ram;      /* reads of MAILBOX_IN_RAM since watch_start(): the hand-over waits for one */
    uint32_t resets_ever; /* fetches of the reset vector since watch_start() */
    uint32_t values;      /* reads of all of MAILBOX_VALUE, in order, since watch_start() */
    /* The rest is watch.c's. */
    uint16_t last, before, earlier; /* the address just seen, and the two before it */
    uint8_t announced, countdown;
    uint16_t value_next; /* byte of MAILBOX_VALUE that is the next in order */
    bool tracing;
};

void watch_start(struct watch *watch, uint64_t now_us);
/* addresses: 13 bits, in the order seen; missed: changes lost since the last call, before these. A program
 * may read its vector as data, so a fetch of the reset vector counts when its low and its high byte follow
 * each other, and not as a run through the top of the window: neither of the two before was $1FFB. */
void watch_feed(struct watch *watch, const uint16_t *addresses, size_t count, uint32_t missed);
/* At least every few milliseconds. A supply that comes up forgets echoes and trace. */
void watch_tick(struct watch *watch, bool supply, uint64_t now_us);
/* The payload of a WIRE_WATCH reply after its status; returns its length, WIRE_WATCH_BYTES. */
enum { WIRE_WATCH_BYTES = 1 + 2 + 4 * 5 + 2 + 2 + 1 + 2 + 1 + 1 + 2 * WIRE_TRACE };
size_t watch_report(const struct watch *watch, uint64_t now_us, uint8_t *payload);

#endif
