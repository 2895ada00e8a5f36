/* What is in the console's slot: the bytes of a plain cartridge, a cartridge under test, or a board; and the
 * slot's own faults. */
#ifndef SLOTJIG_VIRTUAL_SOCKET_H
#define SLOTJIG_VIRTUAL_SOCKET_H

#include "virtual/bench.h"
#include "virtual/console.h"

enum { SOCKET_ROM = 4096 };

struct socket {
    const struct console *console; /* whose cycles are the board's time */
    struct virtual_board *board;   /* NULL: a plain cartridge */
    struct slot_side *side;        /* the board's */
    struct cart_model *model;      /* NULL, or a cartridge under test, with the slot's faults among its own */
    uint8_t rom[SOCKET_ROM];
    uint16_t address_low, address_high; /* address lines stuck, as the cartridge sees them */
    uint64_t told;                      /* console's cycle up to which the board's time has come */
    uint64_t owed_ns;                   /* time without bus cycles that the board does not know of yet */
};

/* The cartridge as the console wants it, with the faults of the slot. The socket must not move. */
struct cartridge socket_cartridge(struct socket *socket, const struct virtual_faults *faults);

/* The board's time up to the console's: a processor that waits, or has stopped, makes no bus cycles. */
void socket_catch_up(struct socket *socket);

#endif
