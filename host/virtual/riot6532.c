/*
 * Ports and timer of the 6532.
 */
#include "virtual/riot6532.h"

enum { A0 = 0x01, A1 = 0x02, A2 = 0x04, A3 = 0x08, A4 = 0x10 };

/* Cycles after `since` at which the timer passes from $00 to $FF. */
static uint64_t life(const struct riot6532 *riot) {
    return ((uint64_t)riot->count << riot->shift) + 1;
}

static bool is_expired(const struct riot6532 *riot, uint64_t now) {
    return riot->expired || now - riot->since >= life(riot);
}

/* The first step comes one cycle after the write, the others an interval apart. */
static uint8_t timer_value(const struct riot6532 *riot, uint64_t now) {
    const uint64_t elapsed = now - riot->since;
    if (riot->expired)
        return (uint8_t)(riot->count - elapsed);
    if (is_expired(riot, now))
        return (uint8_t)(0xFF - (elapsed - life(riot)));
    if (elapsed == 0)
        return riot->count;
    return (uint8_t)(riot->count - 1 - ((elapsed - 1) >> riot->shift));
}

/* Reading the timer ends the fast count and with it the flag. */
static uint8_t read_timer(struct riot6532 *riot, uint64_t now) {
    const uint8_t value = timer_value(riot, now);
    if (is_expired(riot, now)) {
        riot->count = value;
        riot->since = now;
        riot->expired = false;
    }
    return value;
}

static uint8_t read_port(const struct riot6532 *riot, int port) {
    const uint8_t in = port ? RIOT_PORT_B_IN : RIOT_PORT_A_IN;
    return (uint8_t)((riot->out[port] & riot->direction[port]) | (in & ~riot->direction[port]));
}

uint8_t riot_read(struct riot6532 *riot, uint16_t address, uint64_t now) {
    if (address & A2)
        return address & A0 ? (is_expired(riot, now) ? 0x80 : 0) : read_timer(riot, now);
    const int port = address & A1 ? 1 : 0;
    return address & A0 ? riot->direction[port] : read_port(riot, port);
}

bool riot_write(struct riot6532 *riot, uint16_t address, uint8_t value, uint64_t now) {
    static const uint8_t shift[] = {0, 3, 6, 10};
    if (!(address & A2)) {
        const int port = address & A1 ? 1 : 0;
        *(address & A0 ? &riot->direction[port] : &riot->out[port]) = value;
        return true;
    }
    if (!(address & A4))
        return false;
    riot->count = value;
    riot->shift = shift[address & (A0 | A1)];
    riot->since = now;
    riot->expired = false;
    return !(address & A3); /* the 6507 has no interrupt input */
}
