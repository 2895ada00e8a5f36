/*
 * A transport to a rig's board that goes wrong once, at a chosen message: a transport around a transport, for
 * tests of one interruption at a time. Messages are counted from 1 in both directions: each send(), and each
 * receive() that brought bytes.
 */
#ifndef SLOTJIG_TESTS_LINK_SHAKY_H
#define SLOTJIG_TESTS_LINK_SHAKY_H

#include "link/transports.h"

enum shake {
    SHAKE_NOTHING,
    SHAKE_CUT,    /* the transport is lost; the board knows nothing of it */
    SHAKE_UNPLUG, /* the transport is lost, and the board sees that its port is */
    SHAKE_POWER,  /* the board loses its power, and has it again: another board over the same flash */
    SHAKE_RESET   /* the same, but the transport does not notice (a UART) */
};

struct shaky {
    struct rig *rig;
    enum shake what;
    long at;       /* message */
    bool arrives;  /* that message still arrives */
    long messages; /* counted so far */
    bool happened;
    /* Called at every message; may be NULL. */
    void (*look)(void *user);
    void *user;
    /* inside */
    struct transport inner;
    bool lost;
    uint64_t base_us;
};

/* Over any transport; SHAKE_POWER and SHAKE_RESET, and boards that die, only over the virtual board. */
void shaky_transport(struct shaky *shaky, const struct transport *inner, struct transport *transport);
/* A new board over the rig's flash, without any cut of power to come. */
void shaky_new_board(struct shaky *shaky);

#endif
