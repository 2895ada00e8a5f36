#include "core/board.h"

#include "core/answer.h"
#include "core/bytes.h"
#include "core/handover.h"

enum { NEVER = 0 };

void board_start(struct board *board, const struct board_config *config, uint64_t now_us) {
    *board = (struct board){.config = *config, .now = now_us, .started = now_us};
    board->pushing = -1;
    board->begun = -1;
    board->committed = WIRE_NOT_BEGUN;
    board->loader_at = NEVER;
    watch_start(&board->watch, now_us);
    values_start(&board->values);
    for (int port = 0; port < BOARD_PORTS; port++) {
        frame_start(&board->ports[port].decoder);
    }
    handover_power_on(board);
}

static size_t room(const struct board *board, int port) {
    const struct port_ops *ops = &board->config.ports[port];
    return ops->room(ops->state);
}

static const struct ports_server server = {answer_room, answer};

size_t board_input(struct board *board, int port, const uint8_t *bytes, size_t count, uint64_t now_us) {
    board->now = now_us;
    return ports_input(&server, board, &board->config.ports[port], &board->ports[port], port, bytes, count);
}

void board_port_lost(struct board *board, int port) {
    struct board_port *lost = &board->ports[port];
    frame_start(&lost->decoder);
    lost->unacknowledged = 0;
    lost->log_level = 0;
    if (board->pushing == port) {
        board->pushing = -1;
    }
}

static void tick_watch(struct board *board) {
    watch_tick(&board->watch, board->config.slot.supply(board->config.slot.state), board->now);
}

/* A supply that came up is noted first, or the first reset would be forgotten with what was before it. */
void board_watch(struct board *board, const uint16_t *addresses, size_t count, uint32_t missed) {
    if (count > 0 || missed > 0) {
        tick_watch(board);
        watch_feed(&board->watch, addresses, count, missed);
    }
}

/* The pause is counted from the first poll after the last input: flash may have kept the board busy since. */
static void poll_port(struct board *board, int port) {
    struct board_port *from = &board->ports[port];
    if (from->fed) {
        from->fed = false;
        from->fed_at = board->now;
        return;
    }
    uint64_t pause = from->decoder.started ? BOARD_CUT_US : BOARD_PAUSE_US;
    if (from->unacknowledged > 0 && board->now - from->fed_at >= pause &&
        room(board, port) >= answer_room(WIRE_DATA)) {
        answer_blocks(board, port);
    }
}

void board_poll(struct board *board, uint64_t now_us) {
    board->now = now_us;
    tick_watch(board);
    for (int port = 0; port < board->config.port_count; port++) {
        poll_port(board, port);
    }
    if (board->pushing >= 0 && now_us - board->pushing_at >= BOARD_SILENCE_US) {
        board->pushing = -1;
    }
    handover_poll(board);
    values_poll(board);
    if (board->loader_at != NEVER && now_us >= board->loader_at && board->config.loader) {
        board->loader_at = NEVER;
        board->config.loader(board->config.chip);
    }
}

void board_log(struct board *board, uint8_t level, const char *text) {
    ports_log(board->config.ports, board->ports, board->config.port_count, board->wire, level, text);
}
