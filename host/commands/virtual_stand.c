#include "commands/virtual_stand.h"

#include "virtual/board.h"

#include <stdlib.h>

enum {
    FIELD_US = 16688, /* 262 lines [A]; only how far time goes when the console does not move it */
    WARM_UP_MS = 100  /* from switching on to a picture */
};

struct virtual_stand {
    struct virtual_board *board; /* NULL: a plain cartridge is in the slot */
    struct video_source video;
    uint64_t seed; /* the plain cartridge's */
};

struct pumped {
    struct virtual_stand *stand;
    struct transport wire;
};

/* Time goes on whatever the console does. */
static void run_field(struct virtual_stand *stand) {
    if (stand->board == NULL) {
        virtual_run_field(&stand->video);
        return;
    }
    const uint64_t before = virtual_board_now(stand->board);
    virtual_run_field(&stand->video);
    if (virtual_board_now(stand->board) == before) {
        virtual_board_advance(stand->board, FIELD_US);
    }
}

void virtual_stand_wait(struct virtual_stand *stand, int ms) {
    virtual_rest(&stand->video);
    if (stand->board == NULL) {
        for (int us = 0; us < ms * 1000; us += FIELD_US) {
            run_field(stand);
        }
        return;
    }
    const uint64_t end = virtual_board_now(stand->board) + (uint64_t)ms * 1000;
    while (virtual_board_now(stand->board) < end) {
        run_field(stand);
    }
}

void virtual_stand_power_cycle(struct virtual_stand *stand) {
    virtual_power_cycle(&stand->video);
    virtual_stand_wait(stand, WARM_UP_MS);
}

bool virtual_stand_open(const struct virtual_options *options, struct virtual_stand **stand,
                        struct problem *problem) {
    struct virtual_board_options board;
    struct virtual_stand *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "virtual bench: out of memory; close other programs");
    }
    virtual_board_defaults(&board);
    made->board = virtual_board_new(&board, problem);
    if (made->board == NULL || !virtual_open_board(options, made->board, &made->video, problem)) {
        virtual_stand_close(made);
        return false;
    }
    virtual_stand_wait(made, WARM_UP_MS);
    *stand = made;
    return true;
}

bool virtual_stand_insert(const struct virtual_options *options, int scheme, bool ram, const uint8_t *image,
                          struct virtual_stand **stand, struct problem *problem) {
    struct virtual_stand *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "virtual bench: out of memory; close other programs");
    }
    made->seed = options->seed;
    if (!virtual_open_cartridge(options, scheme, ram, image, &made->video, problem)) {
        virtual_stand_close(made);
        return false;
    }
    *stand = made;
    return true;
}

void virtual_stand_write(struct virtual_stand *stand, const uint8_t *image) {
    virtual_rest(&stand->video);
    struct cart_model *cartridge = virtual_cartridge(&stand->video);
    const struct cart_faults faults = cartridge->faults;
    cart_model_init(cartridge, cartridge->scheme, cartridge->has_ram, image, &faults, stand->seed);
    virtual_power_cycle(&stand->video);
}

void virtual_stand_close(struct virtual_stand *stand) {
    if (stand == NULL) {
        return;
    }
    if (stand->video.close != NULL) {
        stand->video.close(stand->video.state);
    }
    if (stand->board != NULL) {
        virtual_board_free(stand->board);
    }
    free(stand);
}

/* ---- the wire: who waits for the board lets the console run ---- */

static enum io pumped_send(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct pumped *pumped = state;
    virtual_rest(&pumped->stand->video);
    return pumped->wire.send(pumped->wire.state, bytes, count, timeout_ms, done);
}

static enum io pumped_receive(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct pumped *pumped = state;
    virtual_rest(&pumped->stand->video);
    const uint64_t end = virtual_board_now(pumped->stand->board) + (uint64_t)timeout_ms * 1000;
    enum io got = pumped->wire.receive(pumped->wire.state, bytes, size, 0, done);
    while (got == IO_TIMEOUT && virtual_board_now(pumped->stand->board) < end) {
        run_field(pumped->stand);
        got = pumped->wire.receive(pumped->wire.state, bytes, size, 0, done);
    }
    return got;
}

static bool pumped_reopen(void *state, int timeout_ms, struct problem *problem) {
    struct pumped *pumped = state;
    virtual_rest(&pumped->stand->video);
    return pumped->wire.reopen(pumped->wire.state, timeout_ms, problem);
}

static uint64_t pumped_now(void *state) {
    struct pumped *pumped = state;
    virtual_rest(&pumped->stand->video);
    return pumped->wire.now_us(pumped->wire.state);
}

static void pumped_close(void *state) {
    struct pumped *pumped = state;
    virtual_rest(&pumped->stand->video);
    pumped->wire.close(pumped->wire.state);
    free(pumped);
}

bool virtual_stand_transport(struct virtual_stand *stand, struct transport *transport,
                             struct problem *problem) {
    struct pumped *pumped = calloc(1, sizeof *pumped);
    if (pumped == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "virtual bench: out of memory; close other programs");
    }
    pumped->stand = stand;
    if (!transport_virtual(stand->board, &pumped->wire, problem)) {
        free(pumped);
        return false;
    }
    *transport = (struct transport){.state = pumped,
                                    .name = pumped->wire.name,
                                    .send = pumped_send,
                                    .receive = pumped_receive,
                                    .reopen = pumped_reopen,
                                    .now_us = pumped_now,
                                    .bytes_per_second = pumped->wire.bytes_per_second,
                                    .close = pumped_close};
    return true;
}

/* ---- the grabber ---- */

static void keep_open(void *state) {
    (void)state;
}

void virtual_stand_video(struct virtual_stand *stand, struct video_source *source) {
    *source = stand->video;
    source->close = keep_open;
}

bool virtual_stand_run_ahead(struct virtual_stand *stand, bool threads, struct problem *problem) {
    return virtual_run_ahead(&stand->video, threads, problem);
}

void virtual_stand_notes(const struct virtual_stand *stand, struct virtual_notes *notes) {
    virtual_notes(&stand->video, notes);
}
