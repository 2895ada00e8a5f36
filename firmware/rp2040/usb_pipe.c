#include "rp2040/usb_pipe.h"

#include "rp2040/usb_buffer.h"
#include "rp2040/usb_regs.h"

static volatile uint8_t *buffer_of(const struct pipe *pipe, uint8_t which) {
    return USB_BYTES(pipe->data + which * USB_PACKET);
}

static void reset(struct pipe *pipe) {
    buffer_withdraw(pipe->endpoint, pipe->in, 0);
    buffer_withdraw(pipe->endpoint, pipe->in, 1);
    pipe->from_first = true;
    pipe->next = pipe->oldest = pipe->armed = 0;
    pipe->data1 = false;
    pipe->end_due = false;
}

void pipe_open(struct pipe *pipe) {
    reset(pipe);
    ring_empty(pipe->ring);
    REG(USB_EP_CONTROL(pipe->endpoint, pipe->in)) =
        EP_ENABLE | EP_DOUBLE | EP_EACH_BUFFER | EP_BULK << EP_TYPE_SHIFT | pipe->data;
    pipe->open = true;
    pipe->halted = false;
    pipe_go_on(pipe);
}

void pipe_close(struct pipe *pipe) {
    pipe->open = false;
    pipe->halted = false;
    REG(USB_EP_CONTROL(pipe->endpoint, pipe->in)) = 0;
    reset(pipe);
    ring_empty(pipe->ring);
}

void pipe_halt(struct pipe *pipe, bool halt) {
    reset(pipe);
    pipe->halted = halt;
    if (halt) {
        buffer_stall(pipe->endpoint, pipe->in, 0);
        buffer_stall(pipe->endpoint, pipe->in, 1);
        return;
    }
    pipe_go_on(pipe);
}

static void arm(struct pipe *pipe, size_t count) {
    uint16_t more = pipe->from_first ? BUFFER_SELECT_RESET : 0;
    buffer_arm(pipe->endpoint, pipe->in, pipe->next, count, pipe->data1, more);
    pipe->from_first = false;
    pipe->next ^= 1;
    pipe->data1 = !pipe->data1;
    pipe->armed++;
}

static void take_back(struct pipe *pipe) {
    while (pipe->armed > 0) {
        uint16_t control = USB_BUFFER(pipe->endpoint, pipe->in, pipe->oldest);
        if (control & BUFFER_AVAILABLE) {
            return;
        }
        if (!pipe->in) {
            size_t count = control & BUFFER_LENGTH;
            ring_put(pipe->ring, buffer_of(pipe, pipe->oldest), count < USB_PACKET ? count : USB_PACKET);
        }
        pipe->oldest ^= 1;
        pipe->armed--;
    }
}

/* A packet of the ring's bytes, or the empty one after a full one when there are no more: without it a host
 * that asked for more than came would wait. */
static bool give_packet(struct pipe *pipe) {
    size_t count = ring_used(pipe->ring);
    if (count == 0 && !(pipe->end_due && pipe->armed == 0)) {
        return false;
    }
    if (count > USB_PACKET) {
        count = USB_PACKET;
    }
    ring_take(pipe->ring, buffer_of(pipe, pipe->next), count);
    pipe->end_due = count == USB_PACKET;
    arm(pipe, count);
    return true;
}

void pipe_go_on(struct pipe *pipe) {
    if (!pipe->open || pipe->halted) {
        return;
    }
    take_back(pipe);
    while (pipe->armed < 2) {
        if (pipe->in) {
            if (!give_packet(pipe)) {
                return;
            }
        } else if (ring_room(pipe->ring) >= (size_t)(pipe->armed + 1) * USB_PACKET) {
            arm(pipe, USB_PACKET);
        } else {
            return;
        }
    }
}
