/*
 * The board of a bench at work: opened, pushed to, asked about the slot; and the console's power switch,
 * which is a program of the user's, a person, or the virtual bench's.
 */
#ifndef SLOTJIG_COMMANDS_BENCH_BOARD_H
#define SLOTJIG_COMMANDS_BENCH_BOARD_H

#include "base/problem.h"
#include "commands/benches.h"
#include "commands/virtual_stand.h"
#include "link/link.h"

#include <stdbool.h>
#include <time.h>

struct bench_board {
    const struct bench_settings *settings;
    struct link
        *link; /* NULL: the user, or a program of theirs, puts the image in, and nothing can be asked */
    struct virtual_stand *stand; /* NULL: a real console */
    const char *transport;       /* "usb", "serial", "command", "virtual", "none" */
    bool cartridge;              /* a plain one, in the virtual console's slot */
    bool progress;               /* on standard error */
    bool switched;               /* the console was switched off and on by its bench's program, then: */
    struct timespec switched_at; /* by the monotonic clock */
    /* Of the last push: */
    bool pushed;
    size_t size;
    enum wire_scheme scheme;
    struct link_push push;
};

struct bench_board_options {
    bool progress, whole, no_read_back;
    bool cartridge; /* in a virtual console's slot a plain cartridge in the board's place */
};

/* bench_board_close() also after a failure. The settings must outlive the board. */
bool bench_board_open(struct bench_board *board, const struct bench_settings *settings,
                      const struct bench_board_options *options, struct problem *problem);
void bench_board_close(struct bench_board *board);

bool bench_board_push(struct bench_board *board, const struct link_image *image, struct problem *problem);

/* Makes the console start what the board serves, where it did not take it by itself: switches it off and on,
 * or asks a person who sits at the terminal to. PROBLEM_BENCH when there is neither. */
bool bench_board_restart(struct bench_board *board, struct problem *problem);
/* The push left the console with what it ran before. */
bool bench_board_needs_restart(const struct bench_board *board);

/* What the board saw of the slot during the last whole second; waits for one. *asked is false where the board
 * cannot be asked, which is no failure. */
bool bench_board_watch(struct bench_board *board, struct link_watch *watch, bool *asked,
                       struct problem *problem);

#endif
