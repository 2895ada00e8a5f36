/* The console model for wasm32, in lockstep with the emulated chip: every bus cycle is an imported call. */
#include "virtual/console.h"

#include <limits.h>

enum kind { KIND_READ, KIND_WRITE, KIND_PASS };

/* The bus cycles since the last call, of which the last is this one; data: what the console drives, or what
 * else is on the lines. Returns what is on the lines when the console latches. */
__attribute__((import_module("slot"), import_name("cycle"))) int slot_cycle(int cycles, int address, int data,
                                                                            enum kind kind);

static struct console console;
static uint64_t told;

static int tell(uint16_t address, uint8_t data, enum kind kind) {
    const uint64_t since = console.cycles + 1 - told;
    told = console.cycles + 1;
    return slot_cycle(since > INT_MAX ? INT_MAX : (int)since, address, data, kind);
}

static uint8_t read_slot(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    return (uint8_t)tell(address, bus, KIND_READ);
}

static void write_slot(void *state, uint16_t address, uint8_t value) {
    (void)state;
    tell(address, value, KIND_WRITE);
}

static void pass_slot(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    tell(address, bus, KIND_PASS);
}

void power_on(int seed, int tia_low, int tia_high, int slot_low, int slot_high);
int run_field(int max_lines);
const uint8_t *field_pixels(void);
int field_lines(void), field_synced(void);
double cycles(void);

void power_on(int seed, int tia_low, int tia_high, int slot_low, int slot_high) {
    const struct cartridge cartridge = {.read = read_slot,
                                        .write = write_slot,
                                        .pass = pass_slot,
                                        .data_stuck_low = (uint8_t)slot_low,
                                        .data_stuck_high = (uint8_t)slot_high};
    struct tia_chip chip;
    tia_chip_default(&chip);
    chip.data_low = (uint8_t)tia_low;
    chip.data_high = (uint8_t)tia_high;
    told = 0;
    console_power_on(&console, &chip, &cartridge, (uint64_t)(unsigned)seed);
}

int run_field(int max_lines) {
    return console_run_field(&console, max_lines);
}

const uint8_t *field_pixels(void) {
    return console.tia.field.pixel[0];
}

int field_lines(void) {
    return console.tia.field.lines;
}

int field_synced(void) {
    return console.tia.field.synced;
}

double cycles(void) {
    return (double)console.cycles;
}
