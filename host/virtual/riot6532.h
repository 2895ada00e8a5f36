/*
 * The 6532: 128 bytes of RAM, two ports, the interval timer. Freestanding. The timer costs nothing while
 * nobody looks: it is worked out from the number of cycles since it was set.
 * Source: the 6532 data sheet; the one cycle between the write and the first decrement is [M].
 */
#ifndef SLOTJIG_VIRTUAL_RIOT6532_H
#define SLOTJIG_VIRTUAL_RIOT6532_H

#include <stdbool.h>
#include <stdint.h>

enum {
    RIOT_RAM = 128,
    /* What the console's switches and sticks put on the ports: nothing pressed, colour, both difficulty
     * switches at B. [M] */
    RIOT_PORT_A_IN = 0xFF,
    RIOT_PORT_B_IN = 0x3F
};

struct riot6532 {
    uint8_t ram[RIOT_RAM];
    uint8_t out[2], direction[2]; /* ports A and B; direction bit 1: output */
    uint8_t count;                /* the timer's value at `since` */
    uint8_t shift;                /* log2 of cycles a step: 0, 3, 6 or 10 */
    bool expired;                 /* it had passed 0 at `since`: one step a cycle until it is read or set */
    uint64_t since;               /* bus cycle */
};

/* Registers other than RAM (A9 = 1), by the low bits of the address. now: bus cycles since power-on. The
 * write is false for what the model does not have (interrupts, edge detect). */
uint8_t riot_read(struct riot6532 *riot, uint16_t address, uint64_t now);
bool riot_write(struct riot6532 *riot, uint16_t address, uint8_t value, uint64_t now);

#endif
