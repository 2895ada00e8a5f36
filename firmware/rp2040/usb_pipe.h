/* Bulk endpoints, double-buffered: between a ring and the USB controller. */
#ifndef SLOTJIG_RP2040_USB_PIPE_H
#define SLOTJIG_RP2040_USB_PIPE_H

#include "rp2040/ring.h"

#include <stdbool.h>
#include <stdint.h>

struct pipe {
    uint8_t endpoint;
    bool in;       /* to the host */
    uint16_t data; /* two buffers of 64 bytes in the controller's memory */
    struct ring *ring;
    bool open, halted;
    bool from_first; /* the controller must be told to begin with the first buffer again */
    uint8_t next;    /* buffer that is given to the controller next */
    uint8_t oldest;  /* buffer that comes back next */
    uint8_t armed;   /* buffers the controller has: 0 to 2 */
    bool data1;      /* toggle of the next packet */
    bool end_due;    /* the last packet was full: an empty one must say that nothing follows */
};

/* All of these with interrupts off, or from the interrupt. */
void pipe_open(struct pipe *pipe);
void pipe_close(struct pipe *pipe);
/* The host's SET_FEATURE and CLEAR_FEATURE(ENDPOINT_HALT). Clearing starts with DATA0 again, halted or not.
 */
void pipe_halt(struct pipe *pipe, bool halt);
/* Takes back what is done, gives the controller what it can have. */
void pipe_go_on(struct pipe *pipe);

#endif
