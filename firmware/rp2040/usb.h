/*
 * The USB device: a vendor interface and a serial port, both of which speak the wire. Everything happens in
 * usb_interrupt(); the rest of the firmware sees rings.
 *
 * The device shows itself (pulls D+ up) only while the socket has power, as USB 2.0 7.1.5.1 and 7.2.1 want it
 * of a device that may be powered otherwise. Erratum RP2040-E5 (a busy bus may keep chips of steppings B0 and
 * B1 from enumerating) is not worked around: that would take GPIO 15 for a millisecond, which here is the
 * console's D0. Use stepping B2, or the UART.
 */
#ifndef SLOTJIG_RP2040_USB_H
#define SLOTJIG_RP2040_USB_H

#include "core/board.h"

#include <stdbool.h>

enum usb_port { USB_PORT_WIRE, USB_PORT_SERIAL, USB_PORTS };

void usb_start(const uint8_t serial[WIRE_SERIAL]);
/* Shows or hides the device as the socket's power comes and goes; to be called often. */
void usb_poll(void);
struct port_ops usb_port(enum usb_port port);
/* The bytes that came from the host and lie in one piece; usb_taken() says how many are done with. */
const uint8_t *usb_piece(enum usb_port port, size_t *count);
void usb_taken(enum usb_port port, size_t count);
/* True once each time the port's other end has gone: unplugged, reset, suspended, hung up. */
bool usb_lost(enum usb_port port);

#endif
