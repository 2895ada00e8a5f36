/* The hand-over: MAILBOX_HAND_OVER in the image served, a console that answers from its RAM, the new image
 * under its feet, and its jump through the new reset vector. Each wait has an end. */
#include "core/handover.h"

#include "core/bytes.h"
#include "slotjig/mailbox.h"

enum { IDLE_BYTES = 2048 };

static uint8_t *spare(const struct board *board) {
    return board->config.slot.spare(board->config.slot.state);
}

static uint8_t *served(const struct board *board) {
    return board->config.slot.served(board->config.slot.state);
}

static bool supply(const struct board *board) {
    return board->config.slot.supply(board->config.slot.state);
}

static bool has_mailbox(const struct store_image *image) {
    return (image->flags & WIRE_IMAGE_MAILBOX) != 0;
}

static bool has_ram(const struct store_image *image) {
    return (image->flags & WIRE_IMAGE_RAM) != 0;
}

static void lay_piece(void *state, const struct store_image *image, uint32_t offset, const uint8_t *bytes,
                      size_t count) {
    cart_lay(spare(state), offset, bytes, count, image->scheme, has_ram(image));
}

static void poke_select(const struct board *board, uint8_t *lanes) {
    cart_poke(lanes, MAILBOX_STEP, board->step);
    cart_poke(lanes, MAILBOX_MODE, board->select == WIRE_HOLD_STEP ? MAILBOX_HOLD : MAILBOX_FREE);
}

/* A console that waits in its RAM leaves when MAILBOX_MODE is no longer MAILBOX_HAND_OVER, so the new image
 * must not show that by chance. */
static void mask_mode(struct board *board, uint8_t *lanes, uint8_t bank) {
    size_t at = (size_t)(MAILBOX_MODE & (CART_WINDOW - 1)) * CART_BANKS + bank;
    board->masked = lanes[at] == MAILBOX_HAND_OVER;
    if (board->masked) {
        cart_poke(lanes, MAILBOX_MODE, MAILBOX_FREE);
    }
}

static void unmask_mode(struct board *board) {
    enum { OFFSET = MAILBOX_MODE & (CART_WINDOW - 1) };
    if (!board->masked || board->select == WIRE_HOLD_STEP) {
        return;
    }
    board->masked = false;
    uint32_t size = (uint32_t)cart_size(board->served.scheme);
    for (uint32_t at = OFFSET % size; at < size; at += CART_WINDOW) {
        uint8_t byte = 0;
        if (store_read(&board->store, at, &byte, 1)) {
            cart_lay(served(board), at, &byte, 1, board->served.scheme, has_ram(&board->served));
        }
    }
}

/* The spare lanes hold that image. */
static void serve(struct board *board, const struct store_image *image) {
    uint8_t bank = cart_first_bank(image->scheme);
    if (has_mailbox(image) && board->select == WIRE_HOLD_STEP) {
        poke_select(board, spare(board));
    }
    mask_mode(board, spare(board), bank);
    board->served = *image;
    board->config.slot.serve(board->config.slot.state, image->scheme, has_ram(image), bank);
}

static void serve_idle(struct board *board) {
    static const struct store_image idle = {
        .kib = IDLE_BYTES / 1024, .scheme = WIRE_2K, .flags = WIRE_IMAGE_MAILBOX};
    cart_spread(spare(board), board->config.idle, WIRE_2K, false);
    serve(board, &idle);
}

void handover_power_on(struct board *board) {
    const struct store_sink sink = {board, lay_piece};
    bool readable = store_start(&board->store, &board->config.flash, &sink);
    if (readable && board->store.slot >= 0) {
        serve(board, &board->store.image);
    } else {
        serve_idle(board);
    }
    board->start = WIRE_START_POWER;
    unmask_mode(board);
}

/* Until a reset vector has been fetched, that is a start nobody has answered. */
static void serve_newest(struct board *board) {
    const struct store_sink sink = {board, lay_piece};
    board->start = WIRE_START_FORCED;
    if (store_pour(&board->store, &sink)) {
        serve(board, &board->store.image);
    } else {
        board_log(board, 1, "the flash cannot be read; the former image is served");
    }
}

static void finish(struct board *board, enum wire_start start, uint8_t level, const char *text) {
    board->start = start;
    board->handing = HANDING_NOT;
    unmask_mode(board);
    board_log(board, level, text);
}

static bool waits(const struct board *board) {
    return board->handing == HANDING_DUE || board->handing == HANDING_ASKED;
}

void handover_force(struct board *board) {
    if (!waits(board)) {
        return;
    }
    serve_newest(board);
    finish(board, WIRE_START_FORCED, 1, "the new image is served without a hand-over");
}

void handover_due(struct board *board) {
    values_end(board);
    board->handing = HANDING_DUE;
    board->select = WIRE_RUN_FREE;
    board->step = 0;
}

static void ask(struct board *board) {
    if (!has_mailbox(&board->served) || !supply(board)) {
        handover_force(board);
        return;
    }
    board->in_ram_before = board->watch.in_ram;
    board->handing_since = board->now;
    board->handing = HANDING_ASKED;
    cart_poke(served(board), MAILBOX_MODE, MAILBOX_HAND_OVER);
}

static bool late(const struct board *board) {
    return board->now - board->handing_since >= BOARD_HAND_OVER_US;
}

static void await_answer(struct board *board) {
    if (board->watch.in_ram != board->in_ram_before) {
        board->resets_before = board->watch.resets_ever;
        serve_newest(board);
        board->handing_since = board->now;
        board->handing = HANDING_STARTED;
    } else if (late(board) || !supply(board)) {
        handover_force(board);
    }
}

static void await_reset(struct board *board) {
    if (board->watch.resets_ever != board->resets_before) {
        finish(board, WIRE_START_HANDED, 2, "the console took the hand-over");
    } else if (late(board) || !supply(board)) {
        finish(board, WIRE_START_FORCED, 1, "the console did not come through the new reset vector");
    }
}

void handover_poll(struct board *board) {
    switch (board->handing) {
    case HANDING_NOT:
        break;
    case HANDING_DUE:
        ask(board);
        break;
    case HANDING_ASKED:
        await_answer(board);
        break;
    case HANDING_STARTED:
        await_reset(board);
        break;
    }
}

bool handover_mailbox(const struct board *board) {
    return has_mailbox(waits(board) ? &board->store.image : &board->served);
}

enum wire_status handover_select(struct board *board, uint8_t mode, uint8_t step) {
    if (!handover_mailbox(board)) {
        return WIRE_NO_MAILBOX;
    }
    values_end(board);
    board->select = mode;
    board->step = step;
    if (!waits(board)) {
        poke_select(board, served(board));
    }
    return WIRE_OK;
}
