/*
 * Values for the console (WIRE_VALUES, MAILBOX_GIVEN): a queue, and the mailbox of the lanes served. Part of
 * board.c's inside.
 *
 * The console reads the mode in the overscan and the three bytes as the next picture begins, within 3 ms. The
 * bytes are changed only where the mode has not been MAILBOX_GIVEN for longer than that, and only once every
 * read of that time has been seen. So however late a poll is, no mixture of two values can be read, and no
 * read is taken for that of the next value. A read that was lost to the watch, or was seen late, has the
 * console show the same value again, or go on by itself for a field.
 */
#ifndef SLOTJIG_CORE_VALUES_H
#define SLOTJIG_CORE_VALUES_H

#include "slotjig/wire.h"

#include <stdbool.h>
#include <stdint.h>

struct board;

enum { VALUES_SETTLE_US = 4000, VALUES_ITEM = 3 /* bytes of a value in WIRE_VALUES */ };

enum values_mailbox {
    VALUES_WITHDRAWN, /* the mode may have been MAILBOX_GIVEN a moment ago */
    VALUES_SETTLING,  /* it has not been since `since` */
    VALUES_FREE,      /* a poll later: what was read before is known */
    VALUES_OFFERED    /* the value `taken` is in the mailbox */
};

struct values {
    bool open;   /* a stream is under way */
    bool hailed; /* hello came on its port since its last request */
    int port;    /* with stream: which one it is, or was; -1: none */
    uint8_t stream;
    uint32_t next, taken; /* places: see WIRE_VALUES */
    enum values_mailbox mailbox;
    uint64_t since;
    uint32_t reads_before;             /* watch.values when the value was offered */
    uint32_t queue[WIRE_VALUES_QUEUE]; /* by place */
};

void values_start(struct values *values);
void values_poll(struct board *board);
/* The stream under way ends, and the mailbox shows no value any more. */
void values_end(struct board *board);
/* WIRE_HELLO came on that port. */
void values_hailed(struct values *values, int port);
/* WIRE_VALUES; items: count times VALUES_ITEM bytes. */
enum wire_status values_take(struct board *board, int port, uint8_t stream, uint32_t first,
                             const uint8_t *items, uint8_t count);
uint8_t values_room(const struct values *values);

#endif
