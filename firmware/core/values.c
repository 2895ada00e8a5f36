#include "core/values.h"

#include "core/board.h"
#include "core/handover.h"
#include "slotjig/mailbox.h"

enum { NO_PORT = -1, VALUE_READS = 3 };

static uint8_t *served(const struct board *board) {
    return board->config.slot.served(board->config.slot.state);
}

void values_start(struct values *values) {
    *values = (struct values){.port = NO_PORT};
}

void values_hailed(struct values *values, int port) {
    values->hailed = values->hailed || values->port == port;
}

/* ---- the queue ---- */

static uint32_t queued(const struct values *values) {
    return values->next - values->taken;
}

uint8_t values_room(const struct values *values) {
    return (uint8_t)(WIRE_VALUES_QUEUE - queued(values));
}

static uint32_t *at(struct values *values, uint32_t place) {
    return &values->queue[place % WIRE_VALUES_QUEUE];
}

static uint32_t read_item(const uint8_t *item) {
    return (uint32_t)item[0] | (uint32_t)item[1] << 8 | (uint32_t)item[2] << 16;
}

/* Places wrap. A gap, and what is there already, both make `skipped` count or more. */
static void put(struct values *values, uint32_t first, const uint8_t *items, uint8_t count) {
    uint32_t skipped = values->next - first;
    for (uint32_t i = skipped; i < count && values_room(values) > 0; i++) {
        *at(values, values->next++) = read_item(items + i * VALUES_ITEM);
    }
}

/* ---- the stream ---- */

static bool is_this(const struct values *values, int port, uint8_t stream) {
    return values->port == port && values->stream == stream;
}

/* A host that came back goes on where it was; one that starts anew may have hit on the same number. */
static bool goes_on(const struct values *values, int port, uint8_t stream, uint32_t first) {
    return values->open && is_this(values, port, stream) &&
           (!values->hailed || first - values->taken <= queued(values));
}

static void begin(struct board *board, int port, uint8_t stream, uint32_t first) {
    struct values *values = &board->values;
    handover_select(board, WIRE_RUN_FREE, 0);
    values->open = true;
    values->port = port;
    values->stream = stream;
    values->next = values->taken = first;
}

enum wire_status values_take(struct board *board, int port, uint8_t stream, uint32_t first,
                             const uint8_t *items, uint8_t count) {
    struct values *values = &board->values;
    if (!handover_mailbox(board)) {
        return WIRE_NO_MAILBOX;
    }
    if (!values->open && !values->hailed && is_this(values, port, stream)) {
        return WIRE_NOT_BEGUN;
    }
    if (!goes_on(values, port, stream, first)) {
        begin(board, port, stream, first);
    }
    values->hailed = false;
    put(values, first, items, count);
    return WIRE_OK;
}

/* ---- the mailbox ---- */

static void withdraw(struct board *board) {
    struct values *values = &board->values;
    if (values->mailbox == VALUES_OFFERED) {
        cart_poke(served(board), MAILBOX_MODE, MAILBOX_FREE);
        values->mailbox = VALUES_WITHDRAWN;
    }
}

static void offer(struct board *board) {
    struct values *values = &board->values;
    const uint32_t value = *at(values, values->taken);
    for (int i = 0; i < VALUE_READS; i++) {
        cart_poke(served(board), (uint16_t)(MAILBOX_VALUE + i), (uint8_t)(value >> 8 * i));
    }
    cart_poke(served(board), MAILBOX_MODE, MAILBOX_GIVEN);
    values->reads_before = board->watch.values;
    values->mailbox = VALUES_OFFERED;
}

void values_end(struct board *board) {
    withdraw(board);
    board->values.open = false;
    board->values.taken = board->values.next;
}

void values_poll(struct board *board) {
    struct values *values = &board->values;
    switch (values->mailbox) {
    case VALUES_WITHDRAWN:
        values->since = board->now;
        values->mailbox = VALUES_SETTLING;
        break;
    case VALUES_SETTLING:
        if (board->now - values->since >= VALUES_SETTLE_US) {
            values->mailbox = VALUES_FREE;
        }
        break;
    case VALUES_FREE:
        if (queued(values) > 0 && board->handing == HANDING_NOT) {
            offer(board);
        }
        break;
    case VALUES_OFFERED:
        if (board->watch.values != values->reads_before) {
            values->taken++;
            withdraw(board);
        }
        break;
    }
}
