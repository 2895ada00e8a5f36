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

/* ---- a cartridge under test ---- */

static uint8_t read_model(void *state, uint16_t address, uint8_t bus) {
    const struct socket *socket = state;
    return cart_model_read(socket->model, address, bus);
}

static void write_model(void *state, uint16_t address, uint8_t value) {
    const struct socket *socket = state;
    cart_model_bus(socket->model, address, 0xFF, value);
}

static uint8_t hold_model(void *state, uint16_t address, uint8_t driven, uint8_t bus) {
    const struct socket *socket = state;
    return cart_model_bus(socket->model, address, driven, bus);
}

static struct cartridge under_test(struct socket *socket) {
    return (struct cartridge){.state = socket,
                              .read = read_model,
                              .write = write_model,
                              .hold = socket->model->quick ? NULL : hold_model};
}

/* ---- a board ---- */

static void pay(struct socket *socket) {
    virtual_board_advance(socket->board, socket->owed_ns / 1000);
    socket->owed_ns %= 1000;
}

/* A cycle for which more has to be done: others went by without the bus, since the processor waited, or the
 * board's turn is due after it. Apart, so that the usual one needs no call. */
__attribute__((noinline)) static uint8_t odd_cycle(struct socket *socket, uint16_t address, uint8_t bus) {
    const uint64_t now = socket->console->cycles;
    socket->owed_ns += (now - socket->told) * CYCLE_NS;
    socket->told = now + 1;
    if (socket->owed_ns >= OWED_MOST) {
        pay(socket);
    }
    if (slot_side_see(socket->side, address)) {
        virtual_board_turn(socket->board);
    }
    return slot_side_byte(socket->side, address, bus);
}

static inline bool is_odd(const struct socket *socket) {
    return socket->console->cycles != socket->told || socket->side->cycles + 1 >= SLOT_BATCH;
}

static uint8_t read_board(void *state, uint16_t address, uint8_t bus) {
    struct socket *socket = state;
    const uint16_t seen = seen_address(socket, address);
    if (is_odd(socket)) {
        return odd_cycle(socket, seen, bus);
    }
    socket->told++; /* this cycle the board counts itself */
    slot_side_see(socket->side, seen);
    return slot_side_byte(socket->side, seen, bus);
}

static void tell_board(void *state, uint16_t address, uint8_t bus) {
    struct socket *socket = state;
    const uint16_t seen = seen_address(socket, address);
    if (is_odd(socket) || (seen & CART_A12) != 0) {
        odd_cycle(socket, seen, bus);
        return;
    }
    socket->told++;
    slot_side_see(socket->side, seen);
}

struct cartridge socket_cartridge(struct socket *socket, const struct virtual_faults *faults) {
    if (socket->model) {
        return under_test(socket);
    }
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
