#include "rp2040/reader_bus.h"

#include "reader/pins.h"
#include "rp2040/clock.h"
#include "rp2040/clocks.h"
#include "rp2040/dma.h"
#include "rp2040/reader_programs.h"

enum {
    MACHINE = 0,
    DMA_TO = DMA_SLOT_FIRST,
    DMA_BACK,
    DREQ_TO = 0,   /* PIO0 TX0 (2.5.3.1) */
    DREQ_BACK = 4, /* PIO0 RX0 */
    DMA_HALF = 1 << 2,
    /* Every wait's bound, in turns of its loop: a turn takes at least 4 cycles, an access at most some 400.
     */
    TURNS = 2000
};
#define RX_EMPTY (1u << (8 + MACHINE))

static bool switched_on;
static bool pull_level = true;

static void set_pin(int pin, uint32_t pad, uint32_t function) {
    REG(PADS_BANK0(pin)) = pad;
    REG(IO_BANK0_CTRL(pin)) = function;
}

static void set_level(int pin, bool high) {
    REG(high ? SIO_GPIO_OUT_SET : SIO_GPIO_OUT_CLEAR) = 1u << pin;
}

static bool level(int pin) {
    return REG(SIO_GPIO_IN) >> pin & 1;
}

/* Resistors on the board hold PIN_SUPPLY_ON and PIN_DIRECTION low until here, and both are low when they come
 * to life. */
static void set_pins(void) {
    for (int pin = PIN_ADDRESS; pin < PIN_ADDRESS + PIN_ADDRESS_COUNT; pin++) {
        set_pin(pin, PAD_INPUT | PAD_4MA, GPIO_PIO0);
    }
    for (int pin = PIN_DATA; pin < PIN_DATA + PIN_DATA_COUNT; pin++) {
        set_pin(pin, PAD_SCHMITT | PAD_INPUT | PAD_DOWN | PAD_4MA, GPIO_PIO0);
    }
    set_level(PIN_SUPPLY_ON, false);
    set_level(PIN_PULL, true);
    REG(SIO_GPIO_OE_SET) = 1u << PIN_SUPPLY_ON | 1u << PIN_PULL;
    set_pin(PIN_SUPPLY_ON, PAD_DOWN | PAD_INPUT | PAD_4MA, GPIO_SIO);
    set_pin(PIN_PULL, PAD_INPUT | PAD_4MA, GPIO_SIO);
    set_pin(PIN_DIRECTION, PAD_DOWN | PAD_INPUT | PAD_4MA, GPIO_PIO0);
    set_pin(PIN_SUPPLY_FAULT, PAD_SCHMITT | PAD_INPUT | PAD_UP, GPIO_SIO);
    set_pin(PIN_SUPPLY, PAD_SCHMITT | PAD_INPUT | PAD_DOWN, GPIO_SIO);
}

static void run(uint16_t instruction) {
    REG(PIO_INSTR(PIO0_BASE, MACHINE)) = instruction;
}

static void give(uint32_t word) {
    REG(PIO_TXF(PIO0_BASE, MACHINE)) = word;
}

static void set_machine(void) {
    const uint32_t out = (uint32_t)PIN_ADDRESS << PIO_OUT_BASE | (uint32_t)READER_LINES << PIO_OUT_COUNT;
    const uint32_t other =
        (uint32_t)PIN_DATA << PIO_IN_BASE | (uint32_t)PIN_DIRECTION << PIO_SIDE_BASE | 1u << PIO_SIDE_COUNT;
    REG_CLEAR(PIO_CTRL(PIO0_BASE)) = 1u << MACHINE;
    REG(PIO_SYNC_BYPASS(PIO0_BASE)) = 0;
    REG(PIO_CLKDIV(PIO0_BASE, MACHINE)) = 1u << 16;
    REG(PIO_EXECCTRL(PIO0_BASE, MACHINE)) = (uint32_t)READER_IDLE << PIO_WRAP_BOTTOM | (PIO_INSTRUCTIONS - 1u)
                                                                                           << PIO_WRAP_TOP;
    REG(PIO_SHIFTCTRL(PIO0_BASE, MACHINE)) = PIO_AUTOPUSH | PIO_OUT_RIGHT | 8u << PIO_PUSH_AT;
    /* PIN_DIRECTION an output and low, all lines low, the addresses outputs. */
    REG(PIO_PINCTRL(PIO0_BASE, MACHINE)) = PIN_DIRECTION << PIO_SET_BASE | 1u << PIO_SET_COUNT;
    run(SET(AT_PINS, 0));
    run(SET(AT_PINDIRS, 1));
    REG(PIO_PINCTRL(PIO0_BASE, MACHINE)) = out | other;
    give(0);
    run(PULL_NOBLOCK);
    run(OUT(AT_PINS, READER_LINES));
    give(READER_OUTPUTS);
    run(PULL_NOBLOCK);
    run(OUT(AT_PINDIRS, READER_LINES));
}

static void start_machine(void) {
    run(JMP(JMP_ALWAYS, READER_IDLE));
    REG_SET(PIO_CTRL(PIO0_BASE)) = 1u << MACHINE | 1u << (MACHINE + PIO_RESTART_SHIFT);
}

void reader_bus_start(void) {
    for (int i = 0; i < PIO_INSTRUCTIONS; i++) {
        REG(PIO_PROGRAM(PIO0_BASE, i)) = reader_program[i];
    }
    set_machine();
    set_pins();
    start_machine();
}

/* The byte that the machine sends; all ones if it never does, as from a socket that is empty. */
static uint8_t answer(void) {
    for (int turn = 0; turn < TURNS; turn++) {
        if (!(REG(PIO_FSTAT(PIO0_BASE)) & RX_EMPTY)) {
            return (uint8_t)REG(PIO_RXF(PIO0_BASE, MACHINE));
        }
    }
    return 0xFF;
}

/* One that came too late is not the next one's. */
static void forget(void) {
    while (!(REG(PIO_FSTAT(PIO0_BASE)) & RX_EMPTY)) {
        (void)REG(PIO_RXF(PIO0_BASE, MACHINE));
    }
}

static uint8_t sample(void *state, uint16_t from, uint16_t to, unsigned after) {
    (void)state;
    const uint32_t most = after < READER_AFTER_MOST ? after : READER_AFTER_MOST;
    forget();
    give(READER_SAMPLE | most << READER_AFTER | (uint32_t)from << READER_FROM);
    give(to);
    return answer();
}

static void set_channel(int channel, uint32_t from, uint32_t to, size_t count, uint32_t control) {
    REG(DMA_READ(channel)) = from;
    REG(DMA_WRITE(channel)) = to;
    REG(DMA_COUNT(channel)) = (uint32_t)count;
    REG(DMA_CTRL_TRIG(channel)) =
        DMA_ENABLE | DMA_QUIET | (uint32_t)channel << DMA_CHAIN_SHIFT | control; /* chained to itself: none */
}

/* The DMA keeps the pace whatever the processor is at. */
static void read_some(void *state, const uint16_t *addresses, uint8_t *bytes, size_t count) {
    (void)state;
    if (count == 0) {
        return;
    }
    forget();
    __asm volatile("" ::: "memory");
    set_channel(DMA_BACK, PIO_RXF(PIO0_BASE, MACHINE), (uint32_t)(uintptr_t)bytes, count,
                DMA_WRITE_ON | (uint32_t)DREQ_BACK << DMA_DREQ_SHIFT);
    give(READER_READ | (uint32_t)(count - 1) << READER_COUNT);
    set_channel(DMA_TO, (uint32_t)(uintptr_t)addresses, PIO_TXF(PIO0_BASE, MACHINE), count,
                DMA_HALF | DMA_READ_ON | (uint32_t)DREQ_TO << DMA_DREQ_SHIFT);
    for (size_t turn = 0; turn < TURNS + count * 64 && REG(DMA_CTRL(DMA_BACK)) & DMA_BUSY; turn++) {
    }
    __asm volatile("" ::: "memory");
}

static void write(void *state, uint16_t address, uint8_t value) {
    (void)state;
    const uint32_t data = (uint32_t)value << READER_DATA_AT;
    forget();
    give(READER_WRITE | ((uint32_t)address | data) << READER_ADDRESS);
    give((address & 0xFFFu) | data);
    give(READER_OUTPUTS);
    (void)answer();
}

static uint8_t released(void *state, uint16_t address, bool pull_high, unsigned after) {
    set_level(PIN_PULL, pull_high);
    const uint8_t seen = sample(state, address, address & 0xFFF, after);
    set_level(PIN_PULL, pull_level);
    return seen;
}

static void pull(void *state, bool high) {
    (void)state;
    pull_level = high;
    set_level(PIN_PULL, high);
}

/* With the lines low the translators have nothing to give to a cartridge whose supply is going. */
static void supply(void *state, bool on) {
    (void)sample(state, 0, 0, 0);
    switched_on = on;
    set_level(PIN_SUPPLY_ON, on);
}

static enum wire_supply supply_state(void *state, bool *on) {
    (void)state;
    const bool there = level(PIN_SUPPLY);
    *on = switched_on && there;
    if (switched_on && !level(PIN_SUPPLY_FAULT)) {
        return WIRE_SUPPLY_OVERLOAD;
    }
    return switched_on && !there ? WIRE_SUPPLY_MISSING : WIRE_SUPPLY_GOOD;
}

static uint64_t now(void *state) {
    (void)state;
    return time_us();
}

struct reader_bus reader_bus(void) {
    return (struct reader_bus){
        .supply = supply,
        .supply_state = supply_state,
        .now_us = now,
        .cycle_ps = 8000,
        .own = READER_OWN,
        .sample = sample,
        .read = read_some,
        .write = write,
        .released = released,
        .pull = pull,
    };
}
