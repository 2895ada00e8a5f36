/*
 * One way to move bytes to a board and back: USB, a serial line, the virtual bench's board. A decorator
 * (faults) is a transport around a transport. The wire's client (link.h) knows no more than this.
 */
#ifndef SLOTJIG_LINK_TRANSPORT_H
#define SLOTJIG_LINK_TRANSPORT_H

#include "base/problem.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum io {
    IO_OK,      /* some bytes moved (receive: at least one) */
    IO_TIMEOUT, /* none did in time */
    IO_LOST     /* the board is gone; only reopen() and close() are allowed now */
};

struct transport {
    void *state;
    const char *name; /* "usb", "serial", "virtual"; static */
    /* Sends from the start of bytes; *done says how many went out, whatever is returned. Blocks for at most
     * timeout_ms. */
    enum io (*send)(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done);
    /* Takes what there is, at most size; waits at most timeout_ms for the first byte (0: does not wait). */
    enum io (*receive)(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done);
    /* After IO_LOST: waits at most timeout_ms for the same board (its serial or port path) to come back. */
    bool (*reopen)(void *state, int timeout_ms, struct problem *problem);
    /* Microseconds from any start; a virtual clock moves while receive() and reopen() wait. Always allowed.
     */
    uint64_t (*now_us)(void *state);
    void (*close)(void *state); /* frees the state too */
    /* What a slow line carries each way, so that waits take it into account; 0: much faster than any wait. */
    unsigned bytes_per_second;
};

/* A real board's serial device: /dev/ttyACM0, a pty. 8N1, no flow control; baud for UARTs. PROBLEM_BENCH: not
 * found, no permission, busy, each with what to do. */
bool transport_serial(const char *device, int baud, struct transport *transport, struct problem *problem);

/* By board serial (16 hexadecimal digits) or port path ("1-2.3"), or NULL for the only cartridge board, or
 * TRANSPORT_ANY_READER for the only reader. Two candidates and no choice is PROBLEM_INPUT that lists them. */
#define TRANSPORT_ANY_READER "reader"
bool transport_usb(const char *choice, struct transport *transport, struct problem *problem);

struct virtual_board;
/* To a virtual board (virtual/board.h), which must outlive it. */
bool transport_virtual(struct virtual_board *board, struct transport *transport, struct problem *problem);

/* Seeded faults around another transport, which is closed with this one. Rates are chances for each frame's
 * worth of bytes, 0 to 1. The same seed and the same calls give the same faults. */
struct transport_faults {
    uint64_t seed;
    double drop, flip, cut, twice, reorder, stall, unplug;
    int stall_ms_max;
    /* Called with every byte string that went in or came out, after the faults; may be NULL. */
    void (*log)(void *user, char direction /* '>' to the board, '<' from it */, const uint8_t *bytes,
                size_t count);
    void *user;
};
bool transport_faulty(const struct transport *inner, const struct transport_faults *faults,
                      struct transport *transport, struct problem *problem);

#endif
