/* Asks whatever is on the other end for hello, once, with short waits: for lists of boards, where "another
 * version of the wire" and "no answer" are different things. Inside link/ only. */
#ifndef SLOTJIG_LINK_PROBE_H
#define SLOTJIG_LINK_PROBE_H

#include "link/transport.h"
#include "slotjig/wire.h"

enum probe {
    PROBE_SILENT,        /* nothing that makes sense */
    PROBE_OTHER_VERSION, /* a board, with a version of the wire that this program does not speak */
    PROBE_GOOD
};

struct probe_facts {
    int version, firmware_major, firmware_minor; /* -1: not said */
    char serial[2 * WIRE_SERIAL + 1];            /* empty: not said */
};

enum probe probe_hello(const struct transport *transport, struct probe_facts *facts);

#endif
