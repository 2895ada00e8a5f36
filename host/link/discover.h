/* Boards that are attached, and near misses, each with the one thing to do. */
#ifndef SLOTJIG_LINK_DISCOVER_H
#define SLOTJIG_LINK_DISCOVER_H

#include "base/problem.h"
#include "slotjig/usb.h"
#include "slotjig/wire.h"

#include <stdbool.h>
#include <stddef.h>

enum board_state {
    BOARD_READY,
    BOARD_NO_PERMISSION, /* there, but this user may not open it */
    BOARD_BUSY,          /* another program has it */
    BOARD_OLD_FIRMWARE,  /* speaks an older version of the wire, or this program does */
    BOARD_WRONG_PRODUCT, /* our test identity, but another maker's or another product's text */
    BOARD_SILENT,        /* opens, and does not answer */
    BOARD_LOADER         /* the chip's own boot loader (2E8A:0003): waits for firmware */
};

struct board_found {
    enum board_state state;
    char serial[2 * WIRE_SERIAL + 1]; /* empty when not known */
    char where[64];                   /* port path "1-2.3", or a device "/dev/ttyACM0" */
    char transport[8];                /* "usb" or "serial" */
    char firmware[16];                /* "0.2", or empty */
    char product[64];                 /* as the device says, cleaned */
    bool reader;                      /* by that: no cartridge board */
    char next[200];                   /* the one thing to do; empty when ready */
};

/* Fills at most max and sets *count to how many there are. False: the USB library could not start. No board
 * is no failure. Asks each candidate for hello (short waits). */
bool boards_find(struct board_found *boards, size_t max, size_t *count, struct problem *problem);
const char *board_state_name(enum board_state state); /* "ready", "no_permission" ... */

#endif
