/*
 * Plan `moments` as the virtual console draws it: for each of the 1064 moments, the cycle in which each store
 * to the register ended, as the bus saw it, and every clock of the picture. Arithmetic [A]: cycle c of a line
 * ends at clock 3c; the table of moments. Handbook [H]: 76 cycles and 228 clocks a line, 262 and 312 lines.
 * The model's alone: that a write shows at once where its delay is 0.
 */
#include "plan/moments.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "rom/counted.h"

enum { SEED = 9, WRITES_MAX = 128 };

/* Writes to one register in the field being drawn, from the picture's second line on. */
static struct {
    uint8_t address;
    uint64_t from; /* bus cycles since power-on */
    int count;
    uint64_t at[WRITES_MAX];
    uint8_t value[WRITES_MAX];
} seen;

/* Told before console->cycles counts the cycle: it ends one later. */
static void watch(void *state, uint16_t address, uint8_t bus) {
    counted_pass(state, address, bus);
    const uint64_t ends = counted_console.cycles + 1;
    if (address == seen.address && ends >= seen.from && seen.count < WRITES_MAX) {
        seen.at[seen.count] = ends - seen.from;
        seen.value[seen.count++] = bus;
    }
}

static struct plan *open_plan(enum standard standard) {
    struct plan *plan = NULL;
    assert_true(moments_plan(standard, &plan, NULL));
    return plan;
}

/* What the picture's lines show of the register: from the table of plan/moments.h. */
static int kind_of(int line, int groups) {
    const bool inside = line >= MOMENT_FIRST && line < MOMENT_FIRST + MOMENT_GROUP * groups;
    return inside ? (line - MOMENT_FIRST) % MOMENT_GROUP : MOMENT_BEFORE;
}

/* The registers at a clock of a line, where a write that ends with cycle c acts at clock 3c. */
static void registers_at(const struct moment *moment, int kind, int clock, uint8_t regs[REG_COUNT]) {
    const struct moment_setting setting = moment_setting(moment->reg, moment->mirror);
    memcpy(regs, setting.held, REG_COUNT);
    const bool written = clock >= 3 * moment->cycle;
    const bool after =
        kind == MOMENT_AFTER || (kind == MOMENT_RISING && written) || (kind == MOMENT_FALLING && !written);
    regs[setting.reg] = after ? setting.after : setting.before;
}

/* Serial output [H TIA 1A]; a cell is what the registers say at its left edge. */
static bool cell_lit(const uint8_t regs[REG_COUNT], int cell) {
    const bool mirror = regs[REG_CTRLPF] & CTRLPF_REFLECT;
    const int n = cell < CELLS / 2 ? cell : mirror ? CELLS - 1 - cell : cell - CELLS / 2;
    return n < 4    ? regs[REG_PF0] >> (4 + n) & 1
           : n < 12 ? regs[REG_PF1] >> (11 - n) & 1
                    : regs[REG_PF2] >> (n - 12) & 1;
}

static uint8_t colour_at(const struct moment *moment, int kind, int x) {
    uint8_t now[REG_COUNT], edge[REG_COUNT];
    const int clock = BLANK_CLOCKS + x;
    registers_at(moment, kind, clock, now);
    registers_at(moment, kind, clock - x % CELL_CLOCKS, edge);
    if (!cell_lit(edge, x / CELL_CLOCKS)) {
        return now[REG_COLUBK];
    }
    return now[now[REG_CTRLPF] & CTRLPF_SCORE ? (x < PICTURE_CLOCKS / 2 ? REG_COLUP0 : REG_COLUP1)
                                              : REG_COLUPF];
}

static void picture_shows(enum standard standard, const struct moment *moment) {
    const int groups = moment_groups(standard);
    uint8_t wanted[MOMENT_GROUP][PICTURE_CLOCKS];
    for (int kind = 0; kind < MOMENT_GROUP; kind++) {
        for (int x = 0; x < PICTURE_CLOCKS; x++) {
            wanted[kind][x] = colour_at(moment, kind, x);
        }
    }
    for (int line = 0; line < standard_plan_lines(standard); line++) {
        const uint8_t *pixels = counted_line(standard, line), *right = wanted[kind_of(line, groups)];
        for (int x = 0; x < PICTURE_CLOCKS; x++) {
            if (pixels[x] != right[x]) {
                fail_msg("%s, %s, cycle %d, line %d, clock %d: $%02X, not $%02X", moment_name(moment->reg),
                         moment->mirror ? "mirror" : "copy", moment->cycle, line, x, pixels[x], right[x]);
            }
        }
    }
}

static void stores_are(enum standard standard, const struct moment *moment) {
    const struct moment_setting setting = moment_setting(moment->reg, moment->mirror);
    assert_int_equal(seen.count, 2 * moment_groups(standard));
    for (int i = 0; i < seen.count; i++) {
        assert_int_equal(seen.at[i], 2 * i * LINE_CYCLES + moment->cycle);
        assert_int_equal(seen.value[i], i % 2 == 0 ? setting.after : setting.before);
    }
}

static uint32_t before_value(uint32_t value) {
    return (value + MOMENT_VALUES - 1) % MOMENT_VALUES;
}

static void all_moments(enum standard standard) {
    const struct standard_facts *facts = &standard_table[standard];
    const int top = facts->sync_lines + facts->blank_lines + SLATE_LINES;
    struct plan *plan = open_plan(standard);
    struct image *image = counted_build(plan, 1, 0);
    counted_power_on(image, 0, SEED);
    counted_console.cartridge.pass = watch;
    console_run_field(&counted_console, TIA_LINES_MAX);
    uint32_t value = before_value(1 + counted_field(standard).value);
    for (int i = 0; i <= MOMENT_VALUES; i++) {
        value = (value + 1) % MOMENT_VALUES;
        const struct moment moment = moment_of(value);
        seen.address = reg_address(moment_setting(moment.reg, moment.mirror).reg);
        seen.count = 0;
        seen.from = counted_console.line_end + (uint64_t)(top + MOMENT_FIRST - 1) * LINE_CYCLES;
        assert_int_equal(counted_field(standard).value, value);
        assert_int_equal(counted.echo, value & 0xFF);
        stores_are(standard, &moment);
        picture_shows(standard, &moment);
    }
    assert_int_equal(counted.odd + counted.reads[0] + counted.reads[1] + counted.reads[2], 0);
    rom_free(image);
    plan_free(plan);
}

static void test_every_cycle(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_SECAM; standard++) {
        all_moments((enum standard)standard);
    }
}

/* 1064 values; what is none is passed over: the console counts on. */
static void test_given(void **state) {
    (void)state;
    struct plan *plan = open_plan(STANDARD_NTSC);
    struct image *image = counted_build(plan, 2, 0);
    counted_power_on(image, 0, SEED);
    console_run_field(&counted_console, TIA_LINES_MAX);
    static const uint32_t none[] = {1064,   1065,    1279,    1280,     0x7FF,
                                    0xFFFF, 0x10000, 0x10005, 0xFF0428, 0xFFFFFF};
    static const uint32_t some[] = {0, 1063, 255, 256, 511, 512, 767, 768, 1023, 1024, 75, 76, 151, 152};
    uint32_t before = counted_field(STANDARD_NTSC).value;
    counted.mode = MAILBOX_GIVEN;
    for (size_t i = 0; i < 2 * sizeof some / sizeof some[0]; i++) {
        counted.value = some[i / 2];
        uint32_t now = before;
        for (int field = 0; field < 6 && now != counted.value; field++) {
            now = counted_field(STANDARD_NTSC).value;
        }
        assert_int_equal(now, counted.value);
        const struct moment moment = moment_of(now);
        picture_shows(STANDARD_NTSC, &moment);
        before = now;
        /* as the hold runs out: one that is none */
        counted.value = none[i % (sizeof none / sizeof none[0])];
        for (int field = 0; field < 4 && now == before; field++) {
            now = counted_field(STANDARD_NTSC).value;
        }
        assert_int_equal(now, (before + 1) % MOMENT_VALUES);
        before = now;
    }
    assert_int_equal(counted.out_of_turn + counted.odd, 0);
    rom_free(image);
    plan_free(plan);
}

static void test_held(void **state) {
    (void)state;
    struct plan *plan = open_plan(STANDARD_PAL);
    struct image *image = counted_build(plan, 3, 0);
    counted_power_on(image, 0, SEED);
    console_run_field(&counted_console, TIA_LINES_MAX);
    counted.mode = MAILBOX_HOLD;
    counted_field(STANDARD_PAL);
    const uint32_t held = counted_field(STANDARD_PAL).value;
    for (int field = 0; field < 20; field++) {
        assert_int_equal(counted_field(STANDARD_PAL).value, held);
    }
    counted.mode = MAILBOX_FREE;
    for (int field = 0; field < 3; field++) {
        assert_int_equal(counted_field(STANDARD_PAL).value, held);
    }
    assert_int_equal(counted_field(STANDARD_PAL).value, held + 1);
    rom_free(image);
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_cycle),
        cmocka_unit_test(test_given),
        cmocka_unit_test(test_held),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
