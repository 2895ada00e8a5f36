/*
 * The console model alone, and its processor alone against cc65's sim65 (the generic 6502 target): the same
 * bytes of machine code, the same number of cycles, run one after the other. Lines of `name value unit`.
 */
#include "virtual/console.h"
#include "virtual/kernel.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static void measure_console(void) {
    enum { FIELDS = 20000 };
    static struct console console;
    static uint8_t image[KERNEL_SIZE];
    struct tia_chip chip;
    const struct cartridge cartridge = {.state = image, .read = kernel_read};
    kernel(image);
    tia_chip_default(&chip);
    console_power_on(&console, &chip, &cartridge, 1);
    console_run_field(&console, TIA_LINES_MAX);
    long lines = 0;
    const double start = seconds();
    for (int i = 0; i < FIELDS; i++) {
        console_run_field(&console, TIA_LINES_MAX);
        lines += console.tia.field.lines;
    }
    const double rate = FIELDS / (seconds() - start);
    /* FACTS: 3579545 Hz / (228 clocks * 262 lines) fields a second. */
    const double real = 3579545.0 / (228.0 * 262.0);
    if (lines != (long)FIELDS * KERNEL_LINES)
        fprintf(stderr, "perf: the kernel drew %ld lines, not %ld\n", lines, (long)FIELDS * KERNEL_LINES);
    printf("console_fields_per_second %.0f fields/s\n", rate);
    printf("console_times_real_time %.0f x\n", rate / real);
}

struct flat {
    uint8_t memory[65536];
    uint64_t cycles;
};

static inline uint8_t flat_read(struct flat *flat, uint16_t address) {
    flat->cycles++;
    return flat->memory[address];
}

static inline void flat_write(struct flat *flat, uint16_t address, uint8_t value) {
    flat->cycles++;
    flat->memory[address] = value;
}

#define CPU_BUS struct flat
#define CPU_READ(bus, address) flat_read(bus, address)
#define CPU_WRITE(bus, address, value) flat_write(bus, address, value)
#include "virtual/cpu6507_core.h"

/* Three nested counters round memory operations of several kinds, some 70 million cycles. What follows the
 * loop differs: sim65 gets a jump to its exit, ours a jam. */
enum { ORIGIN = 0x0200 };
static const uint8_t loop[] = {
    0xA9, 0x1E, 0x85, 0x82,       /* LDA #30, STA $82 */
    0xA0, 0x00,                   /* outer: LDY #0 */
    0xA2, 0x00,                   /* middle: LDX #0 */
    0xB5, 0x90, 0x75, 0x80,       /* inner: LDA $90,X; ADC $80,X */
    0x9D, 0x00, 0x04, 0x5D, 0x00, /* STA $0400,X; EOR $0500,X */
    0x05, 0xE6, 0x83, 0x0A,       /* INC $83; ASL A */
    0x24, 0x83, 0x50, 0x01, 0x18, /* BIT $83; BVC +1; CLC */
    0xCA, 0xD0, 0xEB,             /* DEX; BNE inner */
    0x88, 0xD0, 0xE6,             /* DEY; BNE middle */
    0xC6, 0x82, 0xD0, 0xE0,       /* DEC $82; BNE outer */
};

static double run_ours(uint64_t *cycles) {
    static struct flat flat;
    struct cpu6507 cpu = {.pc = ORIGIN, .s = 0xFF, .p = CPU_ONE | CPU_I};
    memcpy(flat.memory + ORIGIN, loop, sizeof loop);
    flat.memory[ORIGIN + sizeof loop] = 0x02;
    const double start = seconds();
    while (!cpu.jammed)
        cpu_step(&cpu, &flat);
    *cycles = flat.cycles;
    return seconds() - start;
}

/* As sim65's program file: "sim65", version 2, processor 0 (6502), stack pointer's zero page address, load
 * and start address. Layout and exit address ($FFF9, A = status): Debian's cc65 2.19, cfg/sim6502.cfg and its
 * sim6502.lib. */
static bool write_program(const char *path) {
    static const uint8_t header[12] = {'s', 'i', 'm',           '6',         '5',           2,
                                       0,   0,   ORIGIN & 0xFF, ORIGIN >> 8, ORIGIN & 0xFF, ORIGIN >> 8};
    static const uint8_t leave[] = {0xA9, 0x00, 0x4C, 0xF9, 0xFF}; /* LDA #0; JMP exit */
    FILE *file = fopen(path, "wb");
    if (!file)
        return false;
    const bool good = fwrite(header, sizeof header, 1, file) == 1 &&
                      fwrite(loop, sizeof loop, 1, file) == 1 && fwrite(leave, sizeof leave, 1, file) == 1;
    return (fclose(file) == 0) & good;
}

/* False when sim65 is not there or does not end well. */
static bool run_sim65(double *took, uint64_t *cycles) {
    char path[] = "/tmp/slotjig-perf-XXXXXX", command[128];
    const int made = mkstemp(path);
    if (made < 0)
        return false;
    close(made);
    snprintf(command, sizeof command, "sim65 -c -x 1000000000 %s 2>&1", path);
    const bool written = write_program(path);
    const double start = seconds();
    FILE *pipe = written ? popen(command, "r") : NULL;
    const bool read = pipe && fscanf(pipe, "%" SCNu64, cycles) == 1;
    const bool ended = pipe && pclose(pipe) == 0;
    *took = seconds() - start;
    unlink(path);
    return read && ended;
}

static void measure_cpu(void) {
    uint64_t ours, theirs;
    double theirs_took;
    const double took = run_ours(&ours);
    printf("cpu_cycles_per_second %.1f million/s\n", (double)ours / took * 1e-6);
    if (!run_sim65(&theirs_took, &theirs)) {
        fprintf(stderr, "perf: no sim65 (Debian's cc65) to compare with\n");
        return;
    }
    if (llabs((long long)(theirs - ours)) > 100)
        fprintf(stderr, "perf: %" PRIu64 " cycles, sim65 counts %" PRIu64 "\n", ours, theirs);
    printf("sim65_cycles_per_second %.1f million/s\n", (double)theirs / theirs_took * 1e-6);
    printf("cpu_speed_over_sim65 %.2f x\n", theirs_took / took);
}

int main(void) {
    measure_console();
    measure_cpu();
    return 0;
}
