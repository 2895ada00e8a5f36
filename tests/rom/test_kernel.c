/*
 * Images as the virtual console runs them: lines, slate, steps and cells.
 * Where the slate's pixels are: slotjig/slate.h. Frame lines [H]: 262 and 312.
 */
#include "expect/expect.h"
#include "rom/rom.h"
#include "slate/slate.h"
#include "virtual/console.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum {
    LAST_BIT = 15
}; /* clocks: LDA #, STA zp; the row's last bit is shown in full on the slate's last line only */
enum { SETTLE = 3 }; /* fields after power-on: the first begins wherever the power came */

static struct console console;

static uint8_t read_image(void *state, uint16_t address, uint8_t bus) {
    (void)bus;
    const struct image *image = state;
    return image->bytes[address & (image->size - 1)];
}

/* Steps that differ from their neighbours in every register: the golden ratio spreads the values. */
static struct plan *small_plan(const char *name, enum standard standard, int steps, int first) {
    struct plan *plan = plan_new(name, standard);
    assert_non_null(plan);
    for (int i = 0; i < steps; i++) {
        const uint32_t value = (uint32_t)(i + first) * UINT32_C(2654435769);
        char step[STEP_NAME_MAX];
        snprintf(step, sizeof step, "step %d", i);
        assert_true(plan_add_hold(plan, step, (uint8_t)(i & 1), (uint8_t)(value >> 24 & 0xF0),
                                  (uint8_t)(value >> 16), (uint8_t)(value >> 8), NULL));
    }
    return plan;
}

static struct image *build(const struct plan *plan, int hold, size_t size) {
    struct problem problem = {0};
    struct image *image = NULL;
    const struct rom_options options = {.hold = hold, .size = size};
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("hold %d, size %zu: %s", hold, size, problem.text);
    }
    return image;
}

static void refused(const struct plan *plan, int hold, size_t size, const char *words) {
    struct problem problem = {0};
    struct image *image = NULL;
    const struct rom_options options = {.hold = hold, .size = size};
    assert_false(rom_build(plan, &options, &image, &problem));
    assert_null(image);
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, words) == NULL) {
        fail_msg("'%s' does not say '%s'", problem.text, words);
    }
}

static void power_on(struct image *image, uint64_t seed) {
    struct tia_chip chip;
    const struct cartridge cartridge = {.state = image, .read = read_image};
    tia_chip_default(&chip);
    console_power_on(&console, &chip, &cartridge, seed);
}

static void next_field(enum standard standard) {
    const int lines = standard == STANDARD_NTSC ? 262 : 312;
    assert_true(console_run_field(&console, TIA_LINES_MAX));
    assert_int_equal(console.tia.field.lines, lines);
    assert_int_equal(console.tia.field.sync_lines, 3);
    assert_int_equal(console.unmodelled_writes, 0);
}

static void line_is(int line, const uint8_t wanted[TIA_VISIBLE]) {
    for (int x = 0; x < TIA_VISIBLE; x++) {
        const uint8_t pixel = console.tia.field.pixel[line][x];
        if (pixel != wanted[x]) {
            fail_msg("line %d, clock %d: $%02X, not $%02X", line, x, pixel, wanted[x]);
        }
    }
}

/* What eight bits look like; the clocks before and behind them are black. */
static void draw_row(uint8_t row, int last_bit, uint8_t pixels[TIA_VISIBLE]) {
    memset(pixels, SLATE_BLACK, TIA_VISIBLE);
    for (int bit = 0; bit < SLATE_ROW_BITS; bit++) {
        if ((row >> (7 - bit) & 1) != 0) {
            memset(pixels + SLATE_FIRST_CLOCK + SLATE_BIT_CLOCKS * bit, SLATE_WHITE,
                   bit == SLATE_ROW_BITS - 1 ? (size_t)last_bit : SLATE_BIT_CLOCKS);
        }
    }
}

/* Bits are taken from the middle of each; then every clock of every line is held against them. The slate's
 * very last bit goes over into the picture's background, black as well. */
static struct slate read_slate(int top) {
    uint8_t pixels[TIA_VISIBLE], rows[SLATE_ROWS] = {0};
    struct slate slate = {0};
    memset(pixels, SLATE_WHITE, sizeof pixels);
    for (int line = 0; line < SLATE_BAND_LINES; line++) {
        line_is(top + line, pixels);
    }
    for (int row = 0; row < SLATE_ROWS; row++) {
        const int line = top + SLATE_BAND_LINES + row * SLATE_ROW_LINES;
        for (int bit = 0; bit < SLATE_ROW_BITS; bit++) {
            const int middle = SLATE_FIRST_CLOCK + SLATE_BIT_CLOCKS * bit + SLATE_BIT_CLOCKS / 2;
            rows[row] = (uint8_t)(rows[row] << 1 | (console.tia.field.pixel[line][middle] == SLATE_WHITE));
        }
        for (int i = 0; i < SLATE_ROW_LINES; i++) {
            const bool last = row == SLATE_ROWS - 1 && i == SLATE_ROW_LINES - 1;
            draw_row(rows[row], last ? SLATE_BIT_CLOCKS : LAST_BIT, pixels);
            line_is(line + i, pixels);
        }
    }
    if (!slate_decode(rows, &slate)) {
        fail_msg("the check code is wrong: %02X %02X %02X %02X %02X %02X %02X", rows[0], rows[1], rows[2],
                 rows[3], rows[4], rows[5], rows[6]);
    }
    return slate;
}

static void picture_is(const struct plan *plan, uint32_t step) {
    static struct expectation wanted;
    const struct standard_facts *facts = &standard_table[plan->standard];
    const int top = facts->sync_lines + facts->blank_lines + SLATE_LINES;
    const int lines = standard_plan_lines(plan->standard);
    uint8_t pixels[TIA_VISIBLE];
    assert_true(step < plan->step_count);
    expect_step(&plan->steps[step], lines, &wanted);
    for (int line = 0; line < lines; line++) {
        for (int x = 0; x < TIA_VISIBLE; x++) {
            const bool lit = wanted.lit[line] >> (x / CELL_CLOCKS) & 1;
            pixels[x] = plan_default_colour(lit ? REG_COLUPF : REG_COLUBK);
        }
        line_is(top + line, pixels);
    }
    memset(pixels, TIA_BLANKED, sizeof pixels);
    line_is(top - SLATE_LINES - 1, pixels);
    line_is(top + lines, pixels);
}

/* From power-on step 0, each step for exactly `hold` fields, after the last the first again. */
static void run(const struct plan *plan, int hold, size_t size, int fields, int every) {
    struct image *image = build(plan, hold, size);
    const struct standard_facts *facts = &standard_table[plan->standard];
    const int top = facts->sync_lines + facts->blank_lines;
    struct slate before = {0};
    int shown = 0;
    power_on(image, 42);
    for (int i = 0; i < SETTLE; i++) {
        console_run_field(&console, TIA_LINES_MAX);
    }
    for (int i = 0; i < fields; i++) {
        next_field(plan->standard);
        const struct slate now = read_slate(top);
        assert_int_equal(now.hash, image->hash);
        if (i > 0) {
            const bool moves = now.value != before.value;
            assert_int_equal(now.counter, (before.counter + 1) % 64);
            if (moves) {
                assert_int_equal(now.value, (before.value + 1) % plan->step_count);
                if (shown > 0 && i - shown != hold) {
                    fail_msg("step %u was shown for %d fields, not %d", before.value, i - shown, hold);
                }
                shown = i;
            } else if (plan->step_count > 1 && i - shown >= hold) {
                fail_msg("step %u is still shown after %d fields of %d", now.value, i - shown, hold);
            }
        }
        if (i % every == 0) {
            picture_is(plan, now.value);
        }
        before = now;
    }
    assert_true(plan->step_count == 1 || shown > 0);
    rom_free(image);
}

static void test_steps(void **state) {
    (void)state;
    static const struct {
        enum standard standard;
        int steps, hold, fields, every;
    } cases[] = {{STANDARD_NTSC, 1, 3, 200, 1},
                 {STANDARD_NTSC, 3, 3, 100, 1},
                 {STANDARD_PAL, 5, 4, 100, 1},
                 {STANDARD_SECAM, 2, 300, 1300, 50},
                 {STANDARD_NTSC, 2, 256, 1100, 50},
                 {STANDARD_NTSC, 3, 255, 1100, 50},
                 {STANDARD_NTSC, 256, 3, 256 * 3 + 50, 3}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct plan *plan = small_plan("small", cases[i].standard, cases[i].steps, 1);
        printf("%s, %d steps, hold %d\n", standard_table[cases[i].standard].name, cases[i].steps,
               cases[i].hold);
        run(plan, cases[i].hold, 0, cases[i].fields, cases[i].every);
        plan_free(plan);
    }
}

static void test_bits(void **state) {
    (void)state;
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct plan *plan = NULL;
        assert_true(plan_open("bits", (enum standard)standard, &plan, NULL));
        run(plan, 3, standard == STANDARD_PAL ? 2048 : 4096, 3 * (int)plan->step_count + 10, 3);
        plan_free(plan);
    }
}

/* Whatever RAM and registers hold at power-on: the picture stands from the first whole field on. */
static void test_power_on(void **state) {
    (void)state;
    struct plan *plan = small_plan("small", STANDARD_NTSC, 3, 1);
    struct image *image = build(plan, 3, 0);
    for (uint64_t seed = 0; seed < 100; seed++) {
        power_on(image, seed);
        console_run_field(&console, TIA_LINES_MAX);
        next_field(plan->standard);
        assert_int_equal(read_slate(40).hash, image->hash);
    }
    rom_free(image);
    plan_free(plan);
}

static uint16_t hash_of(enum standard standard, int first, int hold) {
    struct plan *plan = small_plan("small", standard, 4, first);
    struct image *image = build(plan, hold, 0);
    const uint16_t hash = image->hash;
    rom_free(image);
    plan_free(plan);
    return hash;
}

static void test_hash(void **state) {
    (void)state;
    const uint16_t hash = hash_of(STANDARD_NTSC, 1, 3);
    assert_int_not_equal(hash, SLATE_HASH_IDLE);
    assert_int_equal(hash_of(STANDARD_NTSC, 1, 4), hash);
    assert_int_equal(hash_of(STANDARD_NTSC, 1, HOLD_MAX), hash);
    assert_int_not_equal(hash_of(STANDARD_NTSC, 2, 3), hash);
    assert_int_not_equal(hash_of(STANDARD_PAL, 1, 3), hash);
}

static void test_refusals(void **state) {
    (void)state;
    struct plan *plan = small_plan("many", STANDARD_NTSC, 257, 1);
    refused(plan, 3, 0, "257 steps");
    plan_free(plan);
    plan = small_plan("full", STANDARD_NTSC, 256, 1);
    refused(plan, 3, 2048, "2048 bytes: does not fit");
    refused(plan, HOLD_MIN - 1, 0, "hold 2: give 3 to 65535 fields");
    refused(plan, HOLD_MAX + 1, 0, "hold 65536: give 3 to 65535 fields");
    struct image *image = build(plan, HOLD_MAX, 0);
    assert_int_equal(image->size, 4096);
    rom_free(image);
    plan_free(plan);
    plan = small_plan("small", STANDARD_NTSC, 3, 1);
    image = build(plan, HOLD_MIN, 0);
    assert_int_equal(image->size, 2048);
    rom_free(image);
    plan_free(plan);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_steps), cmocka_unit_test(test_bits),     cmocka_unit_test(test_power_on),
        cmocka_unit_test(test_hash),  cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
