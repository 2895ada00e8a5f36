#include "core/answer.h"

#include "core/bytes.h"
#include "core/handover.h"

enum {
    ROOM_USUAL = 80, /* the longest of the others, a slot watch, is 58 bytes on the wire */
    ROOM_SUMS = 8 + 4 * WIRE_BLOCKS_MAX + 8,
    HALF_WINDOW = WIRE_WINDOW / 2,
    LATE_MOST = 200, /* requests: a host's sequence number comes round after 256 */
    KIB = 1024
};

/* Writes the reply, its status first, and returns its length; 0: none. The payload's length was checked. */
typedef size_t answerer(struct board *board, int port, const struct frame_in *in, uint8_t *reply);

static size_t just(uint8_t *reply, enum wire_status status) {
    reply[0] = (uint8_t)status;
    return 1;
}

static size_t hello(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    const struct board_config *config = &board->config;
    board->ports[port].unacknowledged = 0;
    board->begun = -1;
    values_hailed(&board->values, port);
    return ports_hello(in->payload, config->capabilities, config->serial, reply);
}

static bool elsewhere(const struct board *board, int port) {
    return board->pushing >= 0 && board->pushing != port;
}

static void heard(struct board *board, int port) {
    board->pushing = port;
    board->pushing_at = board->now;
}

/* The push is over, one way or another. */
static void end_push(struct board *board) {
    if (board->pushing >= 0) {
        board->ports[board->pushing].unacknowledged = 0;
    }
    board->pushing = -1;
}

static uint32_t all_blocks(uint8_t kib) {
    return UINT32_MAX >> (WIRE_BLOCKS_MAX - kib * KIB / WIRE_BLOCK);
}

static bool can(const struct board *board, uint32_t capability) {
    return (board->config.capabilities & capability) == capability;
}

static bool possible(const struct board *board, const struct store_image *image, uint32_t keep) {
    size_t size = cart_size(image->scheme);
    uint32_t needs = 0;
    needs |= cart_banks(image->scheme) > 1 ? WIRE_CAN_BANKS : 0;
    needs |= image->flags & WIRE_IMAGE_RAM ? WIRE_CAN_RAM : 0;
    needs |= keep != 0 ? WIRE_CAN_KEEP : 0;
    return size != 0 && size == (size_t)image->kib * KIB && (image->flags & ~WIRE_IMAGE_FLAGS) == 0 &&
           (keep & ~all_blocks(image->kib)) == 0 && can(board, needs);
}

/* A WIRE_BEGIN that the line delivers once more after its push was committed must not start another. */
static bool is_echo_of_committed(const struct board *board, const struct store_image *image,
                                 const struct frame_in *in) {
    const struct store_image *stored = &board->store.image;
    return board->committed == WIRE_OK && board->begun == in->sequence && board->begun_ago < LATE_MOST &&
           stored->crc == image->crc && stored->kib == image->kib && stored->scheme == image->scheme &&
           stored->flags == image->flags;
}

static size_t begin_reply(uint8_t *reply, enum wire_status status, uint32_t have) {
    reply[0] = (uint8_t)status;
    put32(reply + 1, have);
    reply[5] = WIRE_WINDOW;
    return 6;
}

static size_t begin(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    const uint8_t *ask = in->payload;
    const struct store_image image = {.crc = get32(ask), .kib = ask[4], .scheme = ask[5], .flags = ask[6]};
    uint32_t keep = get32(ask + 7);
    if (elsewhere(board, port)) {
        return begin_reply(reply, WIRE_BUSY, 0);
    }
    if (!possible(board, &image, keep)) {
        return begin_reply(reply, WIRE_BAD_VALUE, 0);
    }
    if (is_echo_of_committed(board, &image, in)) {
        return begin_reply(reply, WIRE_OK, all_blocks(image.kib));
    }
    handover_force(board);
    enum wire_status status = store_begin(&board->store, &image, keep);
    if (status == WIRE_BAD_VALUE) {
        return begin_reply(reply, status, 0);
    }
    board->committed = WIRE_NOT_BEGUN;
    if (status == WIRE_OK) {
        heard(board, port);
        board->begun = in->sequence;
        board->begun_ago = 0;
    } else {
        end_push(board);
    }
    return begin_reply(reply, status, store_have(&board->store));
}

static size_t data_reply(const struct board *board, uint8_t *reply, enum wire_status status) {
    reply[0] = (uint8_t)status;
    reply[1] = store_next(&board->store);
    return 2;
}

static bool nothing_missing(const struct board *board) {
    return store_next(&board->store) == board->store.incoming.kib * KIB / WIRE_BLOCK;
}

static size_t data(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    struct board_port *from = &board->ports[port];
    if (board->pushing != port) {
        return data_reply(board, reply, elsewhere(board, port) ? WIRE_BUSY : WIRE_NOT_BEGUN);
    }
    heard(board, port);
    enum wire_status status = store_block(&board->store, in->sequence, in->payload);
    if (status != WIRE_OK) {
        return data_reply(board, reply, status);
    }
    from->last_data = in->sequence;
    from->unacknowledged++;
    if (from->unacknowledged < HALF_WINDOW && !nothing_missing(board)) {
        return 0;
    }
    from->unacknowledged = 0;
    return data_reply(board, reply, WIRE_OK);
}

static size_t commit(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    (void)in;
    if (elsewhere(board, port)) {
        return just(reply, WIRE_BUSY);
    }
    if (board->pushing != port) {
        return just(reply, board->committed);
    }
    heard(board, port);
    enum wire_status status = store_commit(&board->store);
    if (status == WIRE_OK || status == WIRE_BAD_CRC) {
        end_push(board);
        board->committed = (uint8_t)status;
    }
    if (status == WIRE_OK) {
        handover_due(board);
    }
    return just(reply, status);
}

static size_t give_up(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    (void)in;
    if (elsewhere(board, port)) {
        return just(reply, WIRE_BUSY);
    }
    store_abort(&board->store);
    end_push(board);
    return just(reply, WIRE_OK);
}

static size_t image_size(const struct board *board) {
    return board->store.slot < 0 ? 0 : (size_t)board->store.image.kib * KIB;
}

static size_t read_back(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    uint32_t offset = get32(in->payload);
    size_t count = get16(in->payload + 4);
    size_t size = image_size(board);
    if (count < 1 || count > WIRE_BLOCK || offset > size || count > size - offset) {
        return just(reply, WIRE_BAD_VALUE);
    }
    if (!store_read(&board->store, offset, reply + 1, count)) {
        return just(reply, WIRE_FLASH_FAILED);
    }
    return just(reply, WIRE_OK) + count;
}

/* The reply grows behind the place where the blocks are read, page by page. */
static bool block_sum(const struct board *board, uint32_t offset, uint8_t *page, uint32_t *sum) {
    *sum = 0;
    for (uint32_t done = 0; done < WIRE_BLOCK; done += FLASH_PAGE) {
        if (!store_read(&board->store, offset + done, page, FLASH_PAGE)) {
            return false;
        }
        *sum = frame_crc(*sum, page, FLASH_PAGE);
    }
    return true;
}

static size_t sums(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    (void)in;
    uint8_t *page = reply + WIRE_PAYLOAD_MAX - FLASH_PAGE;
    size_t length = just(reply, WIRE_OK);
    for (uint32_t offset = 0; offset < image_size(board); offset += WIRE_BLOCK) {
        uint32_t sum;
        if (!block_sum(board, offset, page, &sum)) {
            return just(reply, WIRE_FLASH_FAILED);
        }
        put32(reply + length, sum);
        length += 4;
    }
    return length;
}

static size_t select_step(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    if (in->payload[0] >= WIRE_SELECTS) {
        return just(reply, WIRE_BAD_VALUE);
    }
    return just(reply, handover_select(board, in->payload[0], in->payload[1]));
}

enum { VALUES_HEAD = 6 };

static size_t take_values(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    const uint8_t *ask = in->payload;
    const uint8_t count = ask[VALUES_HEAD - 1];
    enum wire_status status = WIRE_BAD_VALUE;
    if (count <= WIRE_VALUES_MAX) {
        status = values_take(board, port, ask[0], get32(ask + 1), ask + VALUES_HEAD, count);
    }
    reply[1] = ask[0];
    put32(reply + 2, board->values.next);
    put32(reply + 6, board->values.taken);
    reply[10] = values_room(&board->values);
    return just(reply, status) + (status == WIRE_OK ? 10 : 0);
}

static enum wire_state state_of(const struct board *board) {
    if (board->handing != HANDING_NOT) {
        return WIRE_HANDING;
    }
    if (board->pushing >= 0) {
        return WIRE_RECEIVING;
    }
    return board->store.slot < 0 ? WIRE_IDLE : WIRE_SERVING;
}

static size_t status_now(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    (void)in;
    const struct store_image *image = &board->store.image;
    reply[0] = WIRE_OK;
    reply[1] = (uint8_t)state_of(board);
    put32(reply + 2, image->generation);
    put32(reply + 6, image->crc);
    reply[10] = image->kib;
    reply[11] = image->scheme;
    reply[12] = image->flags;
    reply[13] = board->select;
    reply[14] = board->step;
    reply[15] = (uint8_t)board->start;
    reply[16] = board->config.slot.supply(board->config.slot.state);
    put32(reply + 17, (uint32_t)((board->now - board->started) / 1000));
    put32(reply + 21, board->ports[port].decoder.bad);
    return 25;
}

static size_t watch_now(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    (void)in;
    return just(reply, WIRE_OK) + watch_report(&board->watch, board->now, reply + 1);
}

static size_t log_level(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    return just(reply, ports_log_level(&board->ports[port], in->payload));
}

static size_t loader(struct board *board, int port, const struct frame_in *in, uint8_t *reply) {
    (void)port;
    return just(reply, ports_loader(in->payload, board->now, &board->loader_at));
}

static const struct message {
    uint8_t type;
    uint8_t item;    /* bytes more for each that the last of these counts; 0: none */
    uint16_t length; /* of the payload without them */
    uint32_t needs;  /* capabilities */
    answerer *answer;
} messages[] = {
    {WIRE_HELLO, 0, 2, 0, hello},
    {WIRE_BEGIN, 0, 11, 0, begin},
    {WIRE_DATA, 0, WIRE_BLOCK, 0, data},
    {WIRE_COMMIT, 0, 0, 0, commit},
    {WIRE_ABORT, 0, 0, 0, give_up},
    {WIRE_READ, 0, 6, 0, read_back},
    {WIRE_SUMS, 0, 0, 0, sums},
    {WIRE_SELECT, 0, 2, WIRE_CAN_SELECT, select_step},
    {WIRE_STATUS, 0, 0, 0, status_now},
    {WIRE_WATCH, 0, 0, WIRE_CAN_WATCH, watch_now},
    {WIRE_LOG_LEVEL, 0, 1, 0, log_level},
    {WIRE_LOADER, 0, 4, WIRE_CAN_LOADER, loader},
    {WIRE_VALUES, VALUES_ITEM, VALUES_HEAD, WIRE_CAN_VALUES, take_values},
};

static bool right_length(const struct message *message, const struct frame_in *in) {
    if (message->item == 0 || in->count < message->length) {
        return in->count == message->length;
    }
    return in->count == message->length + (size_t)message->item * in->payload[message->length - 1];
}

static const struct message *find(const struct board *board, uint8_t type) {
    for (size_t i = 0; i < sizeof messages / sizeof messages[0]; i++) {
        if (messages[i].type == type && can(board, messages[i].needs)) {
            return &messages[i];
        }
    }
    return NULL;
}

size_t answer_room(uint8_t type) {
    return type == WIRE_READ ? WIRE_FRAME_MAX : type == WIRE_SUMS ? ROOM_SUMS : ROOM_USUAL;
}

void answer_send(struct board *board, int port, uint8_t type, uint8_t sequence, const uint8_t *payload,
                 size_t count) {
    ports_send(&board->config.ports[port], board->wire, type, sequence, payload, count);
}

/* After the reply, whose room was looked for, so that a line of log never takes it. */
static void tell(struct board *board, enum wire_status status) {
    if (status == WIRE_FLASH_FAILED) {
        board_log(board, 1, "the flash failed: erase, program or read-back");
    } else if (status == WIRE_BAD_CRC) {
        board_log(board, 1, "the blocks do not make the image that was announced");
    }
}

void answer(void *state, int port, const struct frame_in *in) {
    struct board *board = state;
    const struct message *message = find(board, in->type);
    if (!message || !right_length(message, in)) {
        ports_refuse(&board->config.ports[port], board->wire, in, message ? WIRE_BAD_LENGTH : WIRE_UNKNOWN);
        return;
    }
    if (board->begun_ago < LATE_MOST) {
        board->begun_ago++;
    }
    uint8_t *reply = board->scratch;
    size_t count = message->answer(board, port, in, reply);
    if (count > 0) {
        answer_send(board, port, in->type | WIRE_REPLY, in->sequence, reply, count);
        tell(board, (enum wire_status)reply[0]);
    }
}

void answer_blocks(struct board *board, int port) {
    uint8_t reply[2];
    struct board_port *from = &board->ports[port];
    data_reply(board, reply, WIRE_OK);
    answer_send(board, port, WIRE_DATA | WIRE_REPLY, from->last_data, reply, sizeof reply);
    from->unacknowledged = 0;
}
