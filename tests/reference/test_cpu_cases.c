/*
 * The processor against single-instruction cases from outside: cpu-cases.txt.gz, 40 for each opcode.
 * Source of the cases: SingleStepTests "65x02" 6502/v1; of the verdict on each line (its last field) and of
 * some bus cycles: a transistor-level simulation. The file's own header tells where both come from. Lines
 * flagged = or s are the gate: every register, every memory byte, every bus cycle.
 */
#include "virtual/cpu6507.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <zlib.h>

enum { CYCLES_MAX = 16, REAL_FLAGS = 0xCF };

struct cycle {
    uint16_t address;
    uint8_t value;
    char kind; /* 'r' or 'w' */
};

struct flat {
    uint8_t memory[65536];
    struct cycle cycle[CYCLES_MAX];
    int cycles;
};

static void record(struct flat *flat, uint16_t address, uint8_t value, char kind) {
    if (flat->cycles < CYCLES_MAX)
        flat->cycle[flat->cycles] = (struct cycle){address, value, kind};
    flat->cycles++;
}

static uint8_t flat_read(struct flat *flat, uint16_t address) {
    record(flat, address, flat->memory[address], 'r');
    return flat->memory[address];
}

static void flat_write(struct flat *flat, uint16_t address, uint8_t value) {
    record(flat, address, value, 'w');
    flat->memory[address] = value;
}

#define CPU_BUS struct flat
#define CPU_READ(bus, address) flat_read(bus, address)
#define CPU_WRITE(bus, address, value) flat_write(bus, address, value)
#include "virtual/cpu6507_core.h"

static struct flat bus;
static uint8_t wanted_memory[65536];

struct wanted {
    struct cpu6507 cpu;
    struct cycle cycle[CYCLES_MAX];
    int cycles;
};

static bool parse_registers(char *text, struct cpu6507 *cpu) {
    unsigned pc, s, a, x, y, p;
    if (sscanf(text, "%x %x %x %x %x %x", &pc, &s, &a, &x, &y, &p) != 6)
        return false;
    *cpu = (struct cpu6507){.pc = (uint16_t)pc,
                            .s = (uint8_t)s,
                            .a = (uint8_t)a,
                            .x = (uint8_t)x,
                            .y = (uint8_t)y,
                            .p = (uint8_t)p};
    return true;
}

/* "aaaa=vv,aaaa=vv" into a memory; clears instead of setting when told. '-' is none. */
static void parse_memory(const char *text, uint8_t *memory, bool clear) {
    unsigned address, value;
    int used = 0;
    while (sscanf(text, "%4x=%2x%n", &address, &value, &used) == 2) {
        memory[address] = clear ? 0 : (uint8_t)value;
        text += used;
        if (*text == ',')
            text++;
    }
}

static bool parse_cycles(const char *text, struct wanted *wanted) {
    unsigned address, value;
    char kind;
    int used = 0;
    wanted->cycles = 0;
    while (sscanf(text, " %4x%2x%c%n", &address, &value, &kind, &used) == 3) {
        if (wanted->cycles == CYCLES_MAX)
            return false;
        wanted->cycle[wanted->cycles++] = (struct cycle){(uint16_t)address, (uint8_t)value, kind};
        text += used;
        if (*text == ',')
            text++;
    }
    return wanted->cycles > 0;
}

/* A line's parts: before, after, cycles, flag; cut in place at the bars. */
static bool split(char *line, char *part[4]) {
    for (int i = 0; i < 4; i++) {
        part[i] = line;
        char *bar = i < 3 ? strstr(line, " | ") : NULL;
        if (i < 3 && !bar)
            return false;
        if (bar) {
            *bar = 0;
            line = bar + 3;
        }
    }
    return true;
}

static bool same_registers(const struct cpu6507 *a, const struct cpu6507 *b) {
    return a->pc == b->pc && a->a == b->a && a->x == b->x && a->y == b->y && a->s == b->s &&
           !((a->p ^ b->p) & REAL_FLAGS);
}

static bool same_cycles(const struct wanted *wanted) {
    if (wanted->cycles != bus.cycles)
        return false;
    for (int i = 0; i < bus.cycles; i++) {
        const struct cycle *a = &wanted->cycle[i], *b = &bus.cycle[i];
        if (a->address != b->address || a->value != b->value || a->kind != b->kind)
            return false;
    }
    return true;
}

static void show(const char *line, const struct cpu6507 *cpu) {
    print_error("case: %s\n got: %04X %02X %02X %02X %02X %02X |", line, cpu->pc, cpu->s, cpu->a, cpu->x,
                cpu->y, cpu->p);
    for (int i = 0; i < bus.cycles && i < CYCLES_MAX; i++)
        print_error(" %04X%02X%c", bus.cycle[i].address, bus.cycle[i].value, bus.cycle[i].kind);
    print_error("\n");
}

/* What stands behind so many blanks. */
static char *behind_registers(char *text, int blanks) {
    while (blanks > 0 && *text)
        if (*text++ == ' ')
            blanks--;
    return text;
}

static bool run_case(const char *line) {
    char text[1024];
    char *part[4];
    struct cpu6507 cpu;
    struct wanted wanted;
    snprintf(text, sizeof text, "%s", line);
    assert_true(split(text, part));
    assert_true(parse_registers(part[0] + 3, &cpu));
    assert_true(parse_registers(part[1], &wanted.cpu));
    assert_true(parse_cycles(part[2], &wanted));
    const char *before = behind_registers(part[0], 7), *after = behind_registers(part[1], 6);
    parse_memory(before, bus.memory, false);
    parse_memory(before, wanted_memory, false);
    parse_memory(after, wanted_memory, false);
    bus.cycles = 0;
    cpu_step(&cpu, &bus);
    const bool good = same_registers(&cpu, &wanted.cpu) && same_cycles(&wanted) &&
                      memcmp(bus.memory, wanted_memory, sizeof bus.memory) == 0;
    if (!good)
        show(line, &cpu);
    for (int i = 0; i < bus.cycles && i < CYCLES_MAX; i++)
        bus.memory[bus.cycle[i].address] = wanted_memory[bus.cycle[i].address] = 0;
    parse_memory(before, bus.memory, true);
    parse_memory(before, wanted_memory, true);
    parse_memory(after, wanted_memory, true);
    return good;
}

static gzFile open_cases(void) {
    const char *named = getenv("SLOTJIG_CPU_CASES");
    return gzopen(named ? named : SOURCE_DIR "/../shared/data/cpu-cases.txt.gz", "rb");
}

struct tally {
    long run, failed;
    int opcodes;
};

static struct tally run_file(gzFile file) {
    static char line[1024];
    static bool seen[256];
    struct tally tally = {0};
    while (gzgets(file, line, sizeof line)) {
        line[strcspn(line, "\n")] = 0;
        const size_t length = strlen(line);
        if (line[0] == '#' || length < 2 || !strchr("=s", line[length - 1]))
            continue;
        const unsigned long opcode = strtoul(line, NULL, 16) & 0xFF;
        tally.opcodes += !seen[opcode];
        seen[opcode] = true;
        tally.run++;
        tally.failed += !run_case(line);
        if (tally.failed >= 40)
            break;
    }
    return tally;
}

static void test_cases_file(void **state) {
    (void)state;
    gzFile file = open_cases();
    if (!file) {
        print_message(
            "SKIP cpu cases: no ../shared/data/cpu-cases.txt.gz; SLOTJIG_CPU_CASES names another\n");
        skip();
    }
    const struct tally tally = run_file(file);
    gzclose(file);
    print_message("%ld cases of %d opcodes, %ld failed\n", tally.run, tally.opcodes, tally.failed);
    assert_int_equal(tally.failed, 0);
    assert_int_equal(tally.opcodes, 244); /* all but the 12 that jam */
    assert_int_equal(tally.run, 9416);    /* lines flagged = or s */
}

/* A few by hand, so that something is checked where the file is absent. Cycle patterns: MOS MCS6500 Family
 * Hardware Manual, appendix A. */
static const char *const by_hand[] = {
    "A9 1000 FF 00 00 00 30 1000=A9,1001=80 | 1002 FF 80 00 00 B0 - | 1000A9r,100180r | =",
    "BD 1000 FF 00 01 00 30 1000=BD,1001=FF,1002=20,2100=07 | 1003 FF 07 01 00 30 - | "
    "1000BDr,1001FFr,100220r,200000r,210007r | =",
    "9D 1000 FF 55 01 00 30 1000=9D,1001=10,1002=20 | 1003 FF 55 01 00 30 2011=55 | "
    "10009Dr,100110r,100220r,201100r,201155w | =",
    "E6 1000 FF 00 00 00 30 1000=E6,1001=80,0080=7F | 1002 FF 00 00 00 B0 0080=80 | "
    "1000E6r,100180r,00807Fr,00807Fw,008080w | =",
    "20 1000 FD 00 00 00 30 1000=20,1001=34,1002=12 | 1234 FB 00 00 00 30 01FD=10,01FC=02 | "
    "100020r,100134r,01FD00r,01FD10w,01FC02w,100212r | =",
    "D0 10F0 FD 00 00 00 30 10F0=D0,10F1=20 | 1112 FD 00 00 00 30 - | 10F0D0r,10F120r,10F200r,101200r | =",
    "6C 1000 FD 00 00 00 30 1000=6C,1001=FF,1002=20,20FF=34,2000=12 | 1234 FD 00 00 00 30 - | "
    "10006Cr,1001FFr,100220r,20FF34r,200012r | =",
    "69 1000 FD 58 00 00 39 1000=69,1001=46 | 1002 FD 05 00 00 F9 - | 100069r,100146r | =",
};

static void test_by_hand(void **state) {
    (void)state;
    long failed = 0;
    for (size_t i = 0; i < sizeof by_hand / sizeof *by_hand; i++)
        failed += !run_case(by_hand[i]);
    assert_int_equal(failed, 0);
}

static void test_jam_stops(void **state) {
    (void)state;
    struct cpu6507 cpu = {.pc = 0x1000, .p = CPU_ONE};
    bus.memory[0x1000] = 0x02;
    cpu_step(&cpu, &bus);
    assert_true(cpu.jammed);
    const struct cpu6507 stopped = cpu;
    cpu_step(&cpu, &bus);
    assert_int_equal(cpu.pc, stopped.pc);
    bus.memory[0x1000] = 0;
    bus.memory[0xFFFC] = 0x34;
    bus.memory[0xFFFD] = 0x12;
    bus.cycles = 0;
    cpu_reset(&cpu, &bus);
    assert_int_equal(bus.cycles, 7);
    assert_int_equal(cpu.pc, 0x1234);
    assert_false(cpu.jammed);
    bus.memory[0xFFFC] = bus.memory[0xFFFD] = 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_by_hand),
        cmocka_unit_test(test_jam_stops),
        cmocka_unit_test(test_cases_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
