/*
 * The bus: who answers at which address, and when the processor waits. A12 selects the cartridge, A7 the TIA
 * (0) or the 6532 (1), A9 the 6532's RAM (0) or its ports and timer (1). [P]
 */
#include "virtual/console.h"

enum {
    LINE_CYCLES = 76,
    ADDRESS = 0x1FFF,
    A12 = 0x1000,
    A9 = 0x0200,
    A7 = 0x0080,
    AT_WSYNC = 0x02,
    TIA_DRIVES = 0xC0
};

static inline __attribute__((always_inline)) uint8_t bus_read(struct console *console, uint16_t address);
static void bus_write(struct console *console, uint16_t address, uint8_t value);

#define CPU_BUS struct console
#define CPU_READ(bus, address) bus_read(bus, address)
#define CPU_WRITE(bus, address, value) bus_write(bus, address, value)
#include "virtual/cpu6507_core.h"

static void end_lines(struct console *console) {
    while (console->cycles >= console->line_end) {
        tia_end_line(&console->tia);
        console->line_end += LINE_CYCLES;
    }
}

static void note_write(struct console *console, uint16_t address) {
    console->unmodelled_writes++;
    console->unmodelled_last = address;
}

static uint8_t read_cartridge(struct console *console, uint16_t address) {
    const struct cartridge *cartridge = &console->cartridge;
    const uint8_t value = cartridge->read(cartridge->state, address, console->bus);
    return (uint8_t)((value & ~cartridge->data_stuck_low) | cartridge->data_stuck_high);
}

/* The TIA drives D7 and D6 alone; the model has nothing that could set them. */
static uint8_t read_tia(struct console *console) {
    console->unmodelled_reads++;
    return console->bus & 0x3F;
}

__attribute__((cold, noinline)) static void tell(struct console *console, uint16_t address, uint8_t driven) {
    const struct cartridge *cartridge = &console->cartridge;
    if (cartridge->hold)
        console->bus = cartridge->hold(cartridge->state, address, driven, console->bus);
    else
        cartridge->pass(cartridge->state, address, console->bus);
}

/* The cartridge sees a cycle that is not its own, with console->bus on the lines; it may change that. */
static inline void pass(struct console *console, uint16_t address, uint8_t driven) {
    if (__builtin_expect(console->listens, 0))
        tell(console, address, driven);
}

static uint8_t read_chips(struct console *console, uint16_t address) {
    if (!(address & A7))
        return read_tia(console);
    if (address & A9)
        return riot_read(&console->riot, address, console->cycles);
    return console->riot.ram[address & (RIOT_RAM - 1)];
}

static inline __attribute__((always_inline)) uint8_t bus_read(struct console *console, uint16_t address) {
    if (console->cycles < console->ready_at) /* RDY stops the processor on a read only */
        console->cycles = console->ready_at;
    address &= ADDRESS;
    if (address & A12) {
        console->bus = read_cartridge(console, address);
    } else {
        console->bus = read_chips(console, address);
        pass(console, address, address & A7 ? 0xFF : TIA_DRIVES);
    }
    console->cycles++;
    return console->bus;
}

static void write_tia(struct console *console, uint16_t address, uint8_t value) {
    const uint8_t reg = address & 0x3F;
    end_lines(console);
    if (reg == AT_WSYNC) {
        console->ready_at = console->line_end;
        return;
    }
    const int cycles = LINE_CYCLES + 1 - (int)(console->line_end - console->cycles);
    if (!tia_write(&console->tia, 3 * cycles, reg, value))
        note_write(console, address);
}

static void write_cartridge(struct console *console, uint16_t address, uint8_t value) {
    if (console->cartridge.write)
        console->cartridge.write(console->cartridge.state, address, value);
    else
        note_write(console, address);
}

static void write_chips(struct console *console, uint16_t address) {
    pass(console, address, 0xFF);
    const uint8_t value = console->bus;
    if (!(address & A7))
        write_tia(console, address, value);
    else if (!(address & A9))
        console->riot.ram[address & (RIOT_RAM - 1)] = value;
    else if (!riot_write(&console->riot, address, value, console->cycles))
        note_write(console, address);
}

static void bus_write(struct console *console, uint16_t address, uint8_t value) {
    address &= ADDRESS;
    console->bus = value;
    if (address & A12)
        write_cartridge(console, address, value);
    else
        write_chips(console, address);
    console->cycles++;
}

/* splitmix64 */
static uint64_t next_random(uint64_t *state) {
    uint64_t z = *state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ z >> 30) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ z >> 27) * UINT64_C(0x94D049BB133111EB);
    return z ^ z >> 31;
}

static void random_riot(struct riot6532 *riot, uint64_t *random) {
    static const uint8_t shift[] = {0, 3, 6, 10};
    *riot = (struct riot6532){0}; /* its reset input clears the ports */
    for (int i = 0; i < RIOT_RAM; i++)
        riot->ram[i] = (uint8_t)next_random(random);
    riot->count = (uint8_t)next_random(random);
    riot->shift = shift[next_random(random) & 3];
}

static void random_cpu(struct cpu6507 *cpu, uint64_t *random) {
    const uint64_t bits = next_random(random);
    *cpu = (struct cpu6507){.pc = (uint16_t)bits,
                            .a = (uint8_t)(bits >> 16),
                            .x = (uint8_t)(bits >> 24),
                            .y = (uint8_t)(bits >> 32),
                            .s = (uint8_t)(bits >> 40),
                            .p = (uint8_t)((bits >> 48 & ~(uint64_t)CPU_B) | CPU_ONE)};
}

void console_power_on(struct console *console, const struct tia_chip *chip, const struct cartridge *cartridge,
                      uint64_t seed) {
    const struct cartridge slot = *cartridge;
    uint64_t random = seed;
    tia_power_on(&console->tia, chip, next_random(&random));
    random_riot(&console->riot, &random);
    random_cpu(&console->cpu, &random);
    console->cartridge = slot;
    console->listens = slot.pass || slot.hold;
    console->cycles = 0;
    console->ready_at = 0;
    console->line_end = LINE_CYCLES;
    console->bus = (uint8_t)next_random(&random);
    cpu_reset(&console->cpu, console);
    /* The reset sequence reads wherever the stack pointer happens to be. */
    console->unmodelled_writes = console->unmodelled_reads = 0;
    console->unmodelled_last = 0;
}

bool console_run_field(struct console *console, int max_lines) {
    struct tia *tia = &console->tia;
    const int limit = max_lines < TIA_LINES_MAX ? max_lines : TIA_LINES_MAX;
    tia_begin_field(tia);
    while (!tia->field_done && tia->field.lines < limit) {
        if (console->cpu.jammed)
            console->cycles = console->line_end;
        else
            cpu_step(&console->cpu, console);
        if (console->cycles >= console->line_end)
            end_lines(console);
    }
    return tia->field.synced;
}
