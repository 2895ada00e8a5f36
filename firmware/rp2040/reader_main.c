/* The reader on this chip: starts each part, then carries bytes between USB and core/reader.c. */
#include "core/reader.h"
#include "rp2040/clock.h"
#include "rp2040/flash.h"
#include "rp2040/reader_bus.h"
#include "rp2040/restart.h"
#include "rp2040/rom.h"
#include "rp2040/usb.h"
#include "rp2040/usb_descriptors.h"

/* PIECE: bytes of a port between two turns of the loop, as in main.c. */
enum { PORT_WIRE, PORT_SERIAL, PORTS, PIECE = 128 };
_Static_assert((int)PORTS <= (int)BOARD_PORTS, "a port too many");

/* The module, and a cartridge at the switch's limit: boards/reader/README.md. */
const struct usb_identity usb_identity = {USB_READER_TEXT, 450 / 2};

static struct reader reader;

/* The supply is off by then: core/reader.c. */
static void enter_loader(void *chip) {
    (void)chip;
    rom_usb_loader();
    restart();
}

static void start_reader(const uint8_t serial[WIRE_SERIAL]) {
    struct reader_config config = {
        .bus = reader_bus(),
        .ports = {[PORT_WIRE] = usb_port(USB_PORT_WIRE), [PORT_SERIAL] = usb_port(USB_PORT_SERIAL)},
        .port_count = PORTS,
        .loader = enter_loader,
    };
    for (int i = 0; i < WIRE_SERIAL; i++) {
        config.serial[i] = serial[i];
    }
    reader_start(&reader, &config, time_us());
}

/* Returns whether any byte was taken. */
static bool usb_input(int port, enum usb_port usb) {
    if (usb_lost(usb)) {
        reader_port_lost(&reader, port);
    }
    size_t count;
    const uint8_t *bytes = usb_piece(usb, &count);
    if (count == 0) {
        return false;
    }
    size_t taken = reader_input(&reader, port, bytes, count < PIECE ? count : PIECE, time_us());
    usb_taken(usb, taken);
    return taken > 0;
}

/* The socket comes first: its supply is off, and its lines stand still. */
int main(void) {
    uint8_t serial[WIRE_SERIAL];
    reader_bus_start();
    (void)flash_start(); /* for its number; nothing is stored */
    flash_unique(serial);
    start_reader(serial);
    tick_start();
    usb_start(serial);
    watchdog_start();
    for (;;) {
        watchdog_feed();
        usb_poll();
        bool busy = usb_input(PORT_WIRE, USB_PORT_WIRE);
        busy |= usb_input(PORT_SERIAL, USB_PORT_SERIAL);
        busy |= reader_poll(&reader, time_us());
        if (!busy) {
            sleep();
        }
    }
}
