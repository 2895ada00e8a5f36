/*
 * The board: link server on several ports, image store, hand-over, watch. Portable, no heap, no chip's
 * register: a chip's start-up fills struct board_config, then calls board_start() once and board_poll() for
 * ever. The virtual bench does the same.
 */
#ifndef SLOTJIG_CORE_BOARD_H
#define SLOTJIG_CORE_BOARD_H

#include "core/cart.h"
#include "core/ports.h"
#include "core/store.h"
#include "core/values.h"
#include "core/watch.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    BOARD_HAND_OVER_US = 300000, /* how long the console has to take the hand-over: some fields */
    BOARD_PAUSE_US = 2000,       /* input paused that long between frames: acknowledge what came */
    BOARD_CUT_US = 50000,        /* in the middle of a frame, where slow lines pause too */
    BOARD_SILENCE_US = 30000000  /* a push that is silent so long may be gone on with from another port */
};

struct slot_ops {
    void *state;
    uint8_t *(*spare)(void *state);  /* CART_TABLE lanes that are not being served */
    uint8_t *(*served)(void *state); /* the lanes being served; the mailbox is changed in them */
    /* The spare lanes become the served ones, at once, in that bank and with that scheme: no byte of a
     * mixture is ever served. The former ones are the spare ones afterwards. */
    void (*serve)(void *state, uint8_t scheme, bool ram, uint8_t bank);
    bool (*supply)(void *state); /* console's +5 V is there */
};

struct board_config {
    struct flash_ops flash;
    struct slot_ops slot;
    struct port_ops ports[BOARD_PORTS];
    int port_count;
    uint8_t serial[WIRE_SERIAL];
    uint32_t capabilities;
    const uint8_t *idle; /* the idle picture's image: 2 KiB, with mailbox */
    void *chip;
    void (*loader)(void *chip); /* restarts in the chip's own loader, some ms after the reply; may be NULL */
};

enum board_handing {
    HANDING_NOT,
    HANDING_DUE,    /* the next poll asks the console */
    HANDING_ASKED,  /* the former image is still served */
    HANDING_STARTED /* the new one is; the console has not yet come through its reset vector */
};

struct board {
    struct board_config config;
    struct store store;
    struct watch watch;
    struct values values;
    struct board_port ports[BOARD_PORTS];
    uint64_t now, started, loader_at;
    enum board_handing handing;
    uint64_t handing_since;
    uint32_t in_ram_before, resets_before;
    enum wire_start start;
    uint8_t select, step;
    bool masked;         /* MAILBOX_MODE shows 0 instead of the image's byte until the console has started */
    int pushing;         /* port of the push under way, or -1 */
    uint64_t pushing_at; /* last heard of */
    /* To know that WIRE_BEGIN when the line delivers it once more: its sequence number, or -1, and the
     * requests that came since. */
    int begun;
    uint8_t begun_ago;
    uint8_t committed;         /* what the last WIRE_COMMIT ended with, WIRE_NOT_BEGUN before it */
    struct store_image served; /* what the lanes hold; generation 0: the idle picture */
    uint8_t scratch[WIRE_PAYLOAD_MAX];
    uint8_t wire[WIRE_FRAME_MAX];
};

/* Chooses the image, spreads it and serves it before it returns; nothing is sent. */
void board_start(struct board *board, const struct board_config *config, uint64_t now_us);
/* Bytes that came in on a port. Returns how many were taken: fewer when a reply has no room; the rest is to
 * be given again later. */
size_t board_input(struct board *board, int port, const uint8_t *bytes, size_t count, uint64_t now_us);
/* A port whose other end is known to have gone (USB unplugged): what it had begun may be resumed on any port.
 */
void board_port_lost(struct board *board, int port);
/* Addresses the slot saw steady; see core/watch.h. All that came before a board_poll() begins is given before
 * it: what the mailbox may show next depends on what the console has read (core/values.h). */
void board_watch(struct board *board, const uint16_t *addresses, size_t count, uint32_t missed);
/* Hand-over, pauses, watch, values. At least every few milliseconds. */
void board_poll(struct board *board, uint64_t now_us);
/* A line to every port whose host asked for that level. */
void board_log(struct board *board, uint8_t level, const char *text);

#endif
