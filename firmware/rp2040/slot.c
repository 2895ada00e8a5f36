/* The slot's pins and PIO programs, and the change from one set of lanes to the other. */
#include "rp2040/slot.h"

#include "pico/pins.h"
#include "rp2040/clock.h"
#include "rp2040/slot_parts.h"
#include "rp2040/slot_programs.h"

struct slot_memory slot_memory __attribute__((section(".slot_memory"), aligned(CART_TABLE)));

static struct {
    int served; /* of slot_memory.lanes */
    bool running;
} slot;

enum { HOTSPOT_FIRST = 0x1FF4, HOTSPOT_PLACES = 8 /* every scheme's lie here, two to a word */ };

static void run(enum slot_part part, uint16_t instruction) {
    REG(PIO_INSTR(slot_machines[part].pio, slot_machines[part].machine)) = instruction;
}

static uint32_t bit(enum slot_part part) {
    return 1u << slot_machines[part].machine;
}

/* From the program's start, with nothing left of what it was at. */
static void start(enum slot_part part) {
    run(part, JMP(JMP_ALWAYS, slot_machines[part].start));
    REG_SET(PIO_CTRL(slot_machines[part].pio)) = bit(part) | bit(part) << PIO_RESTART_SHIFT;
}

static void load_programs(void) {
    for (int i = 0; i < PIO_INSTRUCTIONS; i++) {
        REG(PIO_PROGRAM(PIO0_BASE, i)) = slot_program0[i];
        REG(PIO_PROGRAM(PIO1_BASE, i)) = slot_program1[i];
    }
}

static void set_machine(const struct slot_machine *is) {
    REG_CLEAR(PIO_CTRL(is->pio)) = 1u << is->machine;
    REG(PIO_CLKDIV(is->pio, is->machine)) = 1u << 16;
    REG(PIO_EXECCTRL(is->pio, is->machine)) =
        is->exec | (uint32_t)is->wrap_bottom << PIO_WRAP_BOTTOM | (uint32_t)is->wrap_top << PIO_WRAP_TOP;
    REG(PIO_SHIFTCTRL(is->pio, is->machine)) = is->shift;
    REG(PIO_PINCTRL(is->pio, is->machine)) = is->pins;
}

/* Data pins inputs, PIN_DIRECTION an output and low, as PIO sees them. */
static void let_go(void) {
    const struct slot_machine *drive = &slot_machines[SLOT_DRIVE];
    run(SLOT_DRIVE, MOV(AT_OSR, AT_NULL) | SIDE(0));
    run(SLOT_DRIVE, OUT(AT_PINDIRS, 8) | SIDE(0));
    REG(PIO_PINCTRL(drive->pio, drive->machine)) = PIN_DIRECTION << PIO_SET_BASE | 1u << PIO_SET_COUNT;
    run(SLOT_DRIVE, SET(AT_PINDIRS, 1));
    run(SLOT_DRIVE, SET(AT_PINS, 0));
    REG(PIO_PINCTRL(drive->pio, drive->machine)) = drive->pins;
}

static void set_pin(int pin, uint32_t pad, uint32_t function) {
    REG(PADS_BANK0(pin)) = pad;
    REG(IO_BANK0_CTRL(pin)) = function;
}

/* Nothing is driven meanwhile: the resistors on the board hold PIN_DIRECTION and PIN_ENABLE low until here,
 * and both are outputs and low when they come to life. Data pins keep their last level when nobody drives
 * them (pull up and down at once is a bus keeper, 2.19.4.1). */
static void set_pins(void) {
    for (int pin = PIN_ADDRESS; pin < PIN_ADDRESS + PIN_ADDRESS_COUNT; pin++) {
        set_pin(pin, PAD_SCHMITT | PAD_INPUT, GPIO_PIO0);
    }
    for (int pin = PIN_DATA; pin < PIN_DATA + PIN_DATA_COUNT; pin++) {
        set_pin(pin, PAD_SCHMITT | PAD_INPUT | PAD_UP | PAD_DOWN | PAD_4MA, GPIO_PIO0);
    }
    REG(SIO_GPIO_OUT_CLEAR) = 1u << PIN_ENABLE;
    REG(SIO_GPIO_OE_SET) = 1u << PIN_ENABLE;
    set_pin(PIN_ENABLE, PAD_DOWN | PAD_INPUT | PAD_4MA, GPIO_SIO);
    set_pin(PIN_DIRECTION, PAD_DOWN | PAD_INPUT | PAD_4MA, GPIO_PIO0);
    set_pin(PIN_SUPPLY, PAD_SCHMITT | PAD_INPUT | PAD_DOWN, GPIO_SIO);
}

static void no_hotspots(void) {
    for (uint32_t address = 0; address < SLOT_HOTSPOTS; address++) {
        bool window = address >= CART_A12 && address < CART_A12 + CART_RAM;
        slot_memory.hotspots[address] = window ? IRQ_SET(FLAG_WINDOW) : NOP;
    }
}

void slot_start(void) {
    no_hotspots();
    load_programs();
    for (int part = 0; part < SLOT_PARTS; part++) {
        set_machine(&slot_machines[part]);
    }
    REG(PIO_SYNC_BYPASS(PIO0_BASE)) = 0;
    REG(PIO_SYNC_BYPASS(PIO1_BASE)) = 0;
    let_go();
    set_pins();
    slot_dma_start();
    start(SLOT_STEADY);
}

/* The instructions for the scheme's hotspots, two in a word as they lie in the table. words: zeros. */
static void make_hotspots(uint8_t scheme, uint32_t words[HOTSPOT_PLACES / 2]) {
    for (uint32_t i = 0; i < HOTSPOT_PLACES; i++) {
        uint8_t bank = cart_hotspot(scheme, (uint16_t)(HOTSPOT_FIRST + i));
        uint32_t instruction = bank == CART_NO_BANK ? NOP : SET(AT_X, bank);
        words[i / 2] |= instruction << i % 2 * 16;
    }
}

/* The word that `pull` takes: into OSR, which a running `read` does not use. */
static void give(enum slot_part part, uint32_t word) {
    REG(PIO_TXF(slot_machines[part].pio, slot_machines[part].machine)) = word;
    run(part, PULL_NOBLOCK);
}

/* The moment of change. `read` stands still for some 13 processor cycles; `put` holds its last byte, so the
 * console gets the old image's byte, or the new one's that much later, and never a mixture. A hotspot of the
 * old image touched just before may go unheeded: its byte is read after the change. */
static void change_over(const uint32_t hotspots[HOTSPOT_PLACES / 2], uint8_t bank) {
    volatile uint32_t *table = (volatile uint32_t *)&slot_memory.hotspots[HOTSPOT_FIRST];
    volatile uint32_t *instruction = &REG(PIO_INSTR(PIO1_BASE, slot_machines[SLOT_READ].machine));
    const uint32_t on = bit(SLOT_READ), set_bank = SET(AT_X, bank);
    const uint32_t set_lanes = MOV(AT_Y, AT_OSR), to_start = JMP(JMP_ALWAYS, slot_machines[SLOT_READ].start);
    const uint32_t before = interrupts_off();
    for (int i = 0; i < HOTSPOT_PLACES / 2; i++) {
        table[i] = hotspots[i];
    }
    /* What was looked up in the old table has arrived by then: two hops of the DMA. */
    for (int i = 0; i < 8; i++) {
        __asm volatile("nop\n nop\n nop");
    }
    REG_CLEAR(PIO_CTRL(PIO1_BASE)) = on;
    *instruction = set_lanes;
    *instruction = set_bank;
    *instruction = to_start;
    REG_SET(PIO_CTRL(PIO1_BASE)) = on | on << PIO_RESTART_SHIFT;
    interrupts_back(before);
}

/* The RAM's write window: `drive` leaves it alone, or not. */
static void spare_window(bool yes) {
    REG(PIO_PROGRAM(PIO0_BASE, DRIVE_LEAVES)) = yes ? slot_program0[DRIVE_LEAVES] : slot_drive_nop[0];
    REG(PIO_PROGRAM(PIO0_BASE, DRIVE_STAYS)) = yes ? slot_program0[DRIVE_STAYS] : slot_drive_nop[1];
}

static void stop_ram(void) {
    REG_CLEAR(PIO_CTRL(PIO1_BASE)) = bit(SLOT_CYCLE) | bit(SLOT_WRITE);
}

/* Each value of a byte eight times over, in the lanes of the write window. */
static void make_ram(uint8_t *lanes) {
    uint32_t *words = (uint32_t *)(void *)lanes;
    for (uint32_t value = 0; value < 256; value++) {
        words[value] = value * 0x01010101u;
    }
    _Static_assert(CART_RAM * CART_BANKS == 256 * sizeof *words, "the write window's lanes hold the values");
}

static void start_ram(const uint8_t *lanes) {
    slot_dma_first_word();
    give(SLOT_WRITE, (uint32_t)(uintptr_t)lanes >> 11);
    run(SLOT_WRITE, MOV(AT_Y, AT_OSR));
    REG(PIO_IRQ(PIO1_BASE)) = 1 << FLAG_WINDOW | 1 << FLAG_CYCLE;
    start(SLOT_CYCLE);
    start(SLOT_WRITE);
}

static void first_time(void) {
    start(SLOT_PUT);
    start(SLOT_DRIVE);
    REG(SIO_GPIO_OUT_SET) = 1u << PIN_ENABLE;
    slot.running = true;
}

static void serve(void *state, uint8_t scheme, bool ram, uint8_t bank) {
    (void)state;
    uint8_t *lanes = slot_memory.lanes[1 - slot.served];
    uint32_t hotspots[HOTSPOT_PLACES / 2] = {0};
    make_hotspots(scheme, hotspots);
    if (ram) {
        make_ram(lanes);
    }
    stop_ram();
    if (!ram) {
        spare_window(false);
    }
    give(SLOT_READ, (uint32_t)(uintptr_t)lanes >> 15);
    change_over(hotspots, bank);
    slot.served = 1 - slot.served;
    if (ram) {
        spare_window(true);
        start_ram(lanes);
    }
    if (!slot.running) {
        first_time();
    }
}

static uint8_t *spare(void *state) {
    (void)state;
    return slot_memory.lanes[1 - slot.served];
}

static uint8_t *served(void *state) {
    (void)state;
    return slot_memory.lanes[slot.served];
}

static bool supply(void *state) {
    (void)state;
    return REG(SIO_GPIO_IN) >> PIN_SUPPLY & 1;
}

const struct slot_ops *slot_operations(void) {
    static const struct slot_ops operations = {
        .spare = spare, .served = served, .serve = serve, .supply = supply};
    return &operations;
}
