/*
 * The reader's pin map: a Raspberry Pi Pico module (RP2040) beside a cartridge's socket. The firmware
 * includes this file, and the checks on net list and bill of materials read it. GPIO numbers, not module
 * pins.
 *
 * 26 pins: the address lines are neighbours and the data lines follow them, so that one PIO instruction sets
 * all 21. Two of the pins are the UART's on the cartridge board: this board has no serial line but USB's.
 */
#ifndef SLOTJIG_READER_PINS_H
#define SLOTJIG_READER_PINS_H

enum {
    PIN_SUPPLY_ON = 0,    /* 1 closes the switch of the cartridge's +5 V; pulled low on the board */
    PIN_SUPPLY_FAULT = 1, /* 0: the switch limits the current, or is too hot; pulled high on the board */
    PIN_ADDRESS = 2,      /* A0; A12 is PIN_ADDRESS + 12 */
    PIN_ADDRESS_COUNT = 13,
    PIN_A12 = 14,
    PIN_DATA = 15, /* D0; D7 is PIN_DATA + 7 */
    PIN_DATA_COUNT = 8,
    PIN_DIRECTION = 26, /* of the data translator: 1 board to cartridge, 0 cartridge to board; pulled low */
    PIN_PULL = 27,      /* the level to which resistors pull the cartridge's data lines */
    PIN_SUPPLY = 28     /* 1: the cartridge's +5 V is there (divided down) */
};

#endif
