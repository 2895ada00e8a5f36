/*
 * The console as a whole: a kernel on its bus, what answers where, and processors that run wild.
 * Figures: FACTS "Time on a line" and "Frame" [H, A]; address decoding [P].
 */
#include "virtual/console.h"
#include "virtual/kernel.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct console console;
static uint8_t image[KERNEL_SIZE];

static struct cartridge slot(void) {
    return (struct cartridge){.state = image, .read = kernel_read};
}

static void power_on(uint64_t seed) {
    struct tia_chip chip;
    const struct cartridge cartridge = slot();
    tia_chip_default(&chip);
    console_power_on(&console, &chip, &cartridge, seed);
}

/* Two fields: the first begins wherever the power came. */
static void run_kernel(uint64_t seed) {
    kernel(image);
    power_on(seed);
    for (int i = 0; i < 3; i++)
        console_run_field(&console, TIA_LINES_MAX);
}

static void test_kernel_frame(void **state) {
    (void)state;
    for (uint64_t seed = 0; seed < 50; seed++) {
        run_kernel(seed);
        const uint64_t before = console.cycles;
        assert_true(console_run_field(&console, TIA_LINES_MAX));
        assert_int_equal(console.tia.field.lines, KERNEL_LINES);
        assert_int_equal(console.tia.field.sync_lines, 3);
        assert_int_equal(console.cycles - before, KERNEL_LINES * 76);
        assert_int_equal(console.unmodelled_writes, 0);
        assert_int_equal(console.unmodelled_reads, 0);
    }
}

/* A store ending with cycle 25 shows from clock 75 = visible clock 7, the next ones 18 clocks apart. */
static void test_kernel_pixels(void **state) {
    (void)state;
    run_kernel(1);
    const struct tia_field *field = &console.tia.field;
    for (int line = 0; line < field->lines; line++) {
        const bool slate = line >= KERNEL_FIRST && line < KERNEL_FIRST + KERNEL_SLATE_LINES;
        for (int x = 0; x < TIA_VISIBLE; x++) {
            uint8_t wanted = slate && x >= 7 && (x - 7) / 18 % 2 == 0 && x < 7 + 8 * 18 ? KERNEL_WHITE : 0;
            if (line < 3)
                wanted = TIA_BLANKED;
            if (field->pixel[line][x] != wanted)
                fail_msg("line %d, clock %d: $%02X, not $%02X", line, x, field->pixel[line][x], wanted);
        }
    }
    assert_int_equal(field->same_as_above[KERNEL_FIRST], 0);
    assert_int_equal(field->same_as_above[KERNEL_FIRST + 1], 1);
    assert_int_equal(field->same_as_above[200], 1);
}

static void test_power_on_is_random_by_seed(void **state) {
    (void)state;
    static uint8_t ram[3][RIOT_RAM];
    kernel(image);
    const uint64_t seeds[3] = {5, 5, 6};
    uint8_t a[3];
    for (int i = 0; i < 3; i++) {
        power_on(seeds[i]);
        memcpy(ram[i], console.riot.ram, RIOT_RAM);
        a[i] = console.cpu.a;
        assert_int_equal(console.cycles, 7);
        assert_int_equal(console.cpu.pc, 0xF800);
        assert_true(console.cpu.p & CPU_I);
    }
    assert_memory_equal(ram[0], ram[1], RIOT_RAM);
    assert_int_equal(a[0], a[1]);
    assert_memory_not_equal(ram[0], ram[2], RIOT_RAM);
}

/* A program at $F800 that ends by jamming. */
static void run_program(const uint8_t *bytes, size_t size) {
    memset(image, 0x02, sizeof image);
    memcpy(image, bytes, size);
    image[0x7FC] = 0x00;
    image[0x7FD] = 0xF8;
    power_on(1);
    console_run_field(&console, 20);
    assert_true(console.cpu.jammed);
}
#define RUN(...) run_program((const uint8_t[]){__VA_ARGS__}, sizeof((const uint8_t[]){__VA_ARGS__}))

static void test_who_answers_where(void **state) {
    (void)state;
    RUN(0xA9, 0x5A, 0x85, 0x90, 0xAD, 0x90, 0x01, 0xAE, 0x90, 0x0D); /* $0190 and $0D90 are $90 */
    assert_int_equal(console.cpu.a, 0x5A);
    assert_int_equal(console.cpu.x, 0x5A);
    RUN(0xA9, 0xFE, 0x8D, 0x49, 0x01); /* $0149 is COLUBK */
    assert_int_equal(console.tia.reg[TIA_COLUBK], 0xFE);
    assert_int_equal(console.unmodelled_writes, 0);
    RUN(0xAD, 0x00, 0xD8); /* $D800 is $1800: the cartridge */
    assert_int_equal(console.cpu.a, 0xAD);
    RUN(0xAD, 0x80, 0x02, 0xAE, 0x82, 0x02); /* ports A and B, nothing pressed */
    assert_int_equal(console.cpu.a, RIOT_PORT_A_IN);
    assert_int_equal(console.cpu.x, RIOT_PORT_B_IN);
}

static void test_unmodelled_is_counted(void **state) {
    (void)state;
    RUN(0xA9, 0x01, 0x85, 0x10); /* RESP0 */
    assert_int_equal(console.unmodelled_writes, 1);
    assert_int_equal(console.unmodelled_last, 0x10);
    RUN(0xA9, 0x00, 0x85, 0x1B, 0x85, 0x1F); /* players and ball off */
    assert_int_equal(console.unmodelled_writes, 0);
    RUN(0x8D, 0x00, 0xF8);
    assert_int_equal(console.unmodelled_writes, 1);
    assert_int_equal(console.unmodelled_last, 0x1800);
    RUN(0xA5, 0x3C);
    assert_int_equal(console.unmodelled_reads, 1);
    assert_int_equal(console.cpu.a, 0x3C); /* the operand's byte floats */
    RUN(0x8D, 0x9E, 0x02);                 /* timer with interrupt */
    assert_int_equal(console.unmodelled_writes, 1);
}

static void test_cartridge_lines_stuck(void **state) {
    (void)state;
    struct tia_chip chip;
    struct cartridge cartridge = slot();
    memset(image, 0xEA, sizeof image);
    tia_chip_default(&chip);
    cartridge.data_stuck_low = 0x02;
    cartridge.data_stuck_high = 0x10;
    console_power_on(&console, &chip, &cartridge, 1);
    assert_int_equal(console.cpu.pc, 0xF8F8); /* $EA as the processor sees it, twice */
}

static uint16_t watched;
static uint64_t watched_at;

static uint8_t watching_read(void *state, uint16_t address, uint8_t bus) {
    if ((address & (KERNEL_SIZE - 1)) == watched && !watched_at)
        watched_at = console.cycles;
    return kernel_read(state, address, bus);
}

/* What a cartridge was told, cycle by cycle. */
static struct told {
    uint64_t cycle;
    uint16_t address;
    uint8_t bus;
    char how;
} told[32];
static int told_count;

static void note(char how, uint16_t address, uint8_t bus) {
    if (told_count < (int)(sizeof told / sizeof told[0]))
        told[told_count++] = (struct told){console.cycles, address, bus, how};
}

static uint8_t noting_read(void *state, uint16_t address, uint8_t bus) {
    note('r', address, bus);
    return kernel_read(state, address, bus);
}

static void noting_write(void *state, uint16_t address, uint8_t value) {
    (void)state;
    note('w', address, value);
}

static void noting_pass(void *state, uint16_t address, uint8_t bus) {
    (void)state;
    note('p', address, bus);
}

/* Every bus cycle once, in order, with what is on the data lines; after WSYNC the cycle count jumps.
 * Cycles of each instruction: MOS hardware manual, appendix A. */
static void test_cartridge_sees_every_cycle(void **state) {
    (void)state;
    static const uint8_t program[] = {0xA9, 0x5A, 0x85, 0x90, 0xA6, 0x90, 0x8D, 0x12, 0xF0, 0x85, 0x02};
    static const struct told wanted[] = {
        {7, 0x1800, 0, 'r'},     {8, 0x1801, 0xA9, 'r'},  {9, 0x1802, 0x5A, 'r'},  {10, 0x1803, 0x85, 'r'},
        {11, 0x0090, 0x5A, 'p'}, {12, 0x1804, 0x5A, 'r'}, {13, 0x1805, 0xA6, 'r'}, {14, 0x0090, 0x5A, 'p'},
        {15, 0x1806, 0x5A, 'r'}, {16, 0x1807, 0x8D, 'r'}, {17, 0x1808, 0x12, 'r'}, {18, 0x1012, 0x5A, 'w'},
        {19, 0x1809, 0x5A, 'r'}, {20, 0x180A, 0x85, 'r'}, {21, 0x0002, 0x5A, 'p'}, {76, 0x180B, 0x5A, 'r'},
    };
    struct tia_chip chip;
    const struct cartridge cartridge = {
        .state = image, .read = noting_read, .write = noting_write, .pass = noting_pass};
    memset(image, 0x02, sizeof image);
    memcpy(image, program, sizeof program);
    image[0x7FC] = 0x00;
    image[0x7FD] = 0xF8;
    tia_chip_default(&chip);
    console_power_on(&console, &chip, &cartridge, 1);
    told_count = 0;
    console_run_field(&console, 3);
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++) {
        if (told[i].cycle != wanted[i].cycle || told[i].address != wanted[i].address ||
            told[i].how != wanted[i].how || (i > 0 && told[i].bus != wanted[i].bus)) {
            fail_msg("cycle %zu: %c $%04X $%02X at %u, not %c $%04X $%02X at %u", i, told[i].how,
                     told[i].address, told[i].bus, (unsigned)told[i].cycle, wanted[i].how, wanted[i].address,
                     wanted[i].bus, (unsigned)wanted[i].cycle);
        }
    }
}

/* Cycles before the opcode behind a write to WSYNC is fetched. The reset takes 7 cycles; NOPs (2) and STA zp
 * (3) put the write's last cycle where it is wanted. */
static uint64_t cycles_after(unsigned nops, bool three, uint8_t opcode) {
    struct tia_chip chip;
    struct cartridge cartridge = slot();
    uint16_t size = 0;
    memset(image, 0xEA, sizeof image);
    if (three) {
        image[0] = 0x85; /* STA $80 */
        image[1] = 0x80;
        size = 2;
    }
    size = (uint16_t)(size + nops);
    image[size++] = opcode;
    image[size++] = 0x02;
    image[0x7FC] = 0x00;
    image[0x7FD] = 0xF8;
    watched = size;
    watched_at = 0;
    tia_chip_default(&chip);
    cartridge.read = watching_read;
    console_power_on(&console, &chip, &cartridge, 1);
    console_run_field(&console, 5);
    return watched_at;
}

static void test_wsync(void **state) {
    (void)state;
    enum { STA = 0x85, INC = 0xE6 };
    assert_int_equal(cycles_after(3, false, STA), 76);
    /* 7 + 3 + 2*31 + 3 = 75: waits one cycle. */
    assert_int_equal(cycles_after(31, true, STA), 76);
    /* 7 + 2*33 + 3 = 76: no wait. */
    assert_int_equal(cycles_after(33, false, STA), 76);
    /* 7 + 3 + 2*32 + 3 = 77: the next line's end. */
    assert_int_equal(cycles_after(32, true, STA), 152);
    /* 7 + 3 + 2*30 + 5 = 75: INC's writes are cycles 74 and 75. */
    assert_int_equal(cycles_after(30, true, INC), 76);
    /* 7 + 3 + 2*31 + 5 = 77: RDY does not hold up the second write, which is waited for too. */
    assert_int_equal(cycles_after(31, true, INC), 152);
}

static void test_wild_processors_end(void **state) {
    (void)state;
    uint32_t random = 12345;
    for (int n = 0; n < 300; n++) {
        for (size_t i = 0; i < sizeof image; i++) {
            random = random * 1664525u + 1013904223u;
            image[i] = (uint8_t)(random >> 24);
        }
        power_on((uint64_t)n);
        for (int field = 0; field < 10; field++) {
            const uint64_t before = console.cycles;
            const bool synced = console_run_field(&console, 300);
            assert_int_equal(synced, console.tia.field.synced);
            assert_in_range(console.tia.field.lines, synced ? TIA_HOLDOFF_LINES : 300, synced ? 301 : 301);
            assert_in_range(console.cycles - before, 1, 76 * 303);
        }
    }
}

static void test_vertical_sync_always_on(void **state) {
    (void)state;
    struct tia_chip chip;
    const struct cartridge cartridge = slot();
    kernel(image);
    tia_chip_default(&chip);
    chip.data_high = 0x02;
    console_power_on(&console, &chip, &cartridge, 1);
    for (int i = 0; i < 10; i++)
        assert_false(console_run_field(&console, 312));
}

static void test_timer(void **state) {
    (void)state;
    struct riot6532 riot = {0};
    static const uint16_t set[4] = {0x294, 0x295, 0x296, 0x297};
    static const unsigned interval[4] = {1, 8, 64, 1024};
    enum { INTIM = 0x284, INSTAT = 0x285 };
    for (int i = 0; i < 4; i++) {
        assert_true(riot_write(&riot, set[i], 43, 1000));
        assert_int_equal(riot_read(&riot, INTIM, 1001), 42); /* first step: one cycle after [M] */
        assert_int_equal(riot_read(&riot, INTIM, 1000 + interval[i]), 42);
        assert_int_equal(riot_read(&riot, INTIM, 1001 + interval[i]), 41);
        const uint64_t last = 1000 + 43 * interval[i];
        assert_int_equal(riot_read(&riot, INTIM, last), 0);
        assert_int_equal(riot_read(&riot, INSTAT, last), 0);
        assert_int_equal(riot_read(&riot, INSTAT, last + 1), 0x80);
        assert_int_equal(riot_read(&riot, INTIM, last + 6), 0xFF - 5); /* past 0: a step a cycle */
        assert_int_equal(riot_read(&riot, INSTAT, last + 6), 0);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_kernel_frame),
        cmocka_unit_test(test_kernel_pixels),
        cmocka_unit_test(test_power_on_is_random_by_seed),
        cmocka_unit_test(test_who_answers_where),
        cmocka_unit_test(test_unmodelled_is_counted),
        cmocka_unit_test(test_cartridge_lines_stuck),
        cmocka_unit_test(test_cartridge_sees_every_cycle),
        cmocka_unit_test(test_wsync),
        cmocka_unit_test(test_wild_processors_end),
        cmocka_unit_test(test_vertical_sync_always_on),
        cmocka_unit_test(test_timer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
