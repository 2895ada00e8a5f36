#include "virtual/socket.h"

#include "virtual/board.h"
#include "virtual/slot_side.h"

enum {
    CYCLE_NS = 838, /* 3 clocks of 3.579545 MHz [A] */
    OWED_MOST = 1000000
};

static uint16_t seen_address(const struct socket *socket, uint16_t address) {
    return (uint16_t)((address & ~socket->address_low) | socket->address_high);
}

/* ---- a plain cartridge ---- */

static uint8_t read_rom(void *state, uint16_t address, uint8_t bus) {
    const struct socket *socket = state;
    (void)bus;
    return socket->rom[address & (SOCKET_ROM - 1)];
}

static uint8_t read_rom_skewed(void *state, uint16_t address, uint8_t bus) {
    const struct socket *socket = state;
    const uint16_t seen = seen_address(socket, address);
    return seen & 0x1000 ? socket->rom[seen & (SOCKET_ROM - 1)] : bus;
}

/* ---- a board ---- */

static void pay(struct socket *socket) {
    virtual_board_advance(socket->board, socket->owed_ns / 1000);
    socket->owed_ns %= 1000;
}

/* Cycles went by without the bus: the processor waited. */
__attribute__((noinline)) static void owe(struct socket *socket, uint64_t cycles) {
    socket->owed_ns += cycles * CYCLE_NS;
    if (socket->owed_ns >= OWED_MOST) {
        pay(socket);
    }
}

static uint8_t board_cycle(struct socket *socket, uint16_t address, uint8_t bus) {
    const uint64_t now = socket->console->cycles;
    if (now != socket->told) {
        owe(socket, now - socket->told);
    }
    socket->told = now + 1; /* this cycle the board counts itself */
    const uint16_t seen = seen_address(socket, address);
    if (slot_side_see(socket->side, seen)) {
        virtual_board_turn(socket->board);
    }
    return slot_side_byte(socket->side, seen, bus);
}

static uint8_t read_board(void *state, uint16_t address, uint8_t bus) {
    return board_cycle(state, address, bus);
}

static void tell_board(void *state, uint16_t address, uint8_t bus) {
    board_cycle(state, address, bus);
}

struct cartridge socket_cartridge(struct socket *socket, const struct virtual_faults *faults) {
    const bool skewed = (faults->address_low | faults->address_high) != 0;
    struct cartridge cartridge = {.state = socket,
                                  .read = skewed ? read_rom_skewed : read_rom,
                                  .data_stuck_low = faults->cart_low,
                                  .data_stuck_high = faults->cart_high};
    if (socket->board) {
        socket->side = virtual_board_side(socket->board);
        cartridge.read = read_board;
        cartridge.write = tell_board;
        cartridge.pass = tell_board;
    }
    socket->address_low = faults->address_low;
    socket->address_high = faults->address_high;
    return cartridge;
}

void socket_catch_up(struct socket *socket) {
    const uint64_t now = socket->console->cycles;
    if (socket->board && now > socket->told) {
        socket->owed_ns += (now - socket->told) * CYCLE_NS;
        socket->told = now;
        pay(socket);
    }
}
