/* To the virtual bench's board. Its time passes while the host waits; sending takes none. */
#include "link/transport.h"
#include "virtual/board.h"

enum { STEP_US = 500 };

static bool take(struct virtual_board *board, uint8_t *bytes, size_t size, size_t *done) {
    *done = virtual_board_take(board, bytes, size);
    return *done > 0;
}

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct virtual_board *board = state;
    (void)timeout_ms;
    *done = 0;
    if (virtual_board_dead(board)) {
        return IO_LOST;
    }
    virtual_board_receive(board, bytes, count);
    *done = count;
    return IO_OK;
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct virtual_board *board = state;
    const uint64_t until = virtual_board_now(board) + (uint64_t)timeout_ms * 1000;
    for (;;) {
        if (take(board, bytes, size, done)) {
            return IO_OK;
        }
        if (virtual_board_dead(board)) {
            return IO_LOST;
        }
        const uint64_t now = virtual_board_now(board);
        if (now >= until) {
            return IO_TIMEOUT;
        }
        virtual_board_advance(board, until - now < STEP_US ? until - now : STEP_US);
    }
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    (void)timeout_ms;
    if (virtual_board_dead(state)) {
        return problem_set(problem, PROBLEM_BENCH, "the virtual board has lost its power for good");
    }
    return true;
}

static uint64_t now_us(void *state) {
    return virtual_board_now(state);
}

static void close_nothing(void *state) {
    (void)state;
}

bool transport_virtual(struct virtual_board *board, struct transport *transport, struct problem *problem) {
    (void)problem;
    *transport = (struct transport){
        .state = board,
        .name = "virtual",
        .send = send_bytes,
        .receive = receive_bytes,
        .reopen = reopen,
        .now_us = now_us,
        .close = close_nothing,
    };
    return true;
}
