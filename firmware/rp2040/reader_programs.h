/*
 * The reader's PIO program: one machine that puts addresses out and samples the data lines, so that every
 * time in it is a number of cycles. It takes words out of its FIFO; the first says what to do:
 *
 *   SAMPLE  place:5 after:8 from:13, then to:13          a byte comes back
 *   READ    place:5 count-1:27, then count addresses     as many bytes
 *   WRITE   place:5 address:13 data:8, then the same two with A12 = 0, then the directions that let go
 *                                                        a byte without meaning
 *
 * boards/reader/timing.md counts the cycles.
 */
#ifndef SLOTJIG_RP2040_READER_PROGRAMS_H
#define SLOTJIG_RP2040_READER_PROGRAMS_H

#include "reader/pins.h"
#include "rp2040/pio.h"

enum reader_place { READER_IDLE = 0, READER_SAMPLE = 2, READER_READ = 11, READER_WRITE = 21 };
enum {
    READER_AFTER = 5,    /* bits of the words' parts: where `after` begins */
    READER_FROM = 13,    /* `from` */
    READER_COUNT = 5,    /* `count` less one */
    READER_ADDRESS = 5,  /* of a write; the data follow it */
    READER_DATA_AT = 13, /* behind an address */
    READER_LINES = PIN_ADDRESS_COUNT + PIN_DATA_COUNT,
    READER_OUTPUTS = (1 << PIN_ADDRESS_COUNT) - 1 /* directions: addresses are outputs, data inputs */
};
/* Counted from the instruction that puts an address out to the one that samples: with `after` = 0 it is the
 * second one behind it, which sees the pads two cycles before (input synchronisers). In the emulated chip a
 * level needs a third cycle, so there the data lines are seen one cycle earlier than `after` says. */
enum { READER_OWN = 1 };

extern const uint16_t reader_program[PIO_INSTRUCTIONS];

#endif
