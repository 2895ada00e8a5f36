/*
 * For test_wasm.c: enough of a caller that the linker must resolve all of the console model. Compiles
 * without any system header but the freestanding ones.
 */
#include "virtual/console.h"

struct console wasm_console;
int wasm_run(int fields, int max_lines);

static uint8_t read_nop(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    (void)bus;
    (void)address;
    return 0xEA;
}

int wasm_run(int fields, int max_lines) {
    struct tia_chip chip;
    const struct cartridge cartridge = {.read = read_nop};
    tia_chip_default(&chip);
    console_power_on(&wasm_console, &chip, &cartridge, 1);
    int lines = 0;
    while (fields-- > 0) {
        console_run_field(&wasm_console, max_lines);
        lines += wasm_console.tia.field.lines;
    }
    return lines;
}
