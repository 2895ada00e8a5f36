#include "commands/bench_board.h"

#include "commands/power.h"
#include "commands/program_push.h"
#include "link/transport.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

enum {
    WATCH_WAIT_MS = 2500, /* a whole second ends within two */
    WATCH_AGAIN_MS = 100
};

/* ---- opening ---- */

static void show_blocks(void *user, size_t done, size_t blocks) {
    const struct bench_board *board = user;
    if (board->progress) {
        fprintf(stderr, "\r  %zu of %zu blocks%s", done, blocks, done == blocks ? "\r\033[K" : "\033[K");
        fflush(stderr);
    }
}

static bool open_transport(struct bench_board *board, struct transport *transport, struct problem *problem) {
    const struct board_choice *choice = &board->settings->board;
    switch (choice->way) {
    case BOARD_VIRTUAL:
        return virtual_stand_open(&board->settings->options, &board->stand, problem) &&
               virtual_stand_transport(board->stand, transport, problem);
    case BOARD_BY_SERIAL:
        return transport_serial(choice->text, choice->baud, transport, problem);
    default:
        return transport_usb(choice->text[0] != '\0' ? choice->text : NULL, transport, problem);
    }
}

bool bench_board_open(struct bench_board *board, const struct bench_settings *settings,
                      const struct bench_board_options *options, struct problem *problem) {
    struct transport transport;
    struct link_options link;
    *board =
        (struct bench_board){.settings = settings, .transport = "command", .progress = options->progress};
    if (settings->board.way == BOARD_NONE) {
        board->transport = "none";
        return true;
    }
    board->cartridge = options->cartridge && settings->board.way == BOARD_VIRTUAL;
    if (board->cartridge) {
        board->transport = "virtual";
        return true; /* the console is switched on over the image, when that is there */
    }
    if (settings->board.way == BOARD_BY_COMMAND) {
        return true;
    }
    if (!open_transport(board, &transport, problem)) {
        return false;
    }
    board->transport = transport.name;
    link_defaults(&link);
    link.whole = options->whole;
    link.read_back = !options->no_read_back;
    link.progress = show_blocks;
    link.user = board;
    return link_open(&transport, &link, &board->link, problem);
}

void bench_board_close(struct bench_board *board) {
    if (board->link != NULL) {
        link_close(board->link);
    }
    virtual_stand_close(board->stand);
    board->link = NULL;
    board->stand = NULL;
}

/* ---- pushing and starting ---- */

/* A plain cartridge is written anew, or put in. */
static bool write_cartridge(struct bench_board *board, const struct link_image *image,
                            struct problem *problem) {
    board->push.start = WIRE_START_POWER;
    if (board->stand != NULL) {
        virtual_stand_write(board->stand, image->bytes);
        return true;
    }
    return virtual_stand_insert(&board->settings->options, (int)image->scheme,
                                (image->flags & WIRE_IMAGE_RAM) != 0, image->bytes, &board->stand, problem);
}

bool bench_board_push(struct bench_board *board, const struct link_image *image, struct problem *problem) {
    board->size = image->size;
    board->scheme = image->scheme;
    board->push = (struct link_push){.start = WIRE_START_FORCED};
    if (board->settings->board.way == BOARD_NONE) {
        return true; /* it is there already, or the picture will say that another is */
    }
    board->pushed = board->cartridge      ? write_cartridge(board, image, problem)
                    : board->link != NULL ? link_push(board->link, image, &board->push, problem)
                                          : program_push(board->settings->board.text, image, problem);
    if (board->progress && !board->pushed) {
        fprintf(stderr, "\r\033[K"); /* what went wrong gets a line of its own */
    }
    return board->pushed;
}

/* Skipped: the board had the image, and how it once came to be served says nothing about now. */
bool bench_board_needs_restart(const struct bench_board *board) {
    return board->pushed && board->push.start == WIRE_START_FORCED && !board->push.skipped;
}

bool bench_board_restart(struct bench_board *board, struct problem *problem) {
    if (board->stand != NULL) {
        virtual_stand_power_cycle(board->stand);
        return true;
    }
    if (!power_cycle(board->settings->power, problem)) {
        return false;
    }
    board->switched = board->settings->power[0] != '\0'; /* a person's Enter may mean anything */
    clock_gettime(CLOCK_MONOTONIC, &board->switched_at);
    return true;
}

/* ---- the slot ---- */

static void wait_ms(struct bench_board *board, int ms) {
    if (board->stand != NULL) {
        virtual_stand_wait(board->stand, ms);
        return;
    }
    const struct timespec time = {.tv_sec = ms / 1000, .tv_nsec = (long)(ms % 1000) * 1000000};
    nanosleep(&time, NULL);
}

bool bench_board_watch(struct bench_board *board, struct link_watch *watch, bool *asked,
                       struct problem *problem) {
    *asked = board->link != NULL && (link_facts(board->link)->capabilities & WIRE_CAN_WATCH) != 0;
    for (int waited = 0; *asked; waited += WATCH_AGAIN_MS) {
        if (!link_watch(board->link, watch, problem)) {
            return false;
        }
        if (watch->age_ms >= 0 || waited >= WATCH_WAIT_MS) {
            *asked = watch->age_ms >= 0;
            break;
        }
        wait_ms(board, WATCH_AGAIN_MS);
    }
    return true;
}
