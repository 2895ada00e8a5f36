/*
 * The pin map: a Raspberry Pi Pico module (RP2040) on a 24-contact cartridge edge. The firmware includes this
 * file, and the checks on net list and bill of materials read it. GPIO numbers, not module pins.
 *
 * 26 pins: the address lines are neighbours so that one PIO instruction reads them, and so are the data
 * lines.
 */
#ifndef SLOTJIG_PICO_PINS_H
#define SLOTJIG_PICO_PINS_H

enum {
    PIN_UART_TX = 0,
    PIN_UART_RX = 1,
    PIN_ADDRESS = 2, /* A0; A12 is PIN_ADDRESS + 12 */
    PIN_ADDRESS_COUNT = 13,
    PIN_A12 = 14,
    PIN_DATA = 15, /* D0; D7 is PIN_DATA + 7 */
    PIN_DATA_COUNT = 8,
    PIN_DIRECTION =
        26, /* of the data translator: 1 board to console, 0 console to board; pulled low on the board */
    PIN_ENABLE =
        27, /* 1 lets the translator drive when A12 and the console's +5 V agree; pulled low on the board */
    PIN_SUPPLY = 28 /* 1: the console's +5 V is there (divided down) */
};

/* Inside the module, on no contact: 1 while the USB socket has power. */
enum { MODULE_USB_POWER = 24 };

#endif
