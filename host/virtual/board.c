#include "virtual/board.h"

#include "core/board.h"
#include "core/idle.h"
#include "virtual/flash.h"
#include "virtual/slot_side.h"

#include <stdlib.h>
#include <string.h>

enum {
    CYCLE_NS = 838, /* 3 clocks of 3.579545 MHz [A] */
    POLL_US = 1000,
    QUEUE = 1 << 16 /* bytes each way; a power of two */
};

struct queue {
    uint8_t bytes[QUEUE];
    uint64_t in, out; /* counts ever */
};

struct virtual_board {
    struct board board;
    struct virtual_flash flash;
    struct slot_side side;
    uint8_t lanes[2][CART_TABLE];
    int serving;
    bool supply;
    uint64_t now_ns;
    uint64_t busy_until; /* us: the flash is at work and the board does nothing else */
    struct queue input, output;
    uint64_t visible; /* of output.in: what was sent while the flash was at work is not out yet */
    uint8_t *own_flash;
};

static size_t queued(const struct queue *queue) {
    return (size_t)(queue->in - queue->out);
}

/* Bytes from a place of the queue on that lie in one piece, at most count. */
static size_t in_one_piece(uint64_t place, size_t count) {
    size_t left = QUEUE - (size_t)(place % QUEUE);
    return count < left ? count : left;
}

static size_t put(struct queue *queue, const uint8_t *bytes, size_t count) {
    size_t free_bytes = QUEUE - queued(queue), taken = count < free_bytes ? count : free_bytes;
    size_t first = in_one_piece(queue->in, taken);
    memcpy(queue->bytes + queue->in % QUEUE, bytes, first);
    memcpy(queue->bytes, bytes + first, taken - first);
    queue->in += taken;
    return taken;
}

static uint8_t *spare(void *state) {
    struct virtual_board *board = state;
    return board->lanes[1 - board->serving];
}

static uint8_t *served(void *state) {
    struct virtual_board *board = state;
    return board->lanes[board->serving];
}

static void serve(void *state, uint8_t scheme, bool ram, uint8_t bank) {
    struct virtual_board *board = state;
    board->serving = 1 - board->serving;
    board->side.cart =
        (struct cart){.lanes = board->lanes[board->serving], .scheme = scheme, .bank = bank, .ram = ram};
}

static bool has_supply(void *state) {
    const struct virtual_board *board = state;
    return board->supply;
}

static size_t room(void *state) {
    const struct virtual_board *board = state;
    return QUEUE - queued(&board->output);
}

static void send_bytes(void *state, const uint8_t *bytes, size_t count) {
    struct virtual_board *board = state;
    if (!board->flash.dead) {
        put(&board->output, bytes, count);
    }
}

/* The chip's own boot loader does not speak the wire: as far as anyone can see, the board is gone. */
static void go_to_loader(void *chip) {
    struct virtual_board *board = chip;
    board->flash.dead = true;
}

void virtual_board_defaults(struct virtual_board_options *options) {
    static const uint8_t serial[WIRE_SERIAL] = {0x56, 0x49, 0x52, 0x54, 0, 0, 0, 1};
    *options = (struct virtual_board_options){.power_cut_after = -1, .seed = 1};
    memcpy(options->serial, serial, sizeof serial);
}

static void start(struct virtual_board *board, const struct virtual_board_options *options) {
    struct board_config config = {
        .flash = virtual_flash_ops(&board->flash),
        .slot = {board, spare, served, serve, has_supply},
        .ports = {{board, room, send_bytes}},
        .port_count = 1,
        .capabilities = WIRE_CAN_SELECT | WIRE_CAN_WATCH | WIRE_CAN_LOADER | WIRE_CAN_BANKS | WIRE_CAN_RAM |
                        WIRE_CAN_KEEP | WIRE_CAN_VALUES,
        .idle = idle_image,
        .chip = board,
        .loader = go_to_loader,
    };
    memcpy(config.serial, options->serial, sizeof config.serial);
    board_start(&board->board, &config, 0);
}

struct virtual_board *virtual_board_new(const struct virtual_board_options *options,
                                        struct problem *problem) {
    struct virtual_board *board = calloc(1, sizeof *board);
    uint8_t *own = options->flash ? NULL : malloc(STORE_BYTES);
    if (!board || (!own && !options->flash)) {
        free(board);
        free(own);
        problem_set(problem, PROBLEM_BENCH, "no memory for the virtual board; close other programs");
        return NULL;
    }
    if (own) {
        memset(own, 0xFF, STORE_BYTES);
    }
    board->own_flash = own;
    board->side.dead = &board->flash.dead;
    board->side.last_address = SLOT_NO_ADDRESS;
    board->flash = (struct virtual_flash){
        .bytes = own ? own : options->flash,
        .random = options->seed,
        .erase_us = options->erase_us,
        .program_us = options->program_us,
        .cut_after = options->power_cut_after,
        .fault_one_in = options->flash_fault_one_in,
    };
    start(board, options);
    return board;
}

void virtual_board_free(struct virtual_board *board) {
    if (board) {
        free(board->own_flash);
        free(board);
    }
}

bool virtual_board_dead(const struct virtual_board *board) {
    return board->flash.dead;
}

uint64_t virtual_board_now(const struct virtual_board *board) {
    return (board->now_ns + (uint64_t)board->side.cycles * CYCLE_NS) / 1000;
}

static bool busy(const struct virtual_board *board) {
    return virtual_board_now(board) < board->busy_until;
}

static void begin_work(struct virtual_board *board) {
    board->flash.spent_us = 0;
}

/* What the board did since begin_work() took as long as its flash did. */
static void end_work(struct virtual_board *board) {
    if (board->flash.spent_us > 0) {
        board->busy_until = virtual_board_now(board) + board->flash.spent_us;
    } else {
        board->visible = board->output.in;
    }
}

/* Up to the end of a frame, since its answer may take time. Returns false when nothing more is taken. */
static bool feed_frame(struct virtual_board *board) {
    struct queue *input = &board->input;
    const uint8_t *from = input->bytes + input->out % QUEUE;
    size_t count = in_one_piece(input->out, queued(input));
    const uint8_t *end = memchr(from, 0, count);
    count = end ? (size_t)(end - from) + 1 : count;
    begin_work(board);
    size_t taken = board_input(&board->board, 0, from, count, virtual_board_now(board));
    input->out += taken;
    end_work(board);
    return taken > 0;
}

static void feed_watch(struct virtual_board *board) {
    board_watch(&board->board, board->side.batch, board->side.batched, board->side.missed);
    board->side.batched = 0;
    board->side.missed = 0;
}

/* One turn of a chip's main loop. */
static void turn(struct virtual_board *board) {
    if (board->flash.dead || busy(board)) {
        return;
    }
    board->visible = board->output.in;
    feed_watch(board);
    while (!busy(board) && !board->flash.dead && feed_frame(board)) {
    }
    if (!busy(board) && !board->flash.dead) {
        begin_work(board);
        board_poll(&board->board, virtual_board_now(board));
        end_work(board);
    }
}

static void settle_clock(struct virtual_board *board) {
    board->now_ns += (uint64_t)board->side.cycles * CYCLE_NS;
    board->side.cycles = 0;
}

void virtual_board_receive(struct virtual_board *board, const uint8_t *bytes, size_t count) {
    size_t taken = 0;
    while (!board->flash.dead && taken < count) {
        size_t now = put(&board->input, bytes + taken, count - taken);
        taken += now;
        turn(board);
        if (now == 0 && queued(&board->input) == QUEUE) {
            return;
        }
    }
}

size_t virtual_board_take(struct virtual_board *board, uint8_t *bytes, size_t size) {
    struct queue *output = &board->output;
    if (board->flash.dead) {
        return 0;
    }
    if (!busy(board)) {
        board->visible = output->in;
    }
    size_t count = 0;
    while (count < size && output->out < board->visible) {
        bytes[count++] = output->bytes[output->out++ % QUEUE];
    }
    return count;
}

void virtual_board_advance(struct virtual_board *board, uint64_t us) {
    settle_clock(board);
    uint64_t end = board->now_ns + us * 1000;
    while (board->now_ns < end) {
        uint64_t step = POLL_US * (uint64_t)1000;
        if (busy(board) && board->busy_until * 1000 - board->now_ns < step) {
            step = board->busy_until * 1000 - board->now_ns;
        }
        board->now_ns += step < end - board->now_ns ? step : end - board->now_ns;
        turn(board);
    }
}

void virtual_board_unplug(struct virtual_board *board) {
    board->input.out = board->input.in;
    board->output.out = board->output.in;
    board->visible = board->output.in;
    board_port_lost(&board->board, 0);
}

void virtual_board_turn(struct virtual_board *board) {
    settle_clock(board);
    turn(board);
}

static void pass(struct virtual_board *board, uint32_t cycles) {
    board->side.cycles += cycles;
    if (board->side.cycles >= SLOT_BATCH) {
        virtual_board_turn(board);
    }
}

void virtual_board_wait(struct virtual_board *board, uint32_t cycles) {
    while (cycles > SLOT_BATCH) {
        pass(board, SLOT_BATCH);
        cycles -= SLOT_BATCH;
    }
    pass(board, cycles);
}

struct slot_side *virtual_board_side(struct virtual_board *board) {
    return &board->side;
}

uint8_t virtual_board_cycle(struct virtual_board *board, uint16_t address, uint8_t bus) {
    if (slot_side_see(&board->side, address)) {
        virtual_board_turn(board);
    }
    return slot_side_byte(&board->side, address, bus);
}

void virtual_board_supply(struct virtual_board *board, bool on) {
    if (!board->flash.dead && !busy(board)) {
        feed_watch(board);
    }
    board->supply = on;
    board->side.last_address = SLOT_NO_ADDRESS;
    turn(board);
}
