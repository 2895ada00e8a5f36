#include "link/shaky.h"

static uint64_t now_us(void *state) {
    const struct shaky *shaky = state;
    return shaky->base_us + shaky->inner.now_us(shaky->inner.state);
}

void shaky_new_board(struct shaky *shaky) {
    struct problem problem;
    shaky->base_us = now_us(shaky);
    virtual_board_free(shaky->rig->board);
    shaky->rig->options.power_cut_after = -1;
    shaky->rig->board = virtual_board_new(&shaky->rig->options, &problem);
    transport_virtual(shaky->rig->board, &shaky->inner, &problem);
}

static void shake(struct shaky *shaky) {
    shaky->happened = true;
    shaky->lost = shaky->what != SHAKE_RESET;
    if (shaky->what == SHAKE_UNPLUG) {
        virtual_board_unplug(shaky->rig->board);
    }
    if (shaky->what == SHAKE_POWER || shaky->what == SHAKE_RESET) {
        shaky_new_board(shaky);
    }
}

/* True when it is time. */
static bool count(struct shaky *shaky) {
    if (shaky->look != NULL) {
        shaky->look(shaky->user);
    }
    return ++shaky->messages == shaky->at && shaky->what != SHAKE_NOTHING;
}

static enum io send_bytes(void *state, const uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct shaky *shaky = state;
    *done = 0;
    if (shaky->lost) {
        return IO_LOST;
    }
    const bool now = count(shaky);
    if (now && !shaky->arrives) {
        shake(shaky);
        *done = shaky->lost ? 0 : size;
        return shaky->lost ? IO_LOST : IO_OK;
    }
    const enum io result = shaky->inner.send(shaky->inner.state, bytes, size, timeout_ms, done);
    shaky->lost = result == IO_LOST;
    if (now) {
        shake(shaky);
    }
    return result;
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct shaky *shaky = state;
    *done = 0;
    if (shaky->lost) {
        return IO_LOST;
    }
    const enum io result = shaky->inner.receive(shaky->inner.state, bytes, size, timeout_ms, done);
    shaky->lost = result == IO_LOST;
    if (result != IO_OK || !count(shaky)) {
        return result;
    }
    shake(shaky);
    if (shaky->arrives) {
        return IO_OK;
    }
    *done = 0;
    return shaky->lost ? IO_LOST : IO_TIMEOUT;
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    struct shaky *shaky = state;
    if (virtual_board_dead(shaky->rig->board)) {
        shaky_new_board(shaky);
    }
    const bool ours = shaky->happened;
    shaky->lost = false;
    return ours || shaky->inner.reopen(shaky->inner.state, timeout_ms, problem);
}

static void close_inner(void *state) {
    struct shaky *shaky = state;
    shaky->inner.close(shaky->inner.state);
}

void shaky_transport(struct shaky *shaky, const struct transport *inner, struct transport *transport) {
    shaky->inner = *inner;
    *transport = (struct transport){
        .state = shaky,
        .name = inner->name,
        .send = send_bytes,
        .receive = receive_bytes,
        .reopen = reopen,
        .now_us = now_us,
        .close = close_inner,
        .bytes_per_second = inner->bytes_per_second,
    };
}
