/*
 * The virtual bench's board: the firmware's own core, with flash in memory, in the virtual console's slot.
 * Time is what its user says it is.
 */
#ifndef SLOTJIG_VIRTUAL_BOARD_H
#define SLOTJIG_VIRTUAL_BOARD_H

#include "base/problem.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct virtual_board;

struct virtual_board_options {
    uint8_t serial[8];
    uint32_t erase_us,
        program_us; /* what a sector's erase and a page's programming take; 0 and 0 by default */
    /* Contents of the flash (STORE_BYTES), kept by the caller, so that a power cycle is a new board over the
     * same bytes; NULL: its own, erased. */
    uint8_t *flash;
    /* Power goes after so many flash operations (erase of a sector, program of a page; the last one is torn
     * in the middle); -1: never. Then the board is dead: no answer, no service. */
    long power_cut_after;
    /* One flash operation in so many fails and leaves its page or sector torn; 0: none. */
    uint32_t flash_fault_one_in;
    uint64_t seed; /* what a torn operation leaves, and which operations fail; 1 by default */
};
void virtual_board_defaults(struct virtual_board_options *options);

struct virtual_board *virtual_board_new(const struct virtual_board_options *options, struct problem *problem);
void virtual_board_free(struct virtual_board *board);
bool virtual_board_dead(const struct virtual_board *board);

/* The wire: bytes from the host; bytes to the host (returns how many). */
void virtual_board_receive(struct virtual_board *board, const uint8_t *bytes, size_t count);
size_t virtual_board_take(struct virtual_board *board, uint8_t *bytes, size_t size);
/* The host's end went away for good or for a moment: what was on its way is lost, a push may be gone on with.
 */
void virtual_board_unplug(struct virtual_board *board);
/* Lets board time pass. Flash operations take their time: input waits meanwhile. */
void virtual_board_advance(struct virtual_board *board, uint64_t us);
uint64_t virtual_board_now(const struct virtual_board *board);

/* The slot, as console.h's struct cartridge wants it: address 13 bits, bus: what else is on the data lines.
 * Every bus cycle of the console goes through here, those with A12 = 0 too (which return bus). */
uint8_t virtual_board_cycle(struct virtual_board *board, uint16_t address, uint8_t bus);
/* The same for who does it a million times a second (virtual/slot_side.h): the side, and the board's turn
 * when it is due. */
struct slot_side *virtual_board_side(struct virtual_board *board);
void virtual_board_turn(struct virtual_board *board);
/* Bus cycles in which the address stands still (the processor waits): the same as so many calls of
 * virtual_board_cycle() with the last address, but quick. */
void virtual_board_wait(struct virtual_board *board, uint32_t cycles);
void virtual_board_supply(struct virtual_board *board, bool on);

#endif
