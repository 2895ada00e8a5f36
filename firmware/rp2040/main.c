/* The board on this chip: starts each part, then carries bytes between the ports and core/board.c. */
#include "core/board.h"
#include "core/idle.h"
#include "rp2040/clock.h"
#include "rp2040/flash.h"
#include "rp2040/restart.h"
#include "rp2040/rom.h"
#include "rp2040/slot.h"
#include "rp2040/uart.h"
#include "rp2040/usb.h"
#include "rp2040/usb_descriptors.h"

/* PIECE: bytes of a port between two turns of the loop. A ring full of the shortest requests that take long
 * (WIRE_SUMS: over 20 ms) would keep the watchdog and everything else waiting for many seconds. */
enum { PORT_WIRE, PORT_SERIAL, PORT_UART, PORTS, EVENTS = 256, PIECE = 128 };
_Static_assert((int)PORTS <= (int)BOARD_PORTS, "a port too many");

const struct usb_identity usb_identity = {USB_PRODUCT_TEXT, 100 / 2};

static struct board board;

static void enter_loader(void *chip) {
    (void)chip;
    rom_usb_loader();
    restart();
}

static void start_board(const uint8_t serial[WIRE_SERIAL]) {
    struct board_config config = {
        .flash = flash_operations(),
        .slot = *slot_operations(),
        .ports = {[PORT_WIRE] = usb_port(USB_PORT_WIRE),
                  [PORT_SERIAL] = usb_port(USB_PORT_SERIAL),
                  [PORT_UART] = uart_port()},
        .port_count = PORTS,
        .capabilities = WIRE_CAN_SELECT | WIRE_CAN_WATCH | WIRE_CAN_LOADER | WIRE_CAN_BANKS | WIRE_CAN_RAM |
                        WIRE_CAN_KEEP | WIRE_CAN_VALUES,
        .idle = idle_image,
        .loader = enter_loader,
    };
    for (int i = 0; i < WIRE_SERIAL; i++) {
        config.serial[i] = serial[i];
    }
    board_start(&board, &config, time_us());
}

static size_t piece_of(size_t count) {
    return count < PIECE ? count : PIECE;
}

/* Returns whether any byte was taken. */
static bool usb_input(int port, enum usb_port usb) {
    if (usb_lost(usb)) {
        board_port_lost(&board, port);
    }
    size_t count;
    const uint8_t *bytes = usb_piece(usb, &count);
    if (count == 0) {
        return false;
    }
    size_t taken = board_input(&board, port, bytes, piece_of(count), time_us());
    usb_taken(usb, taken);
    return taken > 0;
}

static bool uart_input(void) {
    uart_poll();
    size_t count;
    const uint8_t *bytes = uart_piece(&count);
    if (count == 0) {
        return false;
    }
    size_t taken = board_input(&board, PORT_UART, bytes, piece_of(count), time_us());
    uart_taken(taken);
    return taken > 0;
}

/* Returns whether there may be more. */
static bool slot_some(void) {
    static uint16_t addresses[EVENTS];
    uint32_t missed = 0;
    size_t count = slot_events(addresses, EVENTS, &missed);
    if (count > 0 || missed > 0) {
        board_watch(&board, addresses, count, missed);
    }
    return count == EVENTS;
}

/* All that came before the call, as board_watch() wants it: no more than the ring holds. */
static bool slot_input(void) {
    bool more = true;
    for (int piece = 0; piece <= SLOT_EVENTS / EVENTS && more; piece++) {
        more = slot_some();
    }
    return more;
}

/* The slot comes first: a console that is switched on together with its board looks for its reset vector
 * within tens of milliseconds. USB comes last, since a host waits. */
int main(void) {
    uint8_t serial[WIRE_SERIAL];
    flash_start();
    slot_start();
    flash_unique(serial);
    start_board(serial);
    tick_start();
    uart_start();
    usb_start(serial);
    watchdog_start();
    for (;;) {
        watchdog_feed();
        usb_poll();
        bool busy = usb_input(PORT_WIRE, USB_PORT_WIRE);
        busy |= usb_input(PORT_SERIAL, USB_PORT_SERIAL);
        busy |= uart_input();
        busy |= slot_input();
        board_poll(&board, time_us());
        if (!busy) {
            sleep();
        }
    }
}
