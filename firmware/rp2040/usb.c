#include "rp2040/usb.h"

#include "core/bytes.h"
#include "pico/pins.h"
#include "rp2040/clock.h"
#include "rp2040/usb_buffer.h"
#include "rp2040/usb_control.h"
#include "rp2040/usb_pipe.h"
#include "rp2040/usb_regs.h"
#include "rp2040/vectors.h"

enum { IN, OUT };
enum { RESET_TURNS = 1000 };

static struct ring rings[USB_PORTS][2];
static volatile bool lost[USB_PORTS];
static uint32_t piece_at[USB_PORTS]; /* where usb_piece() found the piece it gave last */
static struct usb_device device;
static bool shown;

#define DATA_AT(index) (USB_FREE_AT + (index)*2 * USB_PACKET)
static struct pipe pipes[USB_PORTS][2] = {
    [USB_PORT_WIRE] = {[IN] = {.endpoint = USB_WIRE_IN & 15, .in = true, .data = DATA_AT(0)},
                       [OUT] = {.endpoint = USB_WIRE_OUT, .data = DATA_AT(1)}},
    [USB_PORT_SERIAL] = {[IN] = {.endpoint = USB_CDC_IN & 15, .in = true, .data = DATA_AT(2)},
                         [OUT] = {.endpoint = USB_CDC_OUT, .data = DATA_AT(3)}},
};
enum { NOTIFY_AT = DATA_AT(4) };

/* A control transfer under way (8.5.3). */
static struct {
    const uint8_t *data;
    size_t left;
    bool sending, receiving;
    bool data1; /* toggle of the next packet sent */
    bool address_due;
    uint8_t address;
} control;

static void lose(enum usb_port port) {
    lost[port] = true;
}

static void close_all(void) {
    for (int port = 0; port < USB_PORTS; port++) {
        pipe_close(&pipes[port][IN]);
        pipe_close(&pipes[port][OUT]);
    }
    REG(USB_EP_CONTROL(USB_CDC_NOTIFY & 15, true)) = 0;
}

/* The serial port has nothing to notify, so its interrupt endpoint is open and never has a packet. */
static void open_all(void) {
    REG(USB_EP_CONTROL(USB_CDC_NOTIFY & 15, true)) =
        EP_ENABLE | EP_EACH_BUFFER | EP_INTERRUPT << EP_TYPE_SHIFT | NOTIFY_AT;
    buffer_withdraw(USB_CDC_NOTIFY & 15, true, 0);
    for (int port = 0; port < USB_PORTS; port++) {
        pipe_open(&pipes[port][IN]);
        pipe_open(&pipes[port][OUT]);
    }
}

static void lose_all(void) {
    if (device.configuration) {
        lose(USB_PORT_WIRE);
        lose(USB_PORT_SERIAL);
    }
}

static void bus_reset(void) {
    lose_all();
    close_all();
    usb_control_reset(&device);
    control.address_due = control.sending = control.receiving = false;
    buffer_withdraw(0, true, 0);
    buffer_withdraw(0, false, 0);
    REG(USB_ADDRESS) = 0;
}

static void stall_control(void) {
    control.sending = control.receiving = false;
    REG_SET(USB_EP_STALL_ARM) = 3;
    buffer_stall(0, true, 0);
    buffer_stall(0, false, 0);
}

static void send_packet(void) {
    size_t count = control.left < USB_EP0_PACKET ? control.left : USB_EP0_PACKET;
    volatile uint8_t *to = USB_BYTES(USB_EP0_AT);
    for (size_t i = 0; i < count; i++) {
        to[i] = control.data[i];
    }
    control.data += count;
    control.left -= count;
    buffer_arm(0, true, 0, count, control.data1, 0);
    control.data1 = !control.data1;
}

static void acknowledge(void) {
    control.sending = false;
    control.left = 0;
    control.data1 = true;
    send_packet();
}

/* The host's acknowledgement may come before it has taken all (8.5.3.2), so it is waited for from the start.
 */
static void start_sending(const struct usb_reply *reply, uint16_t asked) {
    control.sending = true;
    control.data = reply->data;
    control.left = reply->count < asked ? reply->count : asked;
    control.data1 = true;
    send_packet();
    buffer_arm(0, false, 0, USB_EP0_PACKET, true, 0);
}

static void halt(uint8_t address, bool on) {
    for (int port = 0; port < USB_PORTS; port++) {
        for (int way = 0; way < 2; way++) {
            struct pipe *pipe = &pipes[port][way];
            if (pipe->endpoint == (address & 15) && pipe->in == (address >> 7)) {
                pipe_halt(pipe, on);
            }
        }
    }
    if (address == USB_CDC_NOTIFY) {
        if (on) {
            buffer_stall(address & 15, true, 0);
        } else {
            buffer_withdraw(address & 15, true, 0);
        }
    }
}

static void take_effect(const struct usb_reply *reply) {
    switch (reply->effect) {
    case USB_NEW_ADDRESS:
        control.address_due = true;
        control.address = reply->value;
        break;
    case USB_CONFIGURED:
        close_all();
        lose(USB_PORT_WIRE);
        lose(USB_PORT_SERIAL);
        if (device.configuration) {
            open_all();
        }
        break;
    case USB_HALTED:
    case USB_UNHALTED:
        halt(reply->value, reply->effect == USB_HALTED);
        break;
    case USB_LINE_DOWN:
        lose(USB_PORT_SERIAL);
        ring_empty(&rings[USB_PORT_SERIAL][IN]);
        break;
    case USB_NO_EFFECT:
        break;
    }
}

static void setup_came(void) {
    const volatile uint8_t *at = USB_BYTES(USB_SETUP_AT);
    uint8_t bytes[8];
    for (int i = 0; i < 8; i++) {
        bytes[i] = at[i];
    }
    const struct usb_setup setup = {.type = bytes[0],
                                    .request = bytes[1],
                                    .value = get16(bytes + 2),
                                    .index = get16(bytes + 4),
                                    .length = get16(bytes + 6)};
    buffer_withdraw(0, true, 0);
    buffer_withdraw(0, false, 0);
    control.sending = control.receiving = control.address_due = false;
    struct usb_reply reply = usb_control(&device, &setup);
    take_effect(&reply);
    switch (reply.answer) {
    case USB_STALL:
        stall_control();
        break;
    case USB_DONE:
        acknowledge();
        break;
    case USB_SEND:
        start_sending(&reply, setup.length);
        break;
    case USB_RECEIVE:
        control.receiving = true;
        buffer_arm(0, false, 0, USB_EP0_PACKET, true, 0);
        break;
    }
}

static void control_sent(void) {
    if (control.address_due) {
        control.address_due = false;
        REG(USB_ADDRESS) = control.address;
    }
    if (control.sending && control.left > 0) {
        send_packet();
    }
}

static void control_received(void) {
    if (!control.receiving) { /* the host's acknowledgement: it wants no more */
        control.sending = false;
        buffer_withdraw(0, true, 0);
        return;
    }
    control.receiving = false;
    uint8_t bytes[USB_EP0_PACKET];
    size_t count = USB_BUFFER(0, false, 0) & BUFFER_LENGTH;
    count = count < sizeof bytes ? count : sizeof bytes;
    for (size_t i = 0; i < count; i++) {
        bytes[i] = USB_BYTES(USB_EP0_AT)[i];
    }
    if (usb_control_received(&device, bytes, count)) {
        acknowledge();
    } else {
        stall_control();
    }
}

static void buffers_done(void) {
    uint32_t done = REG(USB_BUFF_STATUS);
    REG_CLEAR(USB_BUFF_STATUS) = done;
    if (done & 1) {
        control_sent();
    }
    if (done & 2) {
        control_received();
    }
    for (int port = 0; port < USB_PORTS; port++) {
        pipe_go_on(&pipes[port][IN]);
        pipe_go_on(&pipes[port][OUT]);
    }
}

void usb_interrupt(void) {
    uint32_t why = REG(USB_INTS);
    if (why & INT_BUS_RESET) {
        REG_CLEAR(USB_SIE_STATUS) = STATUS_BUS_RESET;
        bus_reset();
    }
    /* What was done before a request came is settled first: a new request ends the one before it. */
    if (why & INT_BUFFER) {
        buffers_done();
    }
    if (why & INT_SETUP) {
        REG_CLEAR(USB_SIE_STATUS) = STATUS_SETUP;
        setup_came();
    }
    if (why & INT_SUSPEND) {
        REG_CLEAR(USB_SIE_STATUS) = STATUS_SUSPENDED;
        lose_all();
    }
    if (why & INT_RESUME) {
        REG_CLEAR(USB_SIE_STATUS) = STATUS_RESUME;
    }
}

static void clear_memory(void) {
    for (uint32_t at = 0; at < USB_FREE_AT; at += 4) {
        REG(USB_MEMORY + at) = 0;
    }
}

/* From its reset, so that a controller which hangs after bus errors (erratum RP2040-E15) is mended by pulling
 * the plug out and in again, whoever powers the board. */
static void controller_start(void) {
    REG_SET(RESETS_RESET) = RESET_USBCTRL;
    REG_CLEAR(RESETS_RESET) = RESET_USBCTRL;
    for (int turn = 0; turn < RESET_TURNS && !(REG(RESETS_DONE) & RESET_USBCTRL); turn++) {
    }
    clear_memory();
    REG(USB_MUXING) = MUX_PHY | MUX_SOFTCON;
    REG(USB_PWR) = POWER_DETECTED | POWER_OVERRIDE; /* usb_poll() looks at the socket itself */
    REG(USB_MAIN_CTRL) = MAIN_DEVICE_ON;
    REG(USB_INTE) = INT_BUFFER | INT_SETUP | INT_BUS_RESET | INT_SUSPEND | INT_RESUME;
    REG(USB_SIE_CTRL) = SIE_EP0_EACH_BUFFER | SIE_PULL_UP;
}

void usb_start(const uint8_t serial[WIRE_SERIAL]) {
    bytes_copy(device.serial, serial, WIRE_SERIAL);
    usb_control_reset(&device);
    for (int port = 0; port < USB_PORTS; port++) {
        pipes[port][IN].ring = &rings[port][IN];
        pipes[port][OUT].ring = &rings[port][OUT];
    }
    REG(PADS_BANK0(MODULE_USB_POWER)) = PAD_INPUT | PAD_SCHMITT | PAD_DOWN;
    REG(IO_BANK0_CTRL(MODULE_USB_POWER)) = GPIO_SIO;
    REG(NVIC_UNPEND) = 1 << IRQ_USB;
    REG(NVIC_ENABLE) = 1 << IRQ_USB;
}

void usb_poll(void) {
    bool powered = REG(SIO_GPIO_IN) >> MODULE_USB_POWER & 1;
    if (powered == shown) {
        return;
    }
    shown = powered;
    uint32_t before = interrupts_off();
    if (powered) {
        controller_start();
    } else {
        REG_CLEAR(USB_SIE_CTRL) = SIE_PULL_UP;
        bus_reset();
    }
    interrupts_back(before);
}

static size_t room(void *state) {
    const struct pipe *pipe = state;
    return pipe->open ? ring_room(pipe->ring) : 0;
}

static void go_on(struct pipe *pipe) {
    uint32_t before = interrupts_off();
    pipe_go_on(pipe);
    interrupts_back(before);
}

static void send(void *state, const uint8_t *bytes, size_t count) {
    struct pipe *pipe = state;
    ring_put(pipe->ring, bytes, count);
    go_on(pipe);
}

struct port_ops usb_port(enum usb_port port) {
    return (struct port_ops){.state = &pipes[port][IN], .room = room, .send = send};
}

const uint8_t *usb_piece(enum usb_port port, size_t *count) {
    uint32_t before = interrupts_off();
    const struct ring *ring = &rings[port][OUT];
    piece_at[port] = ring->taken;
    const uint8_t *piece = ring_piece(ring, count);
    interrupts_back(before);
    return piece;
}

/* A bus reset may have emptied the ring meanwhile: what is in it now came from the new session, and stays. */
void usb_taken(enum usb_port port, size_t count) {
    uint32_t before = interrupts_off();
    struct ring *ring = &rings[port][OUT];
    if (ring->taken == piece_at[port]) {
        ring->taken += (uint32_t)count;
        pipe_go_on(&pipes[port][OUT]);
    }
    interrupts_back(before);
}

bool usb_lost(enum usb_port port) {
    bool was = lost[port];
    lost[port] = false;
    return was;
}
